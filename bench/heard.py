"""From which impulse on a touch is heard: made sounds with and without the crowns, told apart by an ear's model.

Each touching note of every family's set-ups, as wanted and lower, is sounded twice: with the crowns and without. What
the string does to its saddle is the sound; body and room are left out. A touch counts as heard where the excitation in
some critical band rises by `HEARD_DB`, the least that musicians told where single modes or bands of recorded notes of a
string were raised: 3 to 6 dB (C. Fritz, I. Cross, B. C. J. Moore and J. Woodhouse, 2007, Perceptual thresholds for
detecting modifications applied to the acoustical properties of a violin, J. Acoust. Soc. Am. 122, 3640; from memory).
That is more than the 1 dB by which whole sounds can just be told (Zwicker and Fastl, "Psychoacoustics: Facts and
Models", chapter 7, from memory). Bands more than `RANGE_DB` below the loudest are not heard
(common practice, no source).
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "tests"))

from breakangle.physics.contact.collide import Grid, prepare, release
from breakangle.physics.contact.kernel import Compiled
from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.modes import Notes, pluck_shape
from breakangle.planning.buzz.contact_notes import PERIOD_COUNT, board_notes, losses_of, pluck_of
from breakangle.planning.estimate.estimate import estimate
from breakangle.reference.families import HANDS, families, family
from breakangle.reference.strength import Playing, playing
from contact_setups import Array, service

HEARD_DB = 3.0
RANGE_DB = 60.0
EVERY_STEPS = 32
PARTIALS = 120
LOWER_MM = (0.0, 0.4, 0.8)


@dataclass(frozen=True)
class Sounded:
    """Touching notes: impulse ratio, what the swing lacks over its height, the most any band rises, dB."""

    impulse: Array
    lack: Array
    rise_db: Array


def bark(hertz: Array) -> Array:
    """Critical-band rate. Source: Traunmüller (1990), J. Acoust. Soc. Am. 88, 97, from memory."""
    return 26.81 * hertz / (1960.0 + hertz) - 0.53


def excitation(force: Array, rate_hz: Array) -> Array:
    """Excitation (M, 24) in critical bands of forces (M, T) sampled at `rate_hz` (M,).

    Spreading: Schroeder, Atal and Hall (1979), J. Acoust. Soc. Am. 66, 1647, from memory.
    """
    fade = np.cos(np.linspace(0.0, np.pi / 2.0, force.shape[1])) ** 2
    power = np.abs(np.fft.rfft(force * fade, axis=1)) ** 2
    z = bark(np.fft.rfftfreq(force.shape[1])[None, :] * rate_hz[:, None])
    band = np.clip(np.floor(z).astype(int), 0, 24)
    levels = np.array([np.bincount(b, p, 25)[:24] for b, p in zip(band, power, strict=True)])
    apart = np.arange(24)[:, None] - np.arange(24)[None, :] + 0.474
    spread = 10.0 ** ((15.81 + 7.5 * apart - 17.5 * np.sqrt(1.0 + apart**2)) / 10.0)
    return np.asarray(levels @ spread.T)


def rises(notes: Notes, how: Playing, height_mm: Array) -> tuple[Array, Array]:
    """Impulse ratio and most rise in any band, dB, of notes (M,) let go from `height_mm` (M,)."""
    grid = Grid(period_count=PERIOD_COUNT)
    each = np.arange(notes.count)
    prepared = prepare(notes, losses_of(how), grid)
    place = pluck_shape(notes, pluck_of(how), grid.mode_count) * height_mm[:, None] * prepared.kept
    state = release(notes, prepared, each, place)
    k = np.arange(1, PARTIALS + 1)
    weight = k * (-1.0) ** k
    steps = grid.step_count // EVERY_STEPS
    struck, clean = np.empty((notes.count, steps)), np.empty((notes.count, steps))
    runner = Compiled(prepared)
    turn = (lambda c, s: c - 1j * s)(*prepared.turn(EVERY_STEPS))[:, :PARTIALS]
    free = place[:, :PARTIALS].astype(np.complex128)
    for at in range(steps):
        runner.run(notes, state, each, at * EVERY_STEPS, EVERY_STEPS)
        still = ~state.live.any(axis=1)
        free = free * turn
        clean[:, at] = free.real @ weight
        struck[:, at] = np.where(still, clean[:, at], state.place[:, :PARTIALS] @ weight)
    rate = 1e3 / (prepared.step_ms * EVERY_STEPS)
    with_crowns, without = excitation(struck, rate), excitation(clean, rate)
    loud = with_crowns > 10.0 ** (-RANGE_DB / 10.0) * with_crowns.max(axis=1, keepdims=True)
    rise = np.where(loud, 10.0 * np.log10((with_crowns + 1e-300) / (without + 1e-300)), -np.inf).max(axis=1)
    total = state.impulse.sum(axis=1) * prepared.step_ms
    return total / (2.0 * prepared.mass * height_mm * prepared.omega[:, 0]), rise


def sounded(kind: str, quick: bool) -> Sounded:
    """Notes of one family that touch in its wanted set-ups and in lower ones, at every strength."""
    how, found = playing(kind), []
    for hand in HANDS:
        for lower in LOWER_MM[:: 2 if quick else 1]:
            wish = family(kind).target(hand)
            made = service(
                kind=kind,
                low_mm=wish.action_low_mm - lower,
                high_mm=wish.action_high_mm - lower,
                relief_mm=wish.relief_mm,
                nut_mm=wish.nut_low_mm,
            )
            board = board_notes(estimate(made).picture)
            height = how.strengths.height_mm(hand)
            depth = reach(board.notes, pluck_of(how), losses_of(how), np.array([height]), PERIOD_COUNT).depth
            lack = np.nan_to_num(height * depth - board.notes.gap_mm, nan=-np.inf).max(axis=1) / height
            touch = np.flatnonzero((lack > 0.0) & np.all(board.notes.gap_mm > 0.0, axis=1))
            touch = touch[:: 12 if quick else 5]
            if len(touch):
                impulse, rise = rises(board.notes.take(touch), how, np.full(len(touch), height))
                found.append((impulse, lack[touch], rise))
    empty = (np.empty(0),) * 3
    return Sounded(*(np.concatenate(part) for part in zip(empty, *found, strict=True)))


def report(quick: bool = False) -> str:
    every = [sounded(kind, quick) for kind in families()]
    found = Sounded(
        *(np.concatenate([getattr(one, name) for one in every]) for name in Sounded.__annotations__)
    )
    lines = [f"{len(found.lack)} touching notes of {len(every)} families"]
    for name, figure in (("impulse ratio", found.impulse), ("lack over height", found.lack)):
        for heard_db in (1.0, HEARD_DB, 6.0):
            heard = found.rise_db >= heard_db
            limits = np.quantile(figure, np.linspace(0.0, 1.0, 201))
            wrong = [np.sum((figure >= one) != heard) for one in limits]
            best = limits[int(np.argmin(wrong))]
            missed, idle = np.mean(heard & (figure < best)), np.mean(~heard & (figure >= best))
            lines.append(
                f"  {name:<17} rise of {heard_db:g} dB: best limit {best:.4f}; heard below it {100 * missed:.1f} %, "
                f"not heard above it {100 * idle:.1f} %; least heard {figure[heard].min():.4f}"
            )
    return "\n".join(lines)
