"""A maker at a simulated instrument: gauges that round, hands that scatter, and a service by the plan."""

from dataclasses import dataclass

import numpy as np

from bench._instruments import SimulatedInstrument
from breakangle.model.plan import Plan
from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.prior import Responses
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.plan import plan, planned
from breakangle.planning.state.board import board_of
from breakangle.planning.state.layout import Belief

# Gauges: (noise, one standard deviation; rounding), and what the maker states. Common practice, no source.
RELIEF_GAUGE = (0.012, 0.02, 0.015)
ACTION_GAUGE = (0.020, 0.05, 0.027)
NUT_GAUGE = (0.008, 0.01, 0.010)
DRIFT_CENTS = 0.1  # a settled string between two readings
TUNED_CENTS = 1.0
EAR_GAUGE = (0.25, 0.1, 0.30)
MOST_LOOKS = 20  # between two full sets of readings; a plan that goes on longer has lost its way
# Hands, one standard deviation.
ROD_HAND_TURNS, SCREW_HAND_MM, FILE_HAND_MM, POSITION_HAND_MM = 0.012, 0.015, 0.008, 0.05


def _rounded(value: float, gauge: tuple[float, float, float], rng: np.random.Generator) -> float:
    noise, step, _ = gauge
    return float(np.round((value + rng.normal(0, noise)) / step) * step)


@dataclass
class Bench:
    """One maker at one instrument, with a noise of their own."""

    one: SimulatedInstrument
    rng: np.random.Generator
    asked: int = 0

    def gap(self, string: int, fret: int, held: tuple[int, ...], gauge: tuple[float, float, float]) -> Gap:
        mm = max(_rounded(self.one.gap_mm(string, fret, held), gauge, self.rng), 0.0)
        return Gap(string=string, fret=fret, held=held, mm=round(mm, 4), uncertainty_mm=gauge[2])

    def relief(self) -> list[Reading]:
        joint, middle = self.one.instrument.joint_fret, self.one.relief_fret
        return [self.gap(string, middle, (1, joint), RELIEF_GAUGE) for string in (self.one.count, 1)]

    def full_set(self) -> list[Reading]:
        found = self.relief()
        for string in range(self.one.count, 0, -1):
            found.append(self.gap(string, 12, (1,), ACTION_GAUGE))
            found.append(self.gap(string, 1, (3,), NUT_GAUGE))
            found += self.intonation(string)
        return found

    def intonation(self, string: int) -> list[Reading]:
        self.one.open_cents[string - 1] += self.rng.normal(0, DRIFT_CENTS)
        tuned = float(self.one.open_cents[string - 1])
        press = self.rng.uniform(0.8, 1.2)
        stopped = tuned + self.one.stopped_cents(string, 12, press)
        return [
            Pitch(string=string, fret=fret, cents=round(_rounded(cents, EAR_GAUGE, self.rng), 2),
                  uncertainty_cents=EAR_GAUGE[2])
            for fret, cents in ((0, tuned), (12, stopped))
        ]  # fmt: skip

    def again(self, asked: tuple[Reading, ...]) -> list[Reading]:
        """Read once more what the plan asks for: figures too near their edge to tell the side."""
        found: list[Reading] = []
        for reading in asked:
            if isinstance(reading, Pitch):
                found += self.intonation(reading.string)
            elif isinstance(reading, Gap):
                between = len(reading.held) == 2
                gauge = RELIEF_GAUGE if between else ACTION_GAUGE if reading.fret > 3 else NUT_GAUGE
                found.append(self.gap(reading.string, reading.fret, reading.held, gauge))
        return found

    def do(self, adjustment: Adjustment) -> None:
        """Make the adjustment with a hand that scatters."""
        one, rng = self.one, self.rng
        if isinstance(adjustment, Tune):
            one.open_cents = rng.normal(0, TUNED_CENTS, one.count)
        elif isinstance(adjustment, RodTurn):
            one.rod_turns += adjustment.turns + rng.normal(0, ROD_HAND_TURNS)
            # A rod gives a little less in its first move one way.
            one.rod_seat_turns = -0.06 * 0.25 * np.sign(adjustment.turns)
        elif isinstance(adjustment, SaddleHeight) and adjustment.string is not None:
            one.saddle_mm[adjustment.string - 1] += adjustment.mm * one.screw_ratio + rng.normal(
                0, SCREW_HAND_MM
            )
        elif isinstance(adjustment, SaddleHeight):
            side = 1.0 if adjustment.post == "treble" else -1.0
            moved = adjustment.mm * one.screw_ratio + rng.normal(0, SCREW_HAND_MM)
            one.saddle_mm += moved * 0.5 * (1.0 + side * one.side / 1.45)
        elif isinstance(adjustment, NutSlot):
            one.nut_mm[adjustment.string - 1] += min(adjustment.mm + rng.normal(0, FILE_HAND_MM), 0.0)
        elif isinstance(adjustment, SaddlePosition):
            one.setback_mm[adjustment.string - 1] += adjustment.mm + rng.normal(0, POSITION_HAND_MM)


