"""Frets levelled: metal off crowns, fret by fret and string by string, as a fret map says or as it was done."""

from collections.abc import Iterator
from typing import Annotated, Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.words.noun import Between, Noun
from breakangle.model.words.said import frets_in_words
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.kind import AdjustmentKind, Effect
from breakangle.planning.kinds.move import Move
from breakangle.planning.kinds.readings.gap import is_gap
from breakangle.planning.state.crowns import own_crown_frets
from breakangle.planning.state.layout import OWN_CROWNS
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]
# How near a hand comes to its figure where it reads again after each round; common practice, no source.
FILED_SPREAD_MM = 0.008


class LevelledFret(Noun):
    """What came off the crown of `fret` under each string, mm, string 1 first."""

    fret: Annotated[int, Between(1, 36, "", whole=True)]
    off_mm: Annotated[tuple[Annotated[float, Between(0.0, 1.5, "mm")], ...], Field(max_length=18)]


class FretLevel(Adjustment):
    """Frets levelled and crowned again: `frets` are those that lost metal."""

    adjust: Literal["fret-level"] = "fret-level"
    frets: Annotated[tuple[LevelledFret, ...], Field(min_length=1, max_length=36)]

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have: a fret past its last, another number of strings."""
        for index, one in enumerate(self.frets):
            if one.fret > instrument.frets:
                yield f"frets[{index}].fret", tr("a fret from 1 to {frets}", frets=instrument.frets)
            if len(one.off_mm) != len(instrument.strings):
                yield (
                    f"frets[{index}].off_mm",
                    tr("{count} figures, string 1 first", count=len(instrument.strings)),
                )

    def format_number(self) -> int:
        """Return the number of the service file's form that has this kind."""
        return 2

    def metal_mm(self, strings: int, frets: int) -> Array:
        """Return what came off every crown, mm, shape (S, F)."""
        found = np.zeros((strings, frets))
        for one in self.frets:
            found[:, one.fret - 1] += one.off_mm
        return found


def _effect(adjustment: FretLevel, picture: Picture) -> Effect:
    """Return the crowns lowered: what all strings share and a slope in those, the rest where crowns have their own."""
    layout, board = picture.layout, picture.board
    mean, variance = picture.mean.copy(), np.zeros(layout.size)
    side, own = board.side_ratio, own_crown_frets(board)
    across = np.stack([np.ones_like(side), side], axis=1)[:, : 1 + bool(np.ptp(side) > 0.0)]
    for one in adjustment.frets:
        off = np.array(one.off_mm)
        told = np.linalg.lstsq(across, off, rcond=None)[0]
        mean[layout["crown"][one.fret - 1]] -= told[0]
        if len(told) > 1:
            mean[layout["crown_tilt"][one.fret - 1]] -= told[1]
        variance[layout["crown"][one.fret - 1]] += FILED_SPREAD_MM**2
        for string, rest in enumerate(off - across @ told):
            for slot in np.flatnonzero(own[string] == one.fret):
                mean[layout["crown_own"][string * OWN_CROWNS + slot]] -= rest
    return Effect(mean, np.eye(layout.size), variance)


def _move(adjustment: FretLevel, instrument: Instrument) -> Move:
    del instrument
    return Move(
        mark("Level {frets}, {amount} off at most, and crown again"),
        mark("Levelled {frets}, {amount} off at most, and crowned again"),
        amounts_mm=(max(max(one.off_mm, default=0.0) for one in adjustment.frets),),
        values={"frets": frets_in_words(one.fret for one in adjustment.frets)},
    )


def _dangers(adjustment: Any, instrument: Instrument) -> tuple[str, ...]:
    del adjustment, instrument
    return ("metal-dust", "filing", "waste")


def _verified_by(adjustment: Any, target: Any) -> bool:
    del adjustment
    return is_gap(target)


KIND = AdjustmentKind(
    name="fret-level",
    words=mark("frets levelled"),
    order=7,
    model=FretLevel,
    effect=_effect,
    dangers=_dangers,
    move=_move,
    verified_by=_verified_by,
    # The maker's choice: the fret work says what, the plan of a set-up never files a crown by itself.
    planned=False,
)
