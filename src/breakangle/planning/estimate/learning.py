"""History to responses: what this neck does per turn, where it bends, what its saddle screws do.

Nothing here stores anything. A visit is a service with its work and readings; what it taught is in the belief it
ends with, because the responses are part of the state. The next visit starts from there, a little less sure.
A neck not seen before starts from its family, sharpened by what the shop's other necks of that family did.

Source: normal hierarchical model with known spreads, A. Gelman et al. (2013), Bayesian Data Analysis, 3rd ed.,
section 5.4. [memory]
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.kinds.prior import Responses, learned_places, prior_of
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.taught import Taught, prior_taught
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.effects.rod_play import last_turned_unknown
from breakangle.planning.state.layout import Belief, Layout

Array = NDArray[np.float64]

# Where nothing else is said below: common practice, no source.
# What may have changed by itself between two visits, one standard deviation; common practice, no source.
SEASON_BEND_MM = 0.15
SEASON_SHAPE_MM = 0.05
HEIGHT_DRIFT_MM = 0.05
# All strings alike: an owner who turned every screw. A low crown under all of them is rarer.
SHARED_HEIGHT_MM = 0.2
# A bridge on a top or a head has no screws to turn: it breathes with the season. What moved by more is a pattern, and
# told as one.
BREATHING_MM = 0.08
NUT_WEAR_MM = 0.01
SETBACK_DRIFT_MM = 0.35
CROWN_WEAR_MM = 0.006
# How far necks of one family differ, as a share of the family's variance; the rest is doubt about its mean.
BETWEEN_NECKS_SHARE = 0.6
ROD_AGEING_RATIO = 0.08


def responses_of(now: Estimate) -> Responses:
    """Return how this neck answers, as far as is known now."""
    places = learned_places(now.picture.layout)
    return Responses(now.belief.mean[places], now.belief.covariance[np.ix_(places, places)])


def _forget(belief: Belief, places: NDArray[np.intp], fresh: Belief) -> Belief:
    """Return `belief` with `places` as in `fresh`, and no ties to the rest."""
    mean, covariance = belief.mean.copy(), belief.covariance.copy()
    mean[places] = fresh.mean[places]
    covariance[places, :] = 0.0
    covariance[:, places] = 0.0
    covariance[np.ix_(places, places)] = fresh.covariance[np.ix_(places, places)]
    return replace(belief, mean=mean, covariance=covariance)


def between_visits(last: Estimate, board: Board) -> Belief:
    """Return what is believed when the instrument comes in again, strung as `board` has it.

    Strings, tuning and the finger start afresh; wood, wear and an owner's screwdriver add doubt; what the
    neck does per turn stays.
    """
    layout = Layout(board.string_count, board.fret_count)
    fresh = prior_of(board)
    blocks = ["pitch", "log_axial", "log_stiffness", "finger"]
    belief = _forget(last.belief, np.concatenate([layout[name] for name in blocks]), fresh)
    mean, covariance = belief.mean.copy(), belief.covariance.copy()
    pull_n = float(board.tension_n.sum() - last.board.tension_n.sum())
    mean[layout["neck"][0]] += pull_n * mean[layout["load"][0]]
    added = np.zeros(layout.size)
    added[layout["neck"]] = np.array([SEASON_BEND_MM, SEASON_SHAPE_MM, SEASON_SHAPE_MM]) ** 2
    added[layout["neck"][0]] += (0.5 * pull_n * mean[layout["load"][0]]) ** 2
    added[layout["saddle_height"]] = HEIGHT_DRIFT_MM**2
    added[layout["nut_height"]] = NUT_WEAR_MM**2
    added[layout["saddle_setback"]] = SETBACK_DRIFT_MM**2
    added[layout["crown"]] = CROWN_WEAR_MM**2
    added[layout["rod"]] = (ROD_AGEING_RATIO * mean[layout["rod"][0]]) ** 2
    covariance[np.diag_indices_from(covariance)] += added
    heights = layout["saddle_height"]
    on_a_top = board.instrument.bridge.kind == "one-piece"
    covariance[np.ix_(heights, heights)] += (BREATHING_MM if on_a_top else SHARED_HEIGHT_MM) ** 2
    belief = replace(belief, mean=mean, covariance=covariance, seen_before=True)
    return last_turned_unknown(belief, layout)


def recall(
    earlier: Sequence[Service],
    service: Service,
    shop: Sequence[Responses] = (),
    expected: Taught | None = None,
) -> Belief:
    """Return what is believed of `service`'s instrument before it is read.

    Args:
        earlier: the same instrument's visits, oldest first.
        service: the visit that now begins.
        shop: what other necks of the family have taught (`responses_of` their last visit).
        expected: what others of its make taught (`planning/estimate/population.py`), in the place of family and shop.

    Raises:
        CorrectInputError: a kind, make or wrap that the tables do not know.
    """
    board = board_of(service.instrument, service.reference_hz)
    belief: Belief | None = None
    for visit in of_same_shape(earlier, service):
        if belief is None:
            there = board_of(visit.instrument, visit.reference_hz)
            belief = prior_taught(there, expected or Taught(shop_responses(board, shop)))
        last = estimate(visit, prior=belief)
        following = replace(last, board=board_of(visit.instrument_now(), visit.reference_hz))
        belief = between_visits(following, board)
    if belief is not None:
        return belief
    return prior_taught(board, expected or Taught(shop_responses(board, shop)))


def teaches(service: Service) -> bool:
    """Return whether some adjustment has readings before it and after it, and none of relief reads nothing.

    Of a neck that is flat or bent back a gauge does not tell by how much: it teaches nothing of the rod.
    """
    if any(isinstance(one, Gap) and len(one.held) > 1 and one.mm == 0.0 for one in service.readings):
        return False
    stages = {one.after for one in service.readings}
    return any(
        min(stages, default=done) < done <= max(stages, default=0) for done in range(1, len(service.work) + 1)
    )


def of_same_shape(earlier: Sequence[Service], service: Service) -> tuple[Service, ...]:
    """Return the earlier visits whose states have the places of `service`'s: as many strings and frets."""
    here = len(service.instrument.strings), service.instrument.frets
    return tuple(one for one in earlier if (len(one.instrument.strings), one.instrument.frets) == here)


