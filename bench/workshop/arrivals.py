"""Instruments as they come in: out here and there, some sound, some with a twist, a hump or a rising tongue."""

import numpy as np

from bench.workshop import figures, patterns
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.sizes import instrument_of, is_loose
from bench.workshop.wanted import Array, asked_for, figure_of, out_by_truth, wanted_of
from breakangle.model.instrument import Instrument

RODLESS_RELIEF_MM = 0.02
CUT_BY_HAND = ("one-piece",)
SOUND_RATIO = 0.95  # of every tolerance
MOST_TRIES, ANOTHER_SEED = 60, 1_000_000


def with_crowns(one: WorkshopInstrument, rng: np.random.Generator) -> None:
    """Scatter every crown under every string: finely on most instruments, coarsely on the rest."""
    coarse = rng.random() < figures.COARSE_SHARE
    spread = figures.CROWNS_COARSE_MM if coarse else figures.CROWNS_FINE_MM
    one.crown_mm = rng.normal(0.0, spread, (one.count, one.frets))


def _wanted_mm(one: WorkshopInstrument) -> tuple[float, Array, Array]:
    """Return what is wanted: relief, nut clearances and actions in mm; a place without a target takes the usual."""
    relief, low, high, nut_low, nut_high = figures.WANTED_MM[one.instrument.kind]
    del low, high
    share = np.clip((1.0 - one.sides) / 2.0, 0.0, 1.0)
    nut = nut_high + (nut_low - nut_high) * share
    action = np.zeros(one.count)
    for target in wanted_of(one):
        if figure_of(target) == "action":
            action[target.string - 1] = asked_for(target)
    return relief, np.asarray(nut), action


def put_right(one: WorkshopInstrument, rng: np.random.Generator, spread_mm: float = 0.03) -> None:
    """Set everything near what is wanted, inside all tolerances: nut within 0.03 mm, the rest by `spread_mm`."""
    relief, nut, action = _wanted_mm(one)
    near = np.clip(rng.normal(0.0, 1.0, 3 * one.count + 1), -2.0, 2.0)
    one.set_relief(relief + near[-1] * spread_mm * 0.5)
    _set_ends(one, nut + 0.012 * near[: one.count], action + spread_mm * near[one.count : 2 * one.count], rng)
    one.set_intonation(0.6 * near[2 * one.count : -1])


def _set_ends(one: WorkshopInstrument, nut: Array, action: Array, rng: np.random.Generator) -> None:
    one.set_ends(nut, action)
    if one.instrument.nut.kind == "zero-fret":
        one.nut_mm = rng.normal(0.02, 0.012, one.count)
        held = one.nut_mm.copy()
        one.set_ends(nut, action)
        one.nut_mm = held
    if one.instrument.bridge.kind == "two-post":
        # Two posts carry one bar: its own shape is all that a string can differ by.
        line = np.polyfit(one.sides, one.saddle_mm, 2)
        one.saddle_mm = np.polyval(line, one.sides) + rng.normal(0.0, 0.02, one.count)


def _out_here_and_there(one: WorkshopInstrument, rng: np.random.Generator) -> None:
    """Put the instrument out as instruments come in; a saddle cut by hand cannot rise, so it mostly stands high."""
    relief, nut, action = _wanted_mm(one)
    kind = one.instrument.bridge.kind
    by_hand = kind in CUT_BY_HAND
    level = rng.uniform(0.02, 0.7) if by_hand else rng.uniform(-0.3, 0.7)
    tilt = rng.normal(0.0, 0.10) * one.sides
    own = rng.normal(0.0, 0.05 if by_hand or kind == "two-post" else 0.10, one.count)
    least = -0.05 if by_hand else -0.45
    # Without a rod nobody mends relief in a set-up: such necks come in as they were made.
    off = rng.normal(0.04, 0.14) if one.instrument.rod.kind != "none" else rng.normal(0.0, RODLESS_RELIEF_MM)
    one.set_relief(max(relief + off, 0.01))
    touched = rng.random(one.count) < 0.6
    high = np.where(touched, np.abs(rng.normal(0.0, 0.08, one.count)), rng.normal(0.0, 0.012, one.count))
    _set_ends(one, nut + high, action + np.maximum(level + tilt + own, least), rng)
    spread = 1.5 if by_hand and not is_loose(one.instrument) else 3.5
    common = rng.normal(0.0, 6.0) if is_loose(one.instrument) else 0.0
    shape = 1.5 if is_loose(one.instrument) else spread
    one.set_intonation(common + rng.normal(0.0, shape, one.count))


