"""Readings to state: the most probable state of the instrument, with what is still uncertain.

Iterated Gauss-Newton on a Gaussian prior (maximum a posteriori), one batch for each stretch of readings
between two adjustments; an adjustment moves the belief on and widens it. What may stand behind readings that are
unlike what was expected (a pattern over many of them, a place unlike its kind, a slip in one of them) is weighed
together: what is believed to be there is looked for with an open mind in a second solve, and a reading believed to be a
slip is not averaged in silently: it is named, and counts for next to nothing until it is taken again.

Source: B. M. Bell and F. W. Cathey (1993), The iterated Kalman filter update as a Gauss-Newton method,
IEEE Trans. Autom. Control 38, 294; leave-one-out residuals r/(1 - h): Cook and Weisberg (1982), Residuals and
Influence in Regression, section 2.2. [memory]
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import capital, tr
from breakangle.model.words.unit_said import unit_open
from breakangle.planning.estimate.batch import Batch, Carried, Fit, Stage, batch_of, fit
from breakangle.planning.estimate.crowns_read import crowns_known, rescaled, rough_by_crowns
from breakangle.planning.estimate.diagnosis.cause import Causes, odd_places
from breakangle.planning.estimate.diagnosis.doubt import with_doubt
from breakangle.planning.estimate.diagnosis.evidence import Evidence, evidence, widened
from breakangle.planning.estimate.diagnosis.registry import causes_of
from breakangle.planning.kinds.prior import Responses, open_to_what_is_read, prior_of, read_past_joint
from breakangle.planning.kinds.registry import adjustment_kind, reading_kind
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.layout import Belief, layout_of
from breakangle.planning.state.picture import Picture, picture_of

Array = NDArray[np.float64]
# Where nothing else is said below: common practice, no source.
SURPRISING_SPREADS = 2.0
# How often causes and the state they lead to are weighed anew; it has settled by then, or goes round in a circle.
MOST_LOOKS = 3


@dataclass(frozen=True)
class Surprise:
    """A reading that the rest did not lead one to expect; `contradicted`: it cannot stand beside them."""

    reading: Reading
    read: float
    expected: float
    spreads: float
    contradicted: bool

    def sentence(self) -> str:
        """Return it in plain words, as a question."""
        kind = reading_kind(self.reading)
        off = f"{abs(self.read - self.expected):.{kind.decimals}f} {tr(kind.unit)}"
        others = (
            tr("the other readings") if self.contradicted else tr("what its neighbours lead one to expect")
        )
        tail = tr(" Until then it counts for less.") if self.contradicted else ""
        return tr(
            "{place} disagrees with {others} by {off}: read it again?{tail}",
            place=capital(kind.place(self.reading)),
            others=others,
            off=off,
            tail=tail,
        )


@dataclass(frozen=True)
class Estimate:
    """The state after all readings and adjustments so far.

    `forecast`: of work that is not done yet, so that nothing is cut on it. `doubt_counted`: the belief has in it what
    doubtful readings leave open.
    """

    board: Board
    belief: Belief
    surprises: tuple[Surprise, ...] = ()
    readings_used: int = 0
    evidence: Evidence | None = None
    forecast: bool = False
    doubt_counted: bool = False

    @cached_property
    def picture(self) -> Picture:
        """Return everything that can be read off the most probable state."""
        return picture_of(self.board, self.belief.mean)

    @cached_property
    def stated(self) -> "Estimate":
        """Return the state as it is told: the most probable one, as wide as doubtful readings leave it."""
        return self._with_doubt(moved_too=False)

    @cached_property
    def for_chances(self) -> "Estimate":
        """Return the state as chances are reckoned from it: as it is told, patterns left out that no gap shows.

        Those are there or they are not, and whoever reckons a chance weighs both.
        """
        return self._with_doubt(moved_too=False, unseen=False)

    @cached_property
    def weighed(self) -> "Estimate":
        """Return the state as work on it is decided: between what doubtful readings say and what it is without them."""
        return self._with_doubt(moved_too=True)

    def _with_doubt(self, moved_too: bool, unseen: bool = True) -> "Estimate":
        if self.doubt_counted or self.evidence is None:
            return self
        return replace(
            self, belief=with_doubt(self.belief, self.evidence, moved_too, unseen), doubt_counted=True
        )


@dataclass(frozen=True)
class _Run:
    """One pass over all stretches: the estimate at the end, and every stretch with its fit."""

    now: Estimate
    stages: tuple[Stage, ...]
    fits: tuple[Fit | None, ...]


def _run(
    board: Board, start: Belief, batches: Sequence[Batch], work: Sequence[Adjustment], slips: Sequence[int]
) -> _Run:
    """Return the state after readings and work in their order; `slips` are readings believed to be wrong.

    Slips are counted through the batches as they stand in their stages.
    """
    now, stages, fits, done = Estimate(board, start), [], [], 0
    for place, batch in enumerate(batches):
        size, found = len(batch.readings), None
        rows, linear, noise = np.zeros((0, len(start.mean))), np.zeros(0), np.zeros(0)
        slip_spreads = np.zeros(0)
        if size:
            here = [one - done for one in slips if done <= one < done + size]
            found = fit(now.belief, batch, now.board, here)
            rows, noise, slip_spreads = found.rows, found.noise, found.slip_spreads
            linear = found.residual + rows @ found.belief.mean
            now = replace(now, belief=found.belief, readings_used=now.readings_used + size)
            done += size
        effect = None
        if place < len(work):
            now, effect = _moved(now, work[place])
        stages.append(Stage(batch, rows, linear, noise, slip_spreads, effect))
        fits.append(found)
    return _Run(now, tuple(stages), tuple(fits))


def _weighed(
    board: Board,
    start: Belief,
    causes: Causes,
    readings: Sequence[Reading],
    work: Sequence[Adjustment] = (),
    seen_before: bool = True,
) -> Estimate:
    """Return the state, with what stands behind the readings weighed, and looked for where it is believed in."""
    believed: tuple[int, ...] = ()
    slips: tuple[int, ...] = ()
    start = start if seen_before else rescaled(start, board, rough_by_crowns(readings, board))
    open_start = open_to_what_is_read(start, readings, board, seen_before)
    batches = _batches(board, readings, work)
    for _ in range(MOST_LOOKS):
        run = _run(board, widened(open_start, causes, believed), batches, work, slips)
        if not readings:
            return run.now
        found = evidence(run.stages, start, causes)
        if (found.chosen_causes, found.slips) == (believed, slips):
            break
        believed, slips = found.chosen_causes, found.slips
    belief = crowns_known(run.now.belief, found.readings, run.now.board, found.slip_chances, work)
    belief = replace(belief, end_read=start.end_read or read_past_joint(readings, board))
    return replace(run.now, belief=belief, evidence=found, surprises=_surprises(run, slips))


def _surprises(run: _Run, slips: Sequence[int]) -> tuple[Surprise, ...]:
    """Return what surprises in each stretch, the worst first."""
    found, done = [], 0
    for stage, fitted in zip(run.stages, run.fits, strict=True):
        here = []
        all_off = fitted.residual / (1.0 - fitted.leverage) if fitted is not None else np.zeros(0)
        all_spreads = fitted.spreads if fitted is not None else np.zeros(0)
        for index, reading in enumerate(stage.batch.readings):
            off, spreads = all_off[index], all_spreads[index]
            slip = done + index in slips
            if slip or (abs(off) > reading_kind(reading).surprise and spreads > SURPRISING_SPREADS):
                read = float(stage.batch.values[index])
                here.append(Surprise(reading, read, float(read - off), float(spreads), slip))
        done += len(stage.batch.readings)
        found += sorted(here, key=lambda one: -one.spreads)
    return tuple(found)


def update(belief: Belief, readings: Sequence[Reading], board: Board) -> tuple[Belief, tuple[Surprise, ...]]:
    """Return the belief after `readings` (one stretch), and the readings that surprise."""
    if not readings:
        return belief, ()
    layout = layout_of(board.string_count, board.fret_count)
    causes = Causes((*causes_of(board), *odd_places(layout)))
    here = [one.model_copy(update={"after": 0}) for one in readings]
    found = _weighed(board, belief, causes, here)
    return found.belief, found.surprises


def _moved(estimate: Estimate, adjustment: Adjustment) -> tuple[Estimate, Carried]:
    """Return the estimate after `adjustment`, and what it did as a linear move."""
    kind = adjustment_kind(adjustment)
    effect = kind.effect(adjustment, estimate.picture)
    carried = Carried(effect.rows, effect.mean - effect.rows @ estimate.belief.mean, effect.variance)
    belief = replace(
        estimate.belief, mean=effect.mean, covariance=carried.covariance(estimate.belief.covariance)
    )
    found = replace(estimate, board=_board_after(estimate.board, adjustment), belief=belief)
    if found.evidence is not None:
        found = replace(found, evidence=found.evidence.after(carried))
    return found, carried


def _board_after(board: Board, adjustment: Adjustment) -> Board:
    """Return the board as `adjustment` leaves it: most leave it as it was."""
    instrument = adjustment.changed_instrument(board.instrument)
    return board if instrument is board.instrument else board_of(instrument, board.reference_hz)


def _batches(board: Board, readings: Sequence[Reading], work: Sequence[Adjustment]) -> tuple[Batch, ...]:
    """Return the readings of each stretch between two adjustments, on the board of that stretch."""
    found = []
    for place in range(len(work) + 1):
        found.append(batch_of([one for one in readings if one.after == place], board))
        if place < len(work):
            board = _board_after(board, work[place])
    return tuple(found)


def adjusted(estimate: Estimate, adjustment: Adjustment) -> Estimate:
    """Return the estimate after `adjustment`: moved by its effect, and less certain by what it adds."""
    return _moved(estimate, adjustment)[0]


@lru_cache(maxsize=64)
def _family_causes(board: Board) -> tuple[Belief, Causes]:
    """Return what the family leads one to expect, and all causes that may stand behind what is read."""
    start = prior_of(board)
    layout = layout_of(board.string_count, board.fret_count)
    return start, Causes((*causes_of(board), *odd_places(layout)))


def estimate(service: Service, prior: Belief | None = None, responses: Responses | None = None) -> Estimate:
    """Return the state of the service's instrument now, from any readings in any convention.

    Args:
        service: the service with its readings and the work done between them.
        prior: what is already believed (a former visit's end, with its drift); else the family's.
        responses: how this neck answers, where that has been learned; used with the family's prior.

    Raises:
        CorrectInputError: a kind, make or wrap that the tables do not know.
    """
    board = board_of(service.instrument, service.reference_hz)
    family, causes = _family_causes(board)
    start = prior
    if start is None:
        start = prior_of(board, responses) if responses is not None else family
    readings = [one for one in service.readings if one.after <= len(service.work) and not unit_open(one)]
    return _weighed(
        board, start, causes, readings, service.work, seen_before=prior is not None and prior.seen_before
    )
