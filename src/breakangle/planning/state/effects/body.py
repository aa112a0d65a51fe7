"""The body pulls single notes of a string: what is known of it, what a harmonic tells, and what is said.

Known resonances (`instrument.body`) shift what an open, a stopped or a harmonic note should read; the string's own
state, and with it every target, stays what it is on a rigid bridge: a saddle is not set by one note the body pulls.
Without them nothing is reckoned; but where the octave's harmonic was read beside the open note, on a bridge that a top
or a head carries, the open note counts for less, so that the harmonic tells where the string stands.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from breakangle.model.body import Resonance
from breakangle.model.instrument import Instrument
from breakangle.physics.bridge.body_pull import pull_cents, wave_impedance_kg_per_s
from breakangle.planning.state.board import Board
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import family_of

Array = NDArray[np.float64]
OCTAVE = 2  # exact: the harmonic at half the string
# How well a tapped resonance is known at the bridge: its mass is guessed from the ring, its note is read by ear or
# from a spectrum, and moves with humidity; common practice, no source.
MASS_SPREAD_RATIO, HZ_SPREAD_RATIO = 0.3, 0.01
# What a body not known does to an open note, one standard deviation: G3 of a steel set half a semitone off a top of
# .15 kg and Q 30 is pulled by 11 cents, most notes by next to nothing. [derived]; as a spread: judged.
OPEN_SPREAD_CENTS, HARMONIC_SPREAD_CENTS = 6.0, 3.0
NO_PULL = Known(0.0, OPEN_SPREAD_CENTS)  # derived from the spread above
# Where air and top of most guitars sing: 90 to 115 and 170 to 235 Hz; from memory, N. H. Fletcher and T. D. Rossing
# (1998), The Physics of Musical Instruments, 2nd ed., chapter 9.
USUAL_HZ = ((90.0, 115.0), (170.0, 235.0))


class Sounded(Protocol):
    """A note that was read: its string, its fret (0: open), and which harmonic, if one."""

    @property
    def string(self) -> int:
        """Return the string's number."""

    @property
    def fret(self) -> int:
        """Return the fret, 0 for the open string."""

    @property
    def harmonic(self) -> int | None:
        """Return which natural harmonic was played, None for none."""


def carried_by_body(instrument: Instrument) -> bool:
    """Return whether the bridge stands on a thin top or a stretched head, which gives way to the strings."""
    bridge = family_of(instrument).bridge
    return bridge.on_top or bridge.on_head


def resonances(instrument: Instrument) -> tuple[Resonance, ...]:
    """Return the body's resonances, as far as they are known."""
    return instrument.body.resonances if instrument.body is not None else ()


def heard_pulls(instrument: Instrument) -> dict[int, Known]:
    """Return what earlier visits' harmonics told of open notes, by string, as far as the string's note is the same."""
    notes = {one.string: one.note for one in instrument.strings}
    heard = instrument.body.open_pulls if instrument.body is not None else ()
    return {
        one.string: Known(one.cents, one.uncertainty_cents)
        for one in heard
        if notes.get(one.string) == one.note
    }


@dataclass(frozen=True)
class Pulls:
    """How far the body pulls every note in cents and how well that is known: (S, F + 1), fret 0 the open string."""

    cents: Array
    spread_cents: Array
    harmonic_cents: Array
    harmonic_spread_cents: Array


@lru_cache(maxsize=64)
def pulls(board: Board) -> Pulls | None:
    """Return how the body pulls every note and the octave's harmonic (S,); None where no resonance is known."""
    known = resonances(board.instrument)
    if not known:
        return None
    ratio = np.concatenate([np.ones((board.string_count, 1)), np.maximum(board.fret_ratio, 1.0)], axis=1)
    stopped = _spread_over(board, known, board.hz[:, None] * ratio, 1)
    octave = _spread_over(board, known, board.hz[:, None], OCTAVE)
    return Pulls(*stopped, octave[0][:, 0], octave[1][:, 0])