def shop_responses(board: Board, others: Sequence[Responses]) -> Responses | None:
    """Return what to expect of a neck of this family after the shop's `others`; None if there are none.

    Each other neck's own evidence is its posterior less the family prior it started from.
    """
    if not others:
        return None
    places = learned_places(Layout(board.string_count, board.fret_count))
    family = prior_of(board)
    mean, covariance = family.mean[places], family.covariance[np.ix_(places, places)]
    tiny = 1e-12 * np.eye(len(places))
    within = BETWEEN_NECKS_SHARE * covariance + tiny
    doubt = (1.0 - BETWEEN_NECKS_SHARE) * covariance + tiny
    family_information = np.linalg.inv(covariance + tiny)
    information = np.linalg.inv(doubt)
    vector = information @ mean
    for other in others:
        own = np.linalg.inv(other.covariance + tiny)
        evidence = _positive(own - family_information)
        pull = own @ other.mean - family_information @ mean
        # A neck tells of the family's mean only through how much necks differ.
        damped = np.linalg.inv(np.eye(len(places)) + evidence @ within)
        information = information + damped @ evidence
        vector = vector + damped @ pull
    mean_covariance = np.linalg.inv(0.5 * (information + information.T))
    return Responses(mean_covariance @ vector, mean_covariance + within)


def _positive(matrix: Array) -> Array:
    """Return the nearest symmetric matrix without negative eigenvalues."""
    values, vectors = np.linalg.eigh(0.5 * (matrix + matrix.T))
    return np.asarray((vectors * np.maximum(values, 0.0)) @ vectors.T)
