"""Every pattern that is found in the readings of a service, the likeliest and gravest first."""

from breakangle.model.plan import Finding, Question
from breakangle.model.service import Service
from breakangle.planning.estimate.diagnosis.pattern import Seen
from breakangle.planning.estimate.diagnosis.registry import all_patterns
from breakangle.planning.estimate.diagnosis.telling import doubted
from breakangle.planning.estimate.estimate import Estimate


def _seen(service: Service, now: Estimate) -> Seen | None:
    if now.evidence is None or not now.evidence.readings:
        return None
    return Seen(service, now.board, now.picture, now.belief, now.evidence)


def findings(service: Service, now: Estimate) -> tuple[Finding, ...]:
    """Return what is found in the readings, what holds cuts first, then by probability; none without readings."""
    seen = _seen(service, now)
    if seen is None:
        return ()
    found = [one for pattern in all_patterns().values() for one in pattern.found(seen)]
    return tuple(sorted(found, key=lambda one: (not one.holds_cuts, -one.probability, one.finding)))


def readings_that_tell(service: Service, now: Estimate) -> tuple[Question, ...]:
    """Return the readings that would decide what the readings so far leave open: doubted ones again, then new ones."""
    seen = _seen(service, now)
    if seen is None:
        return ()
    again = tuple(doubted(seen))
    return again + tuple(one for pattern in all_patterns().values() for one in pattern.tells(seen))
