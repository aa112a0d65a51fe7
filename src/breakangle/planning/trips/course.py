"""The course of a plan: trips in order, the steps of each, and what should be read at its end."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Step, Trip
from breakangle.model.reading import Adjustment, Target
from breakangle.model.service import Service
from breakangle.model.words.speech import capital, tr
from breakangle.planning.estimate.estimate import Estimate, adjusted
from breakangle.planning.estimate.reading_state import reading_noise, times_read
from breakangle.planning.estimate.target_state import Sight, sight_of
from breakangle.planning.estimate.telling_few import telling_few
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.registry import adjustment_kind
from breakangle.planning.kinds.rounding import rounded_amount
from breakangle.planning.kinds.targets.gap import GapTarget, is_relief, trade_name
from breakangle.planning.solve.decide import Decision
from breakangle.planning.solve.lever_limits import same_adjuster
from breakangle.planning.state.expected_minutes import LIKELY_OUT, chance_out
from breakangle.planning.trips import step_reasons
from breakangle.planning.trips.laid import Laid, laid_out, trips_of

Array = NDArray[np.float64]
# Chance of being out from which a figure is worth a quarter of a minute; common practice, no source.
WORTH_A_LOOK = 0.02
# One figure in 25 is written down wrong: of these one in four looks honest and hides what is out. Derived.
UNSEEN_SLIP, TWICE = 0.012, 2
# Of its tolerance: heights known no better once the rod is set are read first; calibrated by closed_loop.
KNOWN_TO_SET = 0.45
IN_TUNE_CENTS = 3.0  # a saddle's place depends that little on it; common practice, no source


@dataclass(frozen=True)
class Course:
    """The steps and trips, state and targets after them, and how far off each target is when its own turn comes."""

    steps: tuple[Step, ...]
    trips: tuple[Trip, ...]
    end: Estimate
    seen: Sight
    off_in_turn: Array


@dataclass(frozen=True)
class _Move:
    """One adjustment of a trip, on what, and what it alone moves of every target, (T,)."""

    adjustment: Adjustment
    instrument: Instrument
    moved: Array

    @property
    def order(self) -> int:
        """Return when in the order of work its turn comes."""
        return adjustment_kind(self.adjustment).order


def course(
    service: Service, now: Estimate, sight: Sight, decision: Decision, without: Sequence[Adjustment]
) -> Course:
    """Return the steps in their trips, with what is read after each.

    Every turn of the rod is read by itself. What else is done in one trip is read when the trip is over: each of its
    steps says what that should then show.
    """
    off = off_pitch(service) and not decision.waiting.any()
    asked = [
        one
        for one in _in_order(decision.moves, now.board.instrument, _in_tune(now), off)
        if not any(same_adjuster(one, other) for other in without)
    ]
    laid = laid_out(asked, now.board.instrument)
    steps: list[Step] = []
    ends: list[Sight] = []
    shown: list[dict[int, None]] = []
    in_turn, before = sight.off, sight
    for number, trip in enumerate(laid, start=1):
        places: dict[int, None] = {}
        for stretch in _stretches(trip):
            now, moves = _made(now, before, stretch)
            after = sight_of(now, sight.targets)
            for move in moves:
                step, told = _step(move, before, after, decision, number)
                steps.append(step)
                places |= dict.fromkeys(told)
            in_turn = _in_turn(in_turn, decision.turn, before, after, moves)
            before = after
        if _turns_rod(trip):
            places |= dict.fromkeys(_telling_heights(service, now, before, laid[number:]))
        ends.append(before)
        shown.append(places)
    if shown:
        # Relief is read before anything else is done; all the rest once the strings have settled.
        first = [places if _turns_rod(one) else {} for one, places in zip(laid[:-1], shown, strict=False)]
        shown = [*first, _worth_a_look(service, before, shown, _awaited(decision, sight.targets))]
    trips = trips_of(laid, now.board.instrument, ends, shown)
    return Course(tuple(steps), trips, now, before, in_turn)


def _awaited(decision: Decision, targets: Sequence[Target]) -> frozenset[int] | None:
    """Return what alone is read at the end where cuts wait for it: what they are made for, and what opens them.

    None where nothing waits. A turn of the rod puts the strings out of tune: pitches are read when they are in tune.
    """
    waiting = [one for one in decision.held_back if one.awaited or one.beside == "rod"]
    if not waiting or not any(lever.doubtful for lever, _ in decision.moves):
        return None
    return frozenset(
        index
        for one in waiting
        for index in (*(each.target for each in one.awaited), *(one.serves if one.beside else ()))
        if isinstance(targets[index], GapTarget)
    )


def _worth_a_look(
    service: Service, end: Sight, shown: Sequence[dict[int, None]], only: frozenset[int] | None
) -> dict[int, None]:
    """Return what to read once all strings have settled: what was worked on, and pitches that it may have moved out.

    `only`: where more is to be cut as soon as the rod has been read, what that is made for; the rest is read after it.

    What was worked on is read though it is expected to be right: one figure in 25 is written down wrong, and what was
    moved on the strength of it is found here. So is a note that was read once alone. Common practice, no source.
    """
    likely = chance_out(end.off, end.tolerance, end.spread)
    moved = {index for one in shown for index in one}
    worked = np.array(
        [any(adjustment_kind(one).verified_by(one, target) for one in service.work) for target in end.targets]
    )
    unseen = worked & (times_read(service, end) == 0)
    once = times_read(service, end, ever=True) < TWICE
    found: dict[int, None] = {}
    for index, target in enumerate(end.targets):
        figures = 1 if isinstance(target, GapTarget) else 2
        waits = only is not None and index not in only and not is_relief(target)
        doubtful = not waits and likely[index] + figures * UNSEEN_SLIP * once[index] > figures * WORTH_A_LOOK
        if index in moved or unseen[index] or (doubtful and end.judged[index]):
            found[index] = None
    return found


def _telling_heights(service: Service, now: Estimate, end: Sight, later: Sequence[Laid]) -> tuple[int, ...]:
    """Return the few actions to read once the rod is set, where heights are set next: it has moved all together.

    Read first, they are set once; set by what a turn was expected to do, all of them are set a second time. Where only
    a cut serves them, so are those that may have sunk too low: nothing raises them, and the rod would sink them on.
    """
    heights = [one for trip in later for one in trip.moves if one.adjust == "saddle-height"]
    likely = chance_out(end.off, end.tolerance, end.spread)
    only_cut = now.board.instrument.bridge.kind == "one-piece"
    own = [
        place
        for place, target in enumerate(end.targets)
        if any(adjustment_kind(one).verified_by(one, target) for one in heights)
        or (only_cut and _is_action(target) and end.off[place] < 0.0 and likely[place] > LIKELY_OUT)
    ]
    if not own:
        return ()
    return telling_few(now, end, own, KNOWN_TO_SET * end.tolerance, reading_noise(service, end.targets))


def _is_action(target: Target) -> bool:
    return isinstance(target, GapTarget) and trade_name(target) == "action"


def _stretches(trip: Laid) -> list[tuple[Adjustment, ...]]:
    """Return the adjustments of a trip between one look and the next."""
    if _turns_rod(trip):
        return [(one,) for one in trip.moves]
    return [trip.moves]


def _turns_rod(trip: Laid) -> bool:
    return any(isinstance(one, RodTurn) for one in trip.moves)


def _made(now: Estimate, before: Sight, stretch: Sequence[Adjustment]) -> tuple[Estimate, list[_Move]]:
    """Return the state after a stretch, and what each of its adjustments moves, linear around where it begins."""
    moves = []
    for adjustment in stretch:
        instrument, mean = now.board.instrument, now.belief.mean
        now = adjusted(now, adjustment)
        moves.append(_Move(adjustment, instrument, before.rows @ (now.belief.mean - mean)))
    return now, moves


def _step(
    move: _Move, before: Sight, after: Sight, decision: Decision, trip: int
) -> tuple[Step, Sequence[int]]:
    """Return the step with its words, and the places of the targets that show that it worked."""
    kind, adjustment = adjustment_kind(move.adjustment), move.adjustment
    shown = step_reasons.shown_by(adjustment, before, move.moved)
    why = step_reasons.reason(
        adjustment,
        before,
        after,
        move.instrument,
        moved=move.moved,
        shown=shown,
        lent_to=decision.lent_to,
    )
    step = Step(
        adjustment=adjustment,
        reason=tr("{told}: {why}", told=kind.told(adjustment, move.instrument), why=why),
        why=capital(why),
        caution=kind.cautions(adjustment, move.instrument),
        dangers=kind.dangers(adjustment, move.instrument),
        screw=kind.screw(adjustment, move.instrument),
        expect=tuple(after.reading(index) for index in shown),
        trip=trip,
    )
    return step, shown


def _in_turn(so_far: Array, turn: Array, before: Sight, after: Sight, moves: Sequence[_Move]) -> Array:
    """Return how far off each target is when the turn of its own adjusters comes, after one stretch more, (T,)."""
    work = [one for one in moves if not isinstance(one.adjustment, Tune)]
    if not work:
        return so_far
    partly = before.off + sum(np.where(one.order < turn, one.moved, 0.0) for one in work)
    begun = min(one.order for one in work) < turn
    done = max(one.order for one in work) < turn
    return np.where(done, after.off, np.where(begun, partly, so_far))


def off_pitch(service: Service) -> bool:
    """Return whether work since the last tuning has moved the strings' pitch, so that they are still to be tuned."""
    tune = adjustment_kind(Tune())
    kinds = [adjustment_kind(one) for one in service.work]
    tuned = max((place for place, kind in enumerate(kinds) if kind is tune), default=-1)
    return any(kind.planned and kind.order < tune.order for kind in kinds[tuned + 1 :])