def truth(one: SimulatedInstrument, targets: tuple[Target, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Return each target's true distance from what is wanted, and its tolerance."""
    off, tolerance = [], []
    for target in targets:
        kind = target_kind(target)
        value = (
            one.gap_mm(target.string, target.fret, target.held)  # type: ignore[attr-defined]
            if target.quantity == "gap"
            else one.stopped_cents(target.string, target.fret)
        )
        off.append(value - kind.wanted(target))
        tolerance.append(kind.tolerance(target))
    return np.array(off), np.array(tolerance)


@dataclass
class Outcome:
    """How one service went: what was out (by truth) after each full set of readings, and what was touched."""

    out_after: list[np.ndarray]
    touched: set[str]
    verdicts: list[str]
    last: Estimate
    service: Service
    asked: int = 0
    planned_first: int = 0
    # Adjusters touched by the end of the first full set: a second one has more brought to the middle.
    touched_first: frozenset[str] = frozenset()


def _key(adjustment: Adjustment) -> str:
    places = (getattr(adjustment, "string", None), getattr(adjustment, "post", None))
    return f"{adjustment.adjust} {next((one for one in places if one is not None), '')}".strip()


def by_plan(
    one: SimulatedInstrument,
    seed: int,
    prior: Belief | None = None,
    responses: Responses | None = None,
    sets: int = 2,
) -> Outcome:
    """Follow the plan step by step: a full set of readings, then relief after each rod turn."""
    bench = Bench(one, np.random.default_rng(seed + 10**6))
    targets = house_targets(board_of(one.instrument), "medium")
    service = Service(instrument=one.instrument)
    outcome = Outcome([], set(), [], None, service)  # type: ignore[arg-type]
    for _ in range(sets):
        service = _done(service, Tune())
        bench.do(Tune())
        service = _read(service, bench.full_set())
        made, service = _asked(bench, service, prior, responses)
        outcome.verdicts.append(made.verdict)
        if len(outcome.verdicts) == 1:
            keys = {_key(step.adjustment) for step in made.steps if not isinstance(step.adjustment, Tune)}
            outcome.planned_first = len(keys)
        service = _followed(bench, service, made, outcome, prior, responses)
        outcome.out_after.append(out_by_truth(one, targets))
    outcome.last, outcome.service = _solve(service, prior, responses)[0], service
    outcome.asked = bench.asked
    return outcome


def _followed(
    bench: Bench,
    service: Service,
    made: Plan,
    outcome: Outcome,
    prior: Belief | None,
    responses: Responses | None,
) -> Service:
    """Do what the plan says until the next look, look, and plan again from there; return the service as it ends.

    A look: relief after every turn of the rod; once the rod is done and once all is in tune, what the plan asks for.
    """
    for _ in range(MOST_LOOKS):
        if not made.steps:
            break
        moves = _next_moves(made)
        for adjustment in moves:
            if not isinstance(adjustment, Tune):
                outcome.touched.add(_key(adjustment))
                if not outcome.out_after:
                    outcome.touched_first = frozenset(outcome.touched)
            bench.do(adjustment)
            service = _done(service, adjustment)
        if isinstance(moves[-1], RodTurn):
            service = _read(service, bench.relief())
            _, made = _solve(service, prior, responses)
            if made.steps and isinstance(made.steps[0].adjustment, RodTurn):
                continue
        elif not isinstance(moves[-1], Tune):
            break
        made, service = _asked(bench, service, prior, responses)
    return service


def _next_moves(made: Plan) -> list[Adjustment]:
    """Return what is done before the next look: one turn of the rod, all up to tuning, or, in tune, all the rest."""
    moves = [one.adjustment for one in made.steps]
    if isinstance(moves[0], RodTurn):
        return moves[:1]
    tuned = next((place for place, move in enumerate(moves) if isinstance(move, Tune)), 0)
    return moves[: tuned + 1] if tuned else moves


def outside(out: np.ndarray) -> bool:
    """Return whether anything is out."""
    return bool(out.any())


def out_by_truth(one: SimulatedInstrument, targets: tuple[Target, ...]) -> np.ndarray:
    off, tolerance = truth(one, targets)
    return np.maximum(np.abs(off) - tolerance, 0.0) / tolerance


def _read(service: Service, readings: list[Reading]) -> Service:
    stamped = tuple(one.model_copy(update={"after": len(service.work)}) for one in readings)
    return service.model_copy(update={"readings": service.readings + stamped})


def _asked(
    bench: Bench, service: Service, prior: Belief | None, responses: Responses | None
) -> tuple[Plan, Service]:
    """Solve, read what the plan asks to be read first (three rounds of that at most), and solve again."""
    found = planned(service, estimate(service, prior, responses))
    for _ in range(3):
        if not found.again.all:
            break
        bench.asked += len(found.again.all)
        service = _read(service, bench.again(found.again.all))
        found = planned(service, estimate(service, prior, responses))
    return found.plan, service


def _done(service: Service, adjustment: Adjustment) -> Service:
    return service.model_copy(update={"work": (*service.work, adjustment)})


def _solve(service: Service, prior: Belief | None, responses: Responses | None) -> tuple[Estimate, Plan]:
    now = estimate(service, prior, responses)
    return now, plan(service, now)
