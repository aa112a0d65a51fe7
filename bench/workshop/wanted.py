"""What is wanted of an instrument, figure by figure, and how far the hidden truth is from it."""

import numpy as np
from numpy.typing import NDArray

from bench.workshop import figures
from bench.workshop.instrument import WorkshopInstrument
from breakangle.model.reading import Target
from breakangle.model.service import Targets
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.kinds.targets.intonation import IntonationTarget

Array = NDArray[np.float64]


def wanted_of(one: WorkshopInstrument) -> tuple[Target, ...]:
    """Return every figure that is judged: relief at both edges, then action, intonation and nut of every string."""
    relief, low, high, nut_low, nut_high = figures.WANTED_MM[one.instrument.kind]
    full = [n for n in range(1, one.count + 1) if one.first[n - 1] == 0]
    found: list[Target] = [
        GapTarget(string=n, fret=one.relief_at, held=(1, one.joint), mm=relief,
                  tolerance_mm=figures.RELIEF_TOLERANCE_MM)
        for n in sorted({full[0], full[-1]}, reverse=True)
    ]  # fmt: skip
    for n in range(1, one.count + 1):
        share = float(np.clip((1.0 - one.sides[n - 1]) / 2.0, 0.0, 1.0))
        octave, held = one.octave_fret(n), one.action_held(n)
        action = round(high + (low - high) * share, 3)
        found.append(
            GapTarget(string=n, fret=octave, held=held, mm=action, tolerance_mm=figures.ACTION_TOLERANCE_MM)
        )
        cents = figures.INTONATION_TOLERANCE_CENTS
        found.append(IntonationTarget(string=n, fret=octave, cents=0.0, tolerance_cents=cents))
        if one.first[n - 1] == 0 and one.instrument.nut.kind == "nut":
            nut = round(nut_high + (nut_low - nut_high) * share, 3)
            found.append(
                GapTarget(string=n, fret=1, held=(3,), mm=nut, tolerance_mm=figures.NUT_TOLERANCE_MM)
            )
    return tuple(found)


def targets_of(one: WorkshopInstrument) -> Targets:
    """Return what is wanted as the service file writes it."""
    return Targets(hand="medium", wanted=wanted_of(one))


def figure_of(target: Target) -> str:
    """Return which of the four figures of a set-up it is: relief, action, nut or intonation."""
    if isinstance(target, IntonationTarget):
        return "intonation"
    assert isinstance(target, GapTarget)
    if any(held > target.fret for held in target.held):
        return "relief" if any(held < target.fret for held in target.held) else "nut"
    return "action"


def asked_for(target: Target) -> float:
    """Return the figure wanted, in mm or cents."""
    return float(target.mm if isinstance(target, GapTarget) else target.cents)  # type: ignore[attr-defined]


def tolerance_of(target: Target, wide: bool = False) -> float:
    """Return how far off is still good, in mm or cents; `wide`: as saddles of one piece are counted again."""
    if isinstance(target, GapTarget):
        return target.tolerance_mm
    return figures.WIDE_INTONATION_CENTS if wide else target.tolerance_cents  # type: ignore[attr-defined]


def true_figure(one: WorkshopInstrument, target: Target) -> float:
    """Return what the figure truly is, in mm or cents."""
    if isinstance(target, GapTarget):
        return one.gap_mm(target.string, target.fret, target.held)
    return one.stopped_cents(target.string, target.fret)


def out_by_truth(one: WorkshopInstrument, targets: tuple[Target, ...], wide: bool = False) -> Array:
    """Return by how much every figure is truly off, as a share of its tolerance; up to 1 is inside."""
    return np.array([abs(true_figure(one, t) - asked_for(t)) / tolerance_of(t, wide) for t in targets])
