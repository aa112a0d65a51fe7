"""How loud each string comes through for the same stroke: what the microphone or pickup hears, the hand divided out.

A stroke leaves a string with the energy E = T h²/(2 L p (1 − p)), h being the displacement at the share p of the length
(derived: the work of pulling a taut string aside). What is heard at the pluck, against that, is the string's own way to
the ear: pickup and its poles, bridge, body.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from breakangle.listening.naming.naming import Name
from breakangle.listening.pitch.measure import Pitch
from breakangle.model.words.speech import tr
from breakangle.planning.state.board import Board
from breakangle.services.listening.strokes import PlayedStroke

# Where nothing else is said below: chosen; no source.
FEWEST_STRINGS = 3
FELT_DB = 3.0  # between strings of one instrument; common practice, no source
DB_PER_NEPER = 20.0 / np.log(10.0)  # exact


@dataclass(frozen=True)
class StringLoudness:
    """One string: dB above the middle of all strings for the same stroke, and its standard uncertainty in dB."""

    string: int
    db: float
    spread_db: float

    @property
    def stands_out(self) -> bool:
        """Whether it is surely louder or softer than the others by what is felt."""
        return abs(self.db) - 2.0 * self.spread_db > FELT_DB

    def words(self) -> str:
        """What was heard, and what to do."""
        way = tr("louder") if self.db > 0 else tr("softer")
        told = tr(
            "String {string}: {db:.1f} dB {way} than the middle of all, ± {spread_db:.1f}",
            string=self.string,
            db=abs(self.db),
            way=way,
            spread_db=self.spread_db,
        )
        if not self.stands_out:
            return told
        turn = tr("lower") if self.db > 0 else tr("raise")
        return tr(
            "{told}; {turn} its pole, or the pickup on that side; on an acoustic look at its saddle and slot",
            told=told,
            turn=turn,
        )

    def to_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "string": self.string,
            "db": round(self.db, 1),
            "uncertainty_db": round(self.spread_db, 1),
            "stands_out": self.stands_out,
        }


def loudness_of(
    takes: Iterable[tuple[Pitch | None, Name | None, PlayedStroke | None]], board: Board | None
) -> tuple[StringLoudness, ...]:
    """How loud open strings are against each other, by string; none where fewer than three were heard well enough.

    Args:
        takes: pitch, name and stroke of each, of one recording made in one place.
        board: the instrument's strings.
    """
    heard: dict[int, list[tuple[float, float]]] = {}
    for pitch, name, stroke in takes:
        if pitch is None or name is None or stroke is None or board is None:
            continue
        if name.fret == 0 and name.harmonic is None and stroke.stroke.sure:
            heard.setdefault(name.string, []).append(
                _level(pitch, stroke, float(board.tension_n[name.string - 1]))
            )
    if len(heard) < FEWEST_STRINGS:
        return ()
    level = {string: float(np.median([db for db, _ in rows])) for string, rows in heard.items()}
    spread = {
        string: float(np.median([own for _, own in rows]) / np.sqrt(len(rows)))
        for string, rows in heard.items()
    }
    middle = float(np.median(list(level.values())))
    return tuple(StringLoudness(string, level[string] - middle, spread[string]) for string in sorted(level))


def _level(pitch: Pitch, stroke: PlayedStroke, tension_n: float) -> tuple[float, float]:
    """Level at the pluck against the stroke's energy, in dB, and its standard uncertainty."""
    one = stroke.stroke
    power = float(np.sum(np.abs(pitch.solution.lines) ** 2))
    share = one.point.middle
    energy_mj = tension_n * one.height_mm**2 / (2.0 * one.length_mm * share * (1.0 - share))
    relative = (one.high_mm - one.low_mm) / (2 * 1.96 * one.height_mm)
    return float(10.0 * np.log10(power / energy_mj)), float(DB_PER_NEPER * relative)
