"""Each thing is taken in hand once: the decision, without what no reading gives cause to make a second time."""

from collections.abc import Sequence
from dataclasses import replace

from breakangle.model.plan import Finding, Note
from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.solve.decide import Decision, decide
from breakangle.planning.trips.again import in_hand_again, served, turned_back
from breakangle.planning.trips.set_again import set_again
from breakangle.reference.messages import noted


def decided_once(
    service: Service,
    now: Estimate,
    sight: Sight,
    without: Sequence[Adjustment],
    patterns: Sequence[Finding] = (),
    whole: Sight | None = None,
) -> tuple[Decision, tuple[Note, ...]]:
    """Return the decision without what nothing gives cause to make again, and what is to be said of that.

    Args:
        service: the service with what has been read and done.
        now: its state.
        sight: the targets as work on them is reckoned.
        without: adjusters that a person leaves alone.
        patterns: what is found over many readings.
        whole: the targets with all of their tolerances, where those in `sight` are narrower.
    """
    decision = decide(service, now, sight, without, patterns, whole)
    cut, screwed = in_hand_again(service, sight, decision), set_again(service, sight, decision)
    back = turned_back(service, sight, decision)
    spared = (*cut.spared, *screwed.spared, *back.spared)
    if spared:
        decision = decide(service, now, sight, (*without, *spared), patterns, whole)
        # What reads inside and is only left without a margin is not beyond a set-up.
        kept = served(spared, sight) & sight.inside
        left = tuple(one for one in decision.unreached if not kept[one.target])
        decision = replace(decision, unreached=left)
    return decision, tuple(noted(one) for one in (*cut.messages, *screwed.messages, *back.messages))
