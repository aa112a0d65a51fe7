"""Where a plan's findings lead to the frets: the fret work in one sentence beside them."""

from breakangle.desk.frets.levelling import fret_work
from breakangle.desk.frets.words import first_of, verdict_of
from breakangle.model.errors import BreakangleError
from breakangle.model.message import Message
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.planning.estimate import Estimate


def frets_lead(service: Service, plan: Plan, now: Estimate | None = None) -> tuple[Message, ...]:
    """Return what fret work comes to where the plan found frets out of line; empty where it found none.

    `now`: the solved state where it is known already.
    """
    if not any(one.where.part == "frets" or one.where.frets for one in plan.findings):
        return ()
    try:
        work = fret_work(service, now=now)
    except BreakangleError:
        return ()
    return (verdict_of(work), *first_of(work))
