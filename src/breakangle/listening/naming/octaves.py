"""Harmonic or fretted octave: what the open string heard beside them tells, and when nothing tells.

A natural harmonic at the octave is partial 2 of the open string, within about a cent; a fretted octave lies where
the board and the saddle put it, often some cents away, but on a well set string just there as well.
Source: Fletcher (1964), J. Acoust. Soc. Am. 36, 203: f_2 / f_1 = 2 sqrt((1 + 4 B) / (1 + B)).
"""

from collections.abc import Sequence
from math import ceil
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.naming.intonation import Heard, octave_from_open

FloatArray = NDArray[np.float64]
Kind = Literal["open", "harmonic", "fretted"]
# One note as judged here: its kind and how it was measured, None for a kind or a take that does not matter.
Note = tuple[Kind, Heard] | None

# Where nothing else is said below: common practice, no source.
HARMONIC_SPREAD_CENTS = 1.2
# A fretted twelfth as instruments come in, sharp a little and kept wide: common practice, no source.
FRETTED_SHARP_CENTS, FRETTED_SPREAD_CENTS, FRETTED_COST = 2.0, 8.0, 1.0
NO_HARMONIC_COST = 2.5
# How far an open string may move until its harmonic is plucked, and how many spreads are no chance.
DRIFT_CENTS, SURE_SPREADS = 1.0, 3.0
TELLING_SHARE = 1 / 3
ORDINARY: tuple[Kind, ...] = ("open", "harmonic", "fretted")  # as every whole sequence is asked for


def octave_cost(kind: Kind, away_cents: FloatArray) -> FloatArray:
    """Cost (pure number) of a harmonic or a fretted octave that far from the open string's partial 2, in cents;
    shape of `away_cents`."""
    fretted = 0.5 * ((away_cents - FRETTED_SHARP_CENTS) / FRETTED_SPREAD_CENTS) ** 2
    if kind == "fretted":
        return np.asarray(fretted + FRETTED_COST)
    return np.asarray(
        np.minimum(0.5 * (away_cents / HARMONIC_SPREAD_CENTS) ** 2, fretted + FRETTED_COST + NO_HARMONIC_COST)
    )


def untold(strings: Sequence[Sequence[Note]]) -> list[bool]:
    """Whether harmonic and fretted octave of each string may have been taken for each other.

    A string's own sound tells where what is called fretted lies clear of the open string's partial 2 and what is
    called harmonic lies on it. Where all lie on it, as on a well set string, the order tells: the one that is asked
    for, or another in which a third of the strings were told by their sound; else nothing does.

    Args:
        strings: of each string its open, harmonic and fretted octave notes in the order played.
    """
    orders = [_order(notes) for notes in strings]
    told = [_told_by_sound(notes) for notes in strings]
    answer = []
    for order, sound, notes in zip(orders, told, strings, strict=True):
        alike = [one for one, other in zip(told, orders, strict=True) if other == order]
        telling = order == ORDINARY or alike.count(True) >= max(1, ceil(TELLING_SHARE * len(alike)))
        by_order = sound is None and telling
        octaves = any(kind != "open" for kind, _ in _measured(notes))
        answer.append(octaves and sound is not True and not by_order)
    return answer


def _measured(notes: Sequence[Note]) -> list[tuple[Kind, Heard]]:
    return [one for one in notes if one is not None]


def _order(notes: Sequence[Note]) -> tuple[Kind, ...]:
    """Kinds in the order played, each repeat once."""
    kinds = [kind for kind, _ in _measured(notes)]
    return tuple(kind for at, kind in enumerate(kinds) if at == 0 or kinds[at - 1] != kind)


def _told_by_sound(notes: Sequence[Note]) -> bool | None:
    """True: the sound fits the names and no others; False: it does not fit; None: harmonic and fretted lie
    together, or two fretted notes so far apart that one may be the harmonic of a string that moved."""
    aways = {"harmonic": _aways(notes, "harmonic"), "fretted": _aways(notes, "fretted")}
    if any(away is None for found in aways.values() for away in found):
        return False
    clear = {kind: [abs(c) > most for c, most in filter(None, found)] for kind, found in aways.items()}
    if any(clear["harmonic"]):
        return False
    if not clear["harmonic"] and clear["fretted"]:
        cents = [c for c, _ in filter(None, aways["fretted"])]
        if max(cents) - min(cents) > max(most for _, most in filter(None, aways["fretted"])):
            return False
    return True if clear["fretted"] and all(clear["fretted"]) else None


def _aways(notes: Sequence[Note], kind: Kind) -> list[tuple[float, float] | None]:
    """Cents of each note of that kind from partial 2 of the open string heard nearest to it, and the most that may
    be chance; None without an open string."""
    opens = [at for at, note in enumerate(notes) if note is not None and note[0] == "open"]
    found: list[tuple[float, float] | None] = []
    for at, note in enumerate(notes):
        if note is None or note[0] != kind:
            continue
        if not opens:
            found.append(None)
            continue
        # Of two as near, the one before: the note was played after it.
        nearest = notes[min(opens, key=lambda other: (abs(other - at), other))]
        assert nearest is not None
        truth = octave_from_open([nearest[1]])
        cents = 1200 * float(np.log2(note[1].partial_one_hz / truth.hz))
        spread = float(np.hypot(truth.uncertainty_cents, note[1].uncertainty_cents))
        found.append((cents, max(DRIFT_CENTS, SURE_SPREADS * spread)))
    return found
