"""Why there are more trips than were left: the plan that was followed, and the reading that changed it."""

import pickle
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from breakangle.model.plan import Plan
from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.planning.estimate.estimate import Estimate, adjusted, estimate
from breakangle.planning.plan import plan
from breakangle.planning.solve.lever_limits import same_adjuster
from breakangle.planning.solve.margins import begun
from breakangle.planning.state.layout import Belief
from breakangle.planning.trips.again import outside_expected
from breakangle.reference.messages import noted

MOST_KEPT = 16  # chosen: a state and a plan hold a few megabytes


@dataclass(frozen=True)
class _Look:
    """How things stood when something was last read before the work done since: the state then, and its plan."""

    now: Estimate
    plan: Plan
    done: tuple[Adjustment, ...]


def with_reason_for_more(
    service: Service, made: Plan, prior: Belief | None = None, without: Sequence[Adjustment] = ()
) -> Plan:
    """Return the plan with a note that says why it has more trips than were left, where any were left and it has.

    Args:
        service: the service that `made` is the plan for.
        made: the plan.
        prior: what was believed before anything of the service was read; the family's where None.
        without: adjusters that a person leaves alone.
    """
    here = [one for one in service.readings if one.after == len(service.work)]
    if not begun(service) or not made.trips or not here:
        return made
    look = _look_before(service, prior, without)
    left = trips_left(look.plan, look.done)
    if left == 0 or len(made.trips) <= left:
        return made
    now = look.now
    for one in look.done:
        now = adjusted(now, one)
    counts: dict[str, float | int | str] = {"now": len(made.trips), "before": left}
    cause = max(outside_expected(now, here), key=lambda each: each[0], default=None)
    message = (
        Message(key="trips.more_known", values=counts)
        if cause is None
        else Message(key="trips.more_reading", values=counts | cause[1].figures)
    )
    return made.model_copy(update={"noted": (noted(message), *made.noted)})


def trips_left(followed: Plan, done: Sequence[Adjustment]) -> int:
    """Return how many of a plan's trips still have a step to make once `done` has been done."""
    rest = list(done)
    left = set()
    for step in followed.steps:
        made = next((one for one in rest if same_adjuster(one, step.adjustment)), None)
        if made is None:
            left.add(step.trip)
        else:
            rest.remove(made)
    return len(left)


@dataclass(frozen=True)
class _Then:
    """What a plan made before rests on, told from another by its content."""

    content: bytes
    service: Service = field(compare=False)
    prior: Belief | None = field(compare=False)
    without: tuple[Adjustment, ...] = field(compare=False)


def _look_before(service: Service, prior: Belief | None, without: Sequence[Adjustment]) -> _Look:
    """Return how things stood at the last readings before those of now."""
    stage = max((one.after for one in service.readings if one.after < len(service.work)), default=0)
    readings = tuple(one for one in service.readings if one.after <= stage)
    then = service.model_copy(update={"readings": readings, "work": service.work[:stage]})
    told = then.model_dump_json(), prior, tuple(one.model_dump_json() for one in without)
    now, planned = _planned(_Then(pickle.dumps(told), then, prior, tuple(without)))
    return _Look(now, planned, service.work[stage:])


@lru_cache(maxsize=MOST_KEPT)
def _planned(then: _Then) -> tuple[Estimate, Plan]:
    """Return the state and the plan of then: the same after each reading until something more is done."""
    now = estimate(then.service, then.prior)
    return now, plan(then.service, now, then.without)
