"""What truly happens when a workshop instrument gets other strings: pull, neck, slots and grooves by rules of its own.

The neck bends in its own shape by its own give under the true change of pull. Slots are U-shaped, of their own width
and depth, or V-shaped. All spreads are common practice, no source.
"""

import numpy as np

from bench.workshop.instrument import WorkshopInstrument
from breakangle.model.instrument import Instrument, String
from breakangle.reference.families import family
from breakangle.reference.gauges import usual_diameters_mm

SET_RATIOS = (0.9, 0.95, 1.0, 1.06, 1.12)
OWN_RATIO_SD = 0.015
PULL_AGAIN_SD = 0.01  # of a fresh string of the same size
V_SHAPED_SHARE, V_DEGREES = 0.3, (45.0, 80.0)
WIDER_MM, DEEP_RATIO = (0.02, 0.10), (0.5, 0.8)
SEAT_SD_MM, BREAK_SD_MM, GROOVE_RATIO = 0.008, 0.08, 0.3


def another_set(instrument: Instrument, rng: np.random.Generator) -> tuple[String, ...]:
    """Return a set of other sizes from the trade's, all heavier or all lighter, each its own way; or the same again."""
    factor = float(rng.choice(SET_RATIOS))
    found = []
    for string in instrument.in_order():
        wanted = string.diameter_mm * factor * np.exp(rng.normal(0, OWN_RATIO_SD) if factor != 1.0 else 0.0)
        sizes = np.array(usual_diameters_mm(string.make))
        size = string.diameter_mm if factor == 1.0 else float(sizes[np.abs(np.log(sizes / wanted)).argmin()])
        core = None if string.core_mm is None or size != string.diameter_mm else string.core_mm
        found.append(string.model_copy(update={"diameter_mm": size, "core_mm": core}))
    return tuple(found)


def string_anew(one: WorkshopInstrument, new: tuple[String, ...], rng: np.random.Generator) -> None:
    """Put `new` on and tune; changes the instrument in place."""
    old, before = one.instrument.in_order(), np.array([wire.pull_n for wire in one.strung])
    load = family(one.instrument.kind).priors.relief_mm_per_n
    shape = (load.mean / load.sd) ** 2
    give = rng.gamma(shape, load.mean / shape)
    v_degrees = rng.uniform(*V_DEGREES) if rng.random() < V_SHAPED_SHARE else None
    deep, groove = rng.uniform(*DEEP_RATIO), rng.uniform(0.0, GROOVE_RATIO)
    one.instrument = one.instrument.model_copy(update={"strings": new})
    one.string(rng)
    after = np.array([wire.pull_n for wire in one.strung])
    same = np.array([was == now for was, now in zip(old, new, strict=True)])
    after = np.where(same, before * np.exp(rng.normal(0.0, PULL_AGAIN_SD, one.count)), after)
    one.bow_mm += give * float((after - before).sum())
    for s, (was, now) in enumerate(zip(old, new, strict=True)):
        if one.instrument.nut.kind == "nut":
            width = was.diameter_mm + rng.uniform(*WIDER_MM)
            higher = _higher_mm(was.diameter_mm, now.diameter_mm, width, deep * was.diameter_mm, v_degrees)
            one.nut_mm[s] += higher + rng.normal(0.0, SEAT_SD_MM)
        wedge = groove * _wedge_mm(was.diameter_mm, now.diameter_mm, 60.0)
        one.saddle_mm[s] += wedge + rng.normal(0.0, SEAT_SD_MM)
        one.setback_mm[s] += rng.normal(0.0, BREAK_SD_MM)
    one.open_cents = rng.normal(0.0, 1.0, one.count)


def _wedge_mm(was_mm: float, now_mm: float, degrees: float) -> float:
    return float((now_mm - was_mm) / 2.0 * (1.0 / np.sin(np.radians(degrees) / 2.0) - 1.0))


def _higher_mm(
    was_mm: float, now_mm: float, width_mm: float, deep_mm: float, v_degrees: float | None
) -> float:
    """Return how much higher the new string's underside lies in the nut."""
    if v_degrees is not None:
        return 0.5 * _wedge_mm(was_mm, now_mm, v_degrees)
    if now_mm <= width_mm:
        return 0.0
    thick = now_mm / 2.0
    deep = max(deep_mm, width_mm / 2.0)
    return float(deep + np.sqrt(thick**2 - (width_mm / 2.0) ** 2) - thick)
