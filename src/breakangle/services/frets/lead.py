"""Where a plan's findings lead to the frets: the fret work in one sentence beside them."""

from breakangle.model.errors import BreakangleError
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.planning.estimate.estimate import Estimate


def frets_lead(service: Service, plan: Plan, now: Estimate | None = None) -> tuple[Message, ...]:
    """Return what fret work comes to where the plan found frets out of line; empty where it found none.

    `now`: the solved state where it is known already.
    """
    if not any(one.where.part == "frets" or one.where.frets for one in plan.findings):
        return ()
    # Most plans find nothing at the frets, and the solver of levelling takes longer to load than a plan to make.
    from breakangle.services.frets.levelling import fret_work
    from breakangle.services.frets.words import first_of, verdict_of

    try:
        work = fret_work(service, now=now)
    except BreakangleError:
        return ()
    return (verdict_of(work), *first_of(work))
