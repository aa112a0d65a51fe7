"""The other way to service a simulated instrument: by rules of thumb, with the same gauges and the same hands."""

import numpy as np

from bench._instruments import SimulatedInstrument
from bench._maker import Bench, out_by_truth
from breakangle.model.reading import Reading, Target
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.state.board import board_of
from breakangle.reference.families import family


def by_rule_of_thumb(one: SimulatedInstrument, seed: int, most_rounds: int = 12) -> tuple[int, bool]:
    """Work by rules of thumb until all reads inside; return rounds, and whether something is truly out.

    A round: read all; rod by an average response to the eighth; twice the action error at the saddle; the nut
    by its excess; the saddle back by cents × L/2 × ln 2 / 1200 (as the rule has it, for the 12th).
    """
    bench = Bench(one, np.random.default_rng(seed + 10**6))
    targets = house_targets(board_of(one.instrument), "medium")
    average = family(one.instrument.kind).rod
    rounds = 0
    for _ in range(most_rounds):
        rounds += 1
        bench.do(Tune())
        readings = bench.full_set()
        read = _as_read(readings, targets)
        if not _thumb_round(bench, targets, read, average.relief_mm_per_turn.mean if average else 0.0):
            rounds -= 1
            break
    return rounds, bool(out_by_truth(one, targets).any())


def _as_read(readings: list[Reading], targets: tuple[Target, ...]) -> list[float]:
    """Return each target's distance from what is wanted, as these readings show it."""
    found = []
    for target in targets:
        if target.quantity == "gap":
            value = next(
                r.mm for r in readings
                if isinstance(r, Gap) and (r.string, r.fret, r.held) == (target.string, target.fret, target.held)  # type: ignore[attr-defined]
            )  # fmt: skip
        else:
            pitch = {
                r.fret: r.cents or 0.0 for r in readings if isinstance(r, Pitch) and r.string == target.string
            }
            value = pitch[12] - pitch[0]
        found.append(value - target_kind(target).wanted(target))
    return found


def _thumb_round(bench: Bench, targets: tuple[Target, ...], off: list[float], per_turn_mm: float) -> bool:
    """Do one round; return whether anything was out as read."""
    wrong = [(t, o) for t, o in zip(targets, off, strict=True) if abs(o) > target_kind(t).tolerance(t) + 1e-9]
    relief = [o for t, o in zip(targets, off, strict=True) if t.quantity == "gap" and len(t.held) == 2]  # type: ignore[attr-defined]
    if any(t.quantity == "gap" and len(t.held) == 2 for t, _ in wrong) and per_turn_mm:  # type: ignore[attr-defined]
        turns = np.round(-float(np.mean(relief)) / per_turn_mm * 8) / 8
        if turns:
            bench.do(RodTurn(turns=float(np.clip(turns, -1.5, 1.5))))
    for target, error in wrong:
        if target.quantity == "intonation":
            mm = error * bench.one.length_mm / 2.0 * np.log(2.0) / 1200.0
            bench.do(SaddlePosition(string=target.string, mm=float(np.clip(mm, -8, 8))))
        elif len(target.held) == 1 and target.held[0] > target.fret:  # type: ignore[attr-defined]
            bench.do(NutSlot(string=target.string, mm=-max(error, 0.0)))
        elif len(target.held) == 1:  # type: ignore[attr-defined]
            bench.do(SaddleHeight(string=target.string, mm=-2.0 * error))
    return bool(wrong)
