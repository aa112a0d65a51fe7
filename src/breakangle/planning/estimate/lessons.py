"""What one instrument's readings teach beside its neck's answers: its saddles as they came, its crowns, its season."""

from dataclasses import dataclass

import numpy as np

from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.estimate.learning import responses_of
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.prior import Responses, learned_places, prior_of
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.kinds.targets.gap import is_relief
from breakangle.planning.kinds.taught import saddles_in
from breakangle.planning.state.board import Board
from breakangle.planning.state.crowns import OWN_SHARE, scatter_of
from breakangle.planning.state.uncertain_value import Known

FEWEST_CROWNS = 6  # read by themselves, before they tell of a board; chosen
# How much boards of one condition differ, as the logarithm of a spread's ratio; common practice, no source.
CROWN_RATIO_SPREAD = 0.35
LEAST_TOLD = 0.05  # of the family's variance that readings must take away to teach anything; chosen
LEAST_RATIO = 0.1  # a board more even than gauges read counts as so even; chosen


@dataclass(frozen=True)
class Lesson:
    """What an instrument's readings tell, and what its family led one to expect before them."""

    told: Responses
    family: Responses


def as_it_came(service: Service) -> Service:
    """Return the service as it stood before any work."""
    return service.model_copy(
        update={"readings": tuple(one for one in service.readings if one.after == 0), "work": ()}
    )


def neck_taught(now: Estimate) -> Lesson:
    """Return how the neck answers, and what was believed of the family before."""
    family, places = prior_of(now.board), learned_places(now.picture.layout)
    return Lesson(
        responses_of(now), Responses(family.mean[places], family.covariance[np.ix_(places, places)])
    )


def saddles_taught(came: Estimate) -> Lesson | None:
    """Return what readings before any work tell of the saddles; None where they tell hardly anything."""
    family, told = saddles_in(prior_of(came.board), came.board), saddles_in(came.belief, came.board)
    left = np.diag(told.covariance) / np.maximum(np.diag(family.covariance), 1e-18)
    return Lesson(told, family) if np.any(left < 1.0 - LEAST_TOLD) else None


def crowns_taught(service: Service, board: Board) -> Lesson | None:
    """Return what crowns that were read tell of how far they stand out of line; None where too few were.

    The figure is the logarithm of their spread over what is usual for their condition.

    Source: a sample's standard deviation has a relative error of 1 / sqrt(2 n); crowns under several strings share a
    part, so that only their own parts count as so many [derived].
    """
    read = [one for one in service.readings if isinstance(one, Crown) and one.after == 0]
    if len(read) < FEWEST_CROWNS:
        return None
    frets = len({one.fret for one in read})
    count = frets + OWN_SHARE * (len(read) - frets)
    mm, gauge = np.array([one.mm for one in read]), np.array([reading_kind(one).spread(one) for one in read])
    scatter = scatter_of(board)
    usual = scatter.variance_mm2(scatter.rough_share)
    variance = max(float(np.mean(mm**2 - gauge**2)), LEAST_RATIO**2 * usual)
    # Where a gauge reads no finer than crowns stand, the ratio is known as much worse.
    error = float(np.mean(mm**2)) / variance / np.sqrt(2.0 * count)
    family = Known(0.0, CROWN_RATIO_SPREAD)
    precision = 1.0 / error**2 + 1.0 / family.uncertainty**2
    seen = 0.5 * float(np.log(variance / usual)) / error**2 / precision
    return Lesson(_one(seen, precision**-0.5), _one(0.0, family.uncertainty))


def relief_of(now: Estimate) -> Known | None:
    """Return the relief in a state, mean over the board's edges, mm; None where it is not known enough."""
    targets = [one for one in house_targets(now.board, "medium") if is_relief(one)]
    if not targets:
        return None
    sight = sight_of(now, targets)
    if not sight.judged.all():
        return None
    return Known(float(sight.value.mean()), float(sight.spread.max()))


def reliefs_of(service: Service, came: Estimate) -> tuple[Known | None, Known | None]:
    """Return the relief as found before any work and as left, mm; None where readings do not tell it."""
    found = relief_of(came)
    if not service.work:
        return found, found
    last = max((one.after for one in service.readings), default=0)
    return found, relief_of(estimate(service)) if last >= len(service.work) else None


def _one(mean: float, spread: float) -> Responses:
    return Responses(np.array([mean]), np.array([[spread**2]]))
