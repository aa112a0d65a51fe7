"""A plan written for programs: each message with its words beside its figures."""

from typing import Any

from breakangle.model import plan_form
from breakangle.model.plan import Plan
from breakangle.model.plan_form import Form
from breakangle.reference.messages import words


def plan_object(plan: Plan, form: Form = "plan/2") -> dict[str, Any]:
    """Return the plan as the object that a file holds, in the form asked for."""
    return plan_form.plan_object(plan, words, form)


def plan_text(plan: Plan, form: Form = "plan/2") -> str:
    """Return the plan as JSON text, in the form asked for."""
    return plan_form.plan_text(plan, words, form)