def _in_order(
    moves: Sequence[tuple[Lever, float]], instrument: Instrument, in_tune: bool, off: bool
) -> list[Adjustment]:
    """Return the adjustments in the order of work, with tuning before intonation, or at the end.

    What serves all strings comes before what serves one: the whole of a saddle is cut before it is shaped.

    Where all strings are in tune and nothing before intonation moves them, they are not tuned again; where they are
    `off` pitch after what has been done, they are tuned though nothing more is done. What is less than a hand can set
    is left out.
    """
    tune = adjustment_kind(Tune())
    ranked = sorted(moves, key=lambda move: (move[0].order, _from_bass(move[0])))
    made = [
        (lever.order, one)
        for lever, amount in ranked
        for one in lever.made(amount)
        if rounded_amount(one, instrument) is not None
    ]
    before = [one for order, one in made if order < tune.order]
    after = [one for order, one in made if order > tune.order]
    tuned = in_tune and not before and not off
    return [*before, *([] if tuned else [Tune()]), *after] if made or off else []


def _in_tune(now: Estimate) -> bool:
    """Return whether every string is known to be at its pitch, as near as intonation asks."""
    pitch = now.picture.layout["pitch"]
    spread = np.sqrt(np.diag(now.belief.covariance)[pitch])
    return bool(np.all((np.abs(now.belief.mean[pitch]) < IN_TUNE_CENTS) & (spread < IN_TUNE_CENTS)))


def _from_bass(lever: Lever) -> float:
    string = getattr(lever.trial, "string", None)
    return -np.inf if string is None else -float(string)