def _spread_over(board: Board, known: Sequence[Resonance], hz: Array, partial: int) -> tuple[Array, Array]:
    """Return the pull of each note (S, ...) and its standard uncertainty."""
    impedance = wave_impedance_kg_per_s(
        tension_n=board.tension_n, unit_mass_g_per_m=[one.unit_mass_g_per_m for one in board.strings]
    )[:, None]

    def at(hz_ratio: float, mass_ratio: float) -> Array:
        return pull_cents(
            fundamental_hz=hz,
            impedance_kg_per_s=impedance,
            resonance_hz=[one.hz * hz_ratio for one in known],
            mass_kg=[one.mass_kg * mass_ratio for one in known],
            quality_ratio=[one.quality_ratio for one in known],
            partial=partial,
        )

    middle = at(1.0, 1.0)
    by_hz = 0.5 * (at(1.0 + HZ_SPREAD_RATIO, 1.0) - at(1.0 - HZ_SPREAD_RATIO, 1.0))
    by_mass = MASS_SPREAD_RATIO * middle
    return middle, np.hypot(by_hz, by_mass)


def pulled(readings: Sequence[Sounded], board: Board) -> tuple[Array, Array] | None:
    """Return by how much the body shifts each of these readings in cents, and its standard uncertainty, (R,) each.

    None where it shifts none, or where nothing is known of it.
    """
    if board.instrument.body is None and all(one.harmonic is None for one in readings):
        return None
    if board.instrument.body is None and not carried_by_body(board.instrument):
        return None
    return _pulled(tuple(readings), board)


@lru_cache(maxsize=256)
def _pulled(readings: tuple[Sounded, ...], board: Board) -> tuple[Array, Array]:
    known, count = pulls(board), len(readings)
    cents, spread = np.zeros(count), np.zeros(count)
    heard = heard_pulls(board.instrument)
    by_harmonic = {one.string for one in readings if one.harmonic == OCTAVE}
    for place, one in enumerate(readings):
        index = one.string - 1
        if known is None and one.fret == 0 and one.harmonic is None and one.string in heard:
            cents[place], spread[place] = heard[one.string].value, heard[one.string].uncertainty
        elif known is None:
            spread[place] = _unknown_spread(one, by_harmonic, float(board.hz[index]))
        elif one.harmonic is None:
            cents[place], spread[place] = known.cents[index, one.fret], known.spread_cents[index, one.fret]
        elif one.harmonic == OCTAVE:
            cents[place], spread[place] = known.harmonic_cents[index], known.harmonic_spread_cents[index]
    cents.flags.writeable = spread.flags.writeable = False
    return cents, spread


def _unknown_spread(one: Sounded, by_harmonic: set[int], open_hz: float) -> float:
    """Return what a body not known may do to a note, in cents: nothing is reckoned unless the harmonic was read."""
    if one.string not in by_harmonic:
        return 0.0
    if one.harmonic == OCTAVE and _usual(OCTAVE * open_hz):
        return HARMONIC_SPREAD_CENTS
    return OPEN_SPREAD_CENTS if one.harmonic is None and one.fret == 0 else 0.0


def _usual(hz: float) -> bool:
    return any(low <= hz <= high for low, high in USUAL_HZ)


def usual_note(board: Board, string: int) -> bool:
    """Return whether the octave's harmonic of an open string lies where many bodies sing themselves."""
    return _usual(OCTAVE * float(board.hz[string - 1]))


def open_pull(
    open_cents: Known, harmonic_cents: Known, stretch_cents: float, before: Known = NO_PULL
) -> Known:
    """Return how far the body pulls an open note, from its pitch and its harmonic's, and what was believed `before`.

    Both in cents from their notes; `stretch_cents`: how far stiffness alone puts the harmonic above.
    """
    here = Known(
        open_cents.value - (harmonic_cents.value - stretch_cents),
        hypot(open_cents.uncertainty, harmonic_cents.uncertainty),
    )
    information, vector = 0.0, 0.0
    for one in (here, before):
        information += 1.0 / one.uncertainty**2
        vector += one.value / one.uncertainty**2
    return Known(vector / information, information**-0.5)