def _with_body_joint(one: WorkshopInstrument, rng: np.random.Generator) -> None:
    if rng.random() < 0.5:
        patterns.hump(one, rng.uniform(0.05, 0.20))
    else:
        patterns.rising_tongue(one, rng.uniform(0.10, 0.50))


def _hands(one: WorkshopInstrument, rng: np.random.Generator) -> None:
    one.screw_ratio = 1.0 + rng.normal(0.0, figures.SCREW_RATIO_SD, one.count)
    one.post_ratio = 1.0 + rng.normal(0.0, figures.SCREW_RATIO_SD, 2)


def blank(
    kind: str | Instrument, seed: int, bridge_kind: str | None = None, zero_fret: bool = False
) -> WorkshopInstrument:
    """Return an instrument with crowns as crowns are, without any pattern, set up as wanted.

    `kind` is a family, or an instrument of one in sizes of its own.
    """
    rng = np.random.default_rng(figures.FIRST_SEED + seed)
    shape = (
        kind
        if isinstance(kind, Instrument)
        else instrument_of(kind, bridge_kind=bridge_kind, zero_fret=zero_fret)
    )
    one = WorkshopInstrument(shape, rng)
    with_crowns(one, rng)
    _hands(one, rng)
    put_right(one, rng)
    return one


def sound(
    kind: str | Instrument, seed: int, bridge_kind: str | None = None, zero_fret: bool = False
) -> WorkshopInstrument:
    """Return an instrument on which everything wanted is well inside, without any pattern."""
    for again in range(MOST_TRIES):
        one = blank(kind, seed + again * ANOTHER_SEED, bridge_kind, zero_fret)
        if out_by_truth(one, wanted_of(one)).max() <= SOUND_RATIO:
            break
    return one


def arrival(
    kind: str | Instrument,
    seed: int,
    bridge_kind: str | None = None,
    zero_fret: bool = False,
    patterned: bool = True,
) -> WorkshopInstrument:
    """Return an instrument as it comes in; with `patterned` 15 in 100 have a twist, 15 a hump or a rising tongue."""
    one = blank(kind, seed, bridge_kind, zero_fret)
    rng = one.rng
    if patterned and rng.random() < figures.TWIST_SHARE:
        patterns.twist(one, float(rng.choice([-1.0, 1.0]) * rng.uniform(0.04, 0.16)))
    if patterned and rng.random() < figures.BODY_JOINT_SHARE:
        _with_body_joint(one, rng)
    if rng.random() < figures.SOUND_SHARE:
        put_right(one, rng)
    else:
        _out_here_and_there(one, rng)
    one.open_cents = rng.normal(0.0, 6.0, one.count)
    return one


def months_later(one: WorkshopInstrument, seed: int) -> None:
    """Change the instrument in place, as half a year would: season, wear, an owner's hand, new strings of one make."""
    rng = np.random.default_rng(figures.SEASON_SEED + seed)
    one.bow_mm += rng.normal(0.0, 0.11)
    wooden = one.instrument.bridge.kind in ("one-piece", "two-post")
    one.saddle_mm = (
        one.saddle_mm + rng.normal(0.0, 0.06 if wooden else 0.01) + rng.normal(0.0, 0.015, one.count)
    )
    one.nut_mm = one.nut_mm - np.abs(rng.normal(0.0, 0.004, one.count))
    one.crown_mm[:, :5] -= np.abs(rng.normal(0.0, 0.003, (one.count, 5)))
    one.setback_mm = one.setback_mm + rng.normal(0.0, 0.2, one.count)
    if is_loose(one.instrument):
        one.setback_mm = one.setback_mm + rng.normal(0.0, 0.8)
    one.string(rng)
    one.open_cents = rng.normal(0.0, 6.0, one.count)
