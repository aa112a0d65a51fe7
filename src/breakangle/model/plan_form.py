"""A plan as it is written: `breakangle/plan/2`, or the older `breakangle/plan/1` for programs that know only that."""

import json
from collections.abc import Callable, Sequence
from typing import Any, Final, Literal

from breakangle.model.plan import PLAN_FORMAT, Plan, Question
from breakangle.model.reading import Reading
from breakangle.model.words.message import Message
from breakangle.model.words.speech import mark, tr

Form = Literal["plan/1", "plan/2"]
FORMS: Final[tuple[Form, ...]] = ("plan/2", "plan/1")
OLD_FORMAT: Final = "breakangle/plan/1"
NEW_KEYS = ("trips", "findings", "questions")
NEW_STEP_KEYS = ("trip", "dangers")
# Of the notes that say what is read before anything else.
READ_FIRST = ("plan.read_first", "plan.doubtful_first", "verdict.read_before_leaving")
READ_FIRST_NOTE = mark(
    "Read first: what is to be read decides what comes next; nothing is worth doing before."
)
Words = Callable[[Message], str]


def asked_of(questions: Sequence[Question]) -> tuple[tuple[Reading, ...], Reading | None]:
    """Return what to read again and what to read next, as forms without questions have them.

    Next is the first reading of the deciding question, as the questions stand; again are all others asked for.
    """
    wanted = [reading for question in questions if question.ask == "reading" for reading in question.readings]
    return tuple(wanted[1:]), wanted[0] if wanted else None


def plan_object(plan: Plan, words: Words | None = None, form: Form = "plan/2") -> dict[str, Any]:
    """Return the plan as the object that a file holds, without keys that say nothing.

    Args:
        plan: the plan.
        words: says a message of a finding or a question; it stands beside its figures then.
        form: `plan/2`, or `plan/1` for a program that does not know trips.
    """
    found: dict[str, Any] = json.loads(plan.model_dump_json(exclude_none=True, exclude_unset=True))
    if form == "plan/1":
        return _old(found, plan, words)
    found["format"] = PLAN_FORMAT
    for key, named in (("findings", plan.findings), ("questions", plan.questions)):
        found[key] = [_told(one, words) for one in named]
    return found


def plan_text(plan: Plan, words: Words | None = None, form: Form = "plan/2") -> str:
    """Return the plan as JSON text, by the same rules as `plan_object`."""
    return json.dumps(plan_object(plan, words, form), indent=2, ensure_ascii=False) + "\n"


def _told(one: Any, words: Words | None) -> dict[str, Any]:
    """Return a finding or a question whole, its message with its words where they can be said."""
    found: dict[str, Any] = json.loads(one.model_dump_json(exclude_none=True))
    places = {"readings", "rests_on"} & set(type(one).model_fields)
    for place in places:
        found[place] = [
            json.loads(each.model_dump_json(exclude_none=True, exclude_unset=True))
            for each in getattr(one, place)
        ]
    if words is not None:
        found["message"]["words"] = words(one.message)
    return found


def _old(found: dict[str, Any], plan: Plan, words: Words | None) -> dict[str, Any]:
    """Return the object in the older form, which knows neither trips nor a verdict before readings."""
    kept = {key: value for key, value in found.items() if key not in NEW_KEYS}
    kept["format"] = OLD_FORMAT
    for one in kept["steps"]:
        for key in NEW_STEP_KEYS:
            one.pop(key, None)
    if plan.verdict == "read-first":
        notes = list(plan.notes)
        if not plan.notes_of(*READ_FIRST):
            first = words(plan.questions[0].message) if words and plan.questions else tr(READ_FIRST_NOTE)
            notes.insert(0, first)
        kept |= {"verdict": "adjust", "steps": [], "notes": notes}
    return kept
