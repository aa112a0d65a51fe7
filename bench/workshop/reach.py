"""Whether a perfect hand that knows the truth could bring everything inside, within the travel of the adjusters."""

import copy

import numpy as np
from scipy.optimize import linprog

from bench.workshop import figures
from bench.workshop.instrument import CENTS_PER_OCTAVE, WorkshopInstrument
from bench.workshop.sizes import is_loose
from bench.workshop.wanted import Array, figure_of, out_by_truth, tolerance_of, wanted_of
from breakangle.model.reading import Target

SIXTEENTHS = round(figures.MOST_ROD_TURNS * 16)
# Actions a string's height may be aimed at, as shares of the tolerance: a low or a high one may save its intonation.
AIMS = (0.0, -0.9, 0.9)
RELIEF, NO_ROD = "relief past what the rod can do", "relief out on a neck without a rod"


def why_not(one: WorkshopInstrument, wide: bool = False) -> str | None:
    """Return what no hand could mend, in words; None where a perfect one could bring everything inside."""
    targets = wanted_of(one)
    if out_by_truth(one, targets, wide).max() <= 1.0:
        return None
    has_rod = one.instrument.rod.kind != "none"
    reason = RELIEF if has_rod else NO_ROD
    turns = sorted(range(-SIXTEENTHS, SIXTEENTHS + 1), key=abs) if has_rod else [0]
    relief = tuple(target for target in targets if figure_of(target) == "relief")
    for sixteenths in turns:
        turned = copy.deepcopy(one)
        turned.neck.turn(sixteenths / 16.0)
        if out_by_truth(turned, relief).max() > 1.0:
            continue
        found = _ends_not(turned, targets, wide)
        if found is None:
            return None
        reason = found if reason in (RELIEF, NO_ROD) else reason
    return reason


def _ends_not(one: WorkshopInstrument, targets: tuple[Target, ...], wide: bool) -> str | None:
    """Return what nut and bridge cannot mend with the neck as it now is; None where they can. Moves them."""
    for target in targets:
        if figure_of(target) == "nut" and not _filed(one, target):
            return "a nut slot cut too deep"
    actions = [target for target in targets if figure_of(target) == "action"]
    pitches = [target for target in targets if figure_of(target) == "intonation"]
    if one.instrument.bridge.kind == "two-post":
        if not _on_posts(one, actions):
            return "strings that two posts cannot bring inside together"
        return _pitches_not(one, [pitches], wide)
    aimed = []
    for share in AIMS:
        raised = copy.deepcopy(one)
        if all(_raised(raised, target, share) for target in actions):
            aimed.append(raised)
    if not aimed:
        by_hand = one.instrument.bridge.kind == "one-piece"
        return "a saddle too low, which no file raises" if by_hand else "a saddle screw past its travel"
    found = [_pitches_not(raised, [pitches], wide) for raised in aimed]
    return None if None in found else found[0]


def _filed(one: WorkshopInstrument, target: Target) -> bool:
    """File the slot to the figure wanted where it is higher; return whether the figure is then inside."""
    s, held = target.string - 1, target.held  # type: ignore[attr-defined]
    before = float(one.nut_mm[s])
    for _ in range(6):
        off = one.clearance_mm(target.string, target.fret, held) - target.mm  # type: ignore[attr-defined]
        one.nut_mm[s] = min(one.nut_mm[s] - 1.5 * off, before)
    one.nut_mm[s] = max(float(one.nut_mm[s]), before - figures.DEEPEST_SLOT_MM)
    return bool(out_by_truth(one, (target,))[0] <= 1.0)


def _raised(one: WorkshopInstrument, target: Target, share: float) -> bool:
    """Bring a string's action to the figure wanted plus `share` of its tolerance; return whether it is then inside."""
    s = target.string - 1
    down, up = (figures.DEEPEST_SADDLE_CUT_MM, 0.0) if one.instrument.bridge.kind == "one-piece" else (
        figures.SADDLE_SCREW_MM, figures.SADDLE_SCREW_MM
    )  # fmt: skip
    low, high = one.saddle_mm[s] - down, one.saddle_mm[s] + up
    aim = target.mm + share * tolerance_of(target)  # type: ignore[attr-defined]
    for _ in range(6):
        off = one.clearance_mm(target.string, target.fret, target.held) - aim  # type: ignore[attr-defined]
        one.saddle_mm[s] = np.clip(one.saddle_mm[s] - 2.0 * off, low, high)
    return bool(out_by_truth(one, (target,))[0] <= 1.0)


def _nearest_line(sides: Array, values: Array) -> tuple[float, float, float]:
    """Return middle, slope and largest distance of the line over `sides` that stays nearest to all `values`."""
    ones = np.ones_like(sides)
    rows = np.vstack([np.column_stack([ones, sides, -ones]), np.column_stack([-ones, -sides, -ones])])
    found = linprog([0.0, 0.0, 1.0], rows, np.concatenate([values, -values]), bounds=[(None, None)] * 3)
    return float(found.x[0]), float(found.x[1]), float(found.x[2])


def _on_posts(one: WorkshopInstrument, actions: list[Target]) -> bool:
    """Set both posts as well as can be; return whether every action is then inside."""
    for _ in range(3):
        off = np.array([one.clearance_mm(t.string, t.fret, t.held) - t.mm for t in actions])  # type: ignore[attr-defined]
        middle, slope, _ = _nearest_line(one.sides, 2.0 * off)
        one.saddle_mm = one.saddle_mm - middle - slope * one.sides
    return bool(out_by_truth(one, tuple(actions)).max() <= 1.0)


def _pitches_not(one: WorkshopInstrument, pitches: list[list[Target]], wide: bool) -> str | None:
    """Return why the saddles' places cannot bring the octaves inside; None where they can."""
    targets = tuple(pitches[0])
    start = one.setback_mm.copy()
    for target in targets:
        s = target.string - 1
        length = one.scale_mm[s] - one.fret_x[s, one.first[s]]
        for _ in range(5):
            one.setback_mm[s] += (
                one.stopped_cents(target.string, target.fret) * length * np.log(2) / CENTS_PER_OCTAVE
            )
    needed = one.setback_mm - start
    low, high = travel_mm(one)
    slide = np.zeros(one.count)
    if is_loose(one.instrument):
        middle, slope, _ = _nearest_line(one.sides, needed)
        slide = np.clip(middle + slope * one.sides, -figures.SLIDE_MM, figures.SLIDE_MM)
    one.setback_mm = start + slide + np.clip(needed - slide, low, high)
    if out_by_truth(one, targets, wide).max() <= 1.0:
        return None
    by_hand = one.instrument.bridge.position_mm_per_turn is None
    return "intonation past the width of the saddle" if by_hand else "intonation past the screws' travel"


def travel_mm(one: WorkshopInstrument) -> tuple[float, float]:
    """Return how far a string's own saddle can be moved or shaped along the string, toward the nut and away."""
    bridge = one.instrument.bridge
    if bridge.position_mm_per_turn is None:
        return -figures.CROWN_SHAPED_MM, figures.CROWN_SHAPED_MM
    return bridge.position_travel_mm or (-figures.POSITION_SCREW_MM, figures.POSITION_SCREW_MM)
