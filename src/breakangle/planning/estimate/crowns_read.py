"""What reading crowns tells beside the state: whether the board is even or rough, and each crown's own part.

Source: two classes of boards, each normal, weighed by what was read (Bayes) [derived].
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Reading
from breakangle.planning.estimate.levelled import crowns_as_now
from breakangle.planning.estimate.own_parts import crowns_standing, own_parts, reads_crowns
from breakangle.planning.kinds.readings.crown import GAUGE_SPREAD_MM, Crown
from breakangle.planning.state.board import Board
from breakangle.planning.state.crowns import OWN_SHARE, left_out_mm, rough_share, scatter_of
from breakangle.planning.state.layout import Belief, CrownsKnown, Layout
from breakangle.planning.state.picture import picture_of

Array = NDArray[np.float64]
FEWEST_FRETS = 5  # a crown or two are read because they look wrong, and tell nothing of the rest; chosen
# A crown farther out than that is a fault of its own, and tells no more of the board than this. Chosen.
FARTHEST_MM = 0.08
LIKELY = 0.5  # derived: more likely than not
LEAST_TOLD = 0.02  # of an own part's variance: a reading that takes less away tells nothing of it; chosen


def rough_by_crowns(readings: Sequence[Reading], board: Board) -> float:
    """Return how probable it is that the board is a rough one, by the crowns that were read."""
    scatter = scatter_of(board)
    share = scatter.rough_share
    read = [one for one in readings if isinstance(one, Crown)]
    frets = {one.fret for one in read}
    if len(frets) < FEWEST_FRETS:
        return share
    mm = np.clip([one.mm for one in read], -FARTHEST_MM, FARTHEST_MM)
    gauge = np.array([one.uncertainty_mm or GAUGE_SPREAD_MM for one in read])
    told = [
        -0.5 * np.sum(mm**2 / (spread**2 + gauge**2) + np.log(spread**2 + gauge**2))
        for spread in (scatter.rough_mm, scatter.even_mm)
    ]
    # What all strings share of a crown is told once a fret, however many strings it was read under.
    own = OWN_SHARE + (1.0 - OWN_SHARE) * len(frets) / len(read)
    log_odds = np.log(share / (1.0 - share)) + own * (told[0] - told[1])
    return float(1.0 / (1.0 + np.exp(-np.clip(log_odds, -30.0, 30.0))))


def rescaled(belief: Belief, board: Board, share: float) -> Belief:
    """Return the belief with crowns as wide as on boards that are rough with probability `share`."""
    scatter = scatter_of(board)
    if share == scatter.rough_share:
        return belief
    layout = Layout(board.string_count, board.fret_count)
    ratio = scatter.variance_mm2(share) / scatter.variance_mm2(scatter.rough_share)
    places = np.concatenate([layout[block] for block in ("crown", "crown_tilt", "crown_own")])
    covariance = belief.covariance.copy()
    covariance[np.ix_(places, places)] *= ratio
    return replace(belief, covariance=covariance)


def crowns_known(
    belief: Belief,
    readings: Sequence[Reading],
    board: Board,
    slips: Array | None = None,
    work: Sequence[Adjustment] = (),
) -> Belief:
    """Return the belief with what crown readings tell of each crown's own part, where the state leaves it out.

    `slips`: how probable it is that each of `readings` was written down wrong. Such a crown is one that nobody read, so
    that its own part is a mixture of both, by its moments. `work`: what was done between them; what came off crowns
    since they were read is taken off their readings.
    """
    chance = np.zeros(len(readings)) if slips is None else slips
    if any(reads_crowns(one) and not isinstance(one, Crown) for one in readings):
        return _known_together(belief, readings, board, chance, work)
    now = crowns_as_now(readings, board, work)
    read = [(one, float(wrong)) for one, wrong in zip(now, chance, strict=True) if isinstance(one, Crown)]
    if not read:
        return belief
    share = rough_by_crowns(readings, board)
    own = OWN_SHARE * scatter_of(board).variance_mm2(share)
    precision, pull, wrong = _gauged(belief, board, read)
    told = (left_out_mm(board)[:, 1:-1] > 0.0) & (precision > 0.0)
    honest = np.where(told, 1.0 - wrong, 0.0)
    own_mm = np.where(told, pull / (precision + 1.0 / own), 0.0)
    variance = honest / (precision + 1.0 / own) + wrong * own + honest * wrong * own_mm**2
    return replace(
        belief,
        crowns=CrownsKnown(
            rough_share=share,
            own_mm=honest * own_mm,
            own_spread_mm=np.where(told, np.sqrt(variance), np.nan),
            own_gain=honest * precision / (precision + 1.0 / own),
            read=np.asarray((precision > 0.0).any(axis=0)),
        ),
    )


def _gauged(belief: Belief, board: Board, read: Sequence[tuple[Crown, float]]) -> tuple[Array, Array, Array]:
    """Return what the readings of each crown weigh, that times how far off the line they are, and whether all slipped.

    All have shape (S, F); `read` gives each reading with how probable it is that it was written down wrong.
    """
    shape, layout = (board.string_count, board.fret_count), Layout(board.string_count, board.fret_count)
    precision, pull, wrong = np.zeros(shape), np.zeros(shape), np.ones(shape)
    for one, slip in read:
        string, fret = one.string - 1, one.fret - 1
        line = (
            belief.mean[layout["crown"][fret]]
            + board.side_ratio[string] * belief.mean[layout["crown_tilt"][fret]]
        )
        gauge = (one.uncertainty_mm or GAUGE_SPREAD_MM) ** 2
        precision[string, fret] += 1.0 / gauge
        pull[string, fret] += (one.mm - line) / gauge
        wrong[string, fret] *= slip
    return precision, pull, wrong


def _known_together(
    belief: Belief, readings: Sequence[Reading], board: Board, slips: Array, work: Sequence[Adjustment]
) -> Belief:
    """Return the belief with crowns read by rocker, edge, dial or groove too: lines over many, solved together.

    A reading that was more likely than not written down wrong is left out.
    """
    picture, layout = picture_of(board, belief.mean), Layout(board.string_count, board.fret_count)
    honest = [one for one, wrong in zip(readings, slips, strict=True) if wrong < LIKELY]
    standing = crowns_standing(honest, picture, work)
    if not standing:
        return belief
    shape = (board.string_count, board.fret_count)
    share = rough_by_crowns(standing, board)
    found = own_parts(picture, share, standing, work)
    spread = np.sqrt(np.maximum(np.diag(found.covariance), 0.0)).reshape(shape)
    usual = OWN_SHARE * scatter_of(board).variance_mm2(share)
    told = (left_out_mm(board)[:, 1:-1] > 0.0) & (spread**2 < usual * (1.0 - LEAST_TOLD))
    along = found.rows.reshape(*shape, -1)
    gain = np.stack([along[:, fret, layout["crown"][fret]] for fret in range(shape[1])], axis=1)
    return replace(
        belief,
        crowns=CrownsKnown(
            rough_share=share,
            own_mm=np.where(told, found.mean.reshape(shape), 0.0),
            own_spread_mm=np.where(told, spread, np.nan),
            own_gain=np.where(told, np.clip(gain, 0.0, 1.0), 0.0),
            read=np.asarray(told.any(axis=0) | _frets_named(standing, shape[1])),
        ),
    )


def _frets_named(readings: Sequence[Reading], frets: int) -> NDArray[np.bool_]:
    return np.isin(np.arange(1, frets + 1), [one.fret for one in readings])


def own_of(board: Board, belief: Belief) -> tuple[Array, Array]:
    """Return each crown's own part that the state leaves out: mean and variance, mm, shape (S, F) each."""
    spread = left_out_mm(board)[:, 1:-1]
    if belief.crowns is None:
        return np.zeros_like(spread), spread**2
    scatter = scatter_of(board)
    ratio = scatter.variance_mm2(rough_share(board, belief)) / scatter.variance_mm2(scatter.rough_share)
    known = belief.crowns.own_spread_mm
    return belief.crowns.own_mm, np.where(np.isnan(known), ratio * spread**2, np.nan_to_num(known) ** 2)
