"""Gap: from the top of a crown to the underside of the string, with any frets held. Every height reading."""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Annotated, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Reading, Target
from breakangle.model.words.noun import Between, FretNumber, Noun, UncertaintyMm
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.kind import Prediction, ReadingKind
from breakangle.planning.state.board import Board
from breakangle.planning.state.crowns import left_out_mm
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
Held = Annotated[tuple[Annotated[int, Between(1, 36, "", whole=True)], ...], Field(max_length=4)]
# Where nothing else is said below: common practice, no source.
GAUGE_SPREAD_MM = 0.03  # feeler or ruler, one standard deviation; common practice, no source
CROWN_WEAR_MM = 0.005  # crowns differ along their own length; common practice, no source
# "Nothing" stands for anything from zero to about a fifth of a millimetre below it.
RESTING_MM, RESTING_SPREAD_MM = -0.06, 0.05
# Chosen.
PAST_ALL = 99  # a fret that no board has
NUT_READING_REACH = 2  # a gap between nut and the first held fret is a clearance at the nut


class HeldFrets(Noun):
    """The frets pressed while a gap is read."""

    fret: FretNumber
    held: Held = ()

    @model_validator(mode="after")
    def _sensible(self) -> Self:
        allowed = ""
        if list(self.held) != sorted(set(self.held)):
            allowed = tr("different frets in rising order")
        elif self.fret in self.held:
            allowed = tr(
                "frets other than {fret}, where the gap is read (a pressed string has no gap)", fret=self.fret
            )
        if allowed:
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": allowed, "key": "held"})
        return self


def pressed(one: HeldFrets) -> tuple[bool, bool]:
    """Return whether a reading or target holds a fret toward the nut, and one toward the saddle, of its own fret."""
    held = one.held
    return (held[0] < one.fret, held[-1] > one.fret) if held else (False, False)


def is_gap(one: Reading | Target) -> bool:
    """Return whether a reading or target is a gap."""
    return one.quantity == "gap"


class Gap(HeldFrets, Reading):
    """A gap in mm at `fret` of `string`, with the frets in `held` pressed."""

    quantity: Literal["gap"] = "gap"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(-1.0, 15.0, "mm")]
    uncertainty_mm: UncertaintyMm | None = None

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have, held frets included."""
        yield from super().misfits(instrument)
        yield from held_misfits(self, instrument)


def held_misfits(reading: HeldFrets, instrument: Instrument) -> Iterator[tuple[str, str]]:
    """Yield (key, what is allowed) where a held fret is not on this instrument, or leaves no gap to read."""
    if any(fret > instrument.frets for fret in reading.held):
        yield "held", tr("frets from 1 to {frets}", frets=instrument.frets)
        return
    string = min(reading.string, len(instrument.strings))  # type: ignore[attr-defined]
    own_nut = instrument.in_order()[string - 1].nut_at_fret
    if own_nut and any(fret <= own_nut for fret in reading.held):
        yield (
            "held",
            tr("frets above {own_nut}, where string {string} begins", own_nut=own_nut, string=string),
        )
        return
    reach = own_nut + NUT_READING_REACH
    if reading.held and reading.held[0] > reading.fret > reach:
        yield "held", tr("at least one fret below {fret}, where the gap is read, or none", fret=reading.fret)


def predict(readings: Sequence[HeldFrets], picture: Picture) -> Prediction:
    """Return what these gaps should read; `readings` are anything with string, fret and held.

    Where the string lies on the crown under the gap it is the straight string's, below nothing: a reading of nothing
    tells that a straight string would not clear the crown.
    """
    return _predicted(readings, picture, bent_back=False)


def predict_straight(readings: Sequence[HeldFrets], picture: Picture) -> Prediction:
    """Return as `predict`, but of a string that lies on crowns to either side how far a straight one would be below.

    Such a string all but touches the crown between, however far the neck is bent back.
    """
    return _predicted(readings, picture, bent_back=True)


def predict_chord(readings: Sequence[HeldFrets], picture: Picture) -> Prediction:
    """Return the gaps of strings that are straight between what holds them, whatever crowns stand in their way.

    A string that lies on a crown farther on does not rise from where it is read until its saddle has lifted it clear.
    """
    return _predicted(readings, picture, bent_back=True, chord=True)


def _places(readings: Sequence[HeldFrets]) -> tuple[Indices, Indices, Indices, Indices]:
    """Return string (from 0), fret, and the frets held to its left (0: none) and right (past all: none) of each."""
    # By where they are read alone: what was read there differs between instruments, which would fill the cache.
    return _held(tuple((one.string, one.fret, tuple(one.held)) for one in readings))  # type: ignore[attr-defined]


@lru_cache(maxsize=1024)
def _held(
    places: tuple[tuple[int, int, tuple[int, ...]], ...],
) -> tuple[Indices, Indices, Indices, Indices]:
    """Return the same of strings (from 1), frets, and the frets held."""
    left = [max([one for one in held if one < fret], default=0) for _, fret, held in places]
    right = [min([one for one in held if one > fret], default=PAST_ALL) for _, fret, held in places]
    string = [string - 1 for string, _, _ in places]
    found = np.array([string, [fret for _, fret, _ in places], left, right], dtype=np.intp)
    found.flags.writeable = False
    return found[0], found[1], found[2], found[3]


def _predicted(
    readings: Sequence[HeldFrets], picture: Picture, bent_back: bool, chord: bool = False
) -> Prediction:
    """Return the gaps; with `bent_back` the straight string's where that would not clear; with `chord` everywhere."""
    string, fret, held_left, held_right = _places(readings)
    left = np.maximum(held_left, picture.board.first[string])
    right = np.minimum(held_right, picture.board.fret_count + 1)
    found = picture.gaps_at(string, fret, left, right)
    straight = found.straight_mm < 0.0 if bent_back else found.resting
    straight = np.ones(len(string), dtype=bool) if chord else straight
    rows = picture.gap_rows(
        string, fret, np.where(straight, left, found.left), np.where(straight, right, found.right)
    )
    values = np.where(straight, found.straight_mm, found.gap_mm)
    left_out = _left_out_mm(picture.board, string, fret, left, right)
    return Prediction(values, rows, np.hypot(CROWN_WEAR_MM, left_out), left_out)


def _left_out_mm(board: Board, string: Indices, fret: Indices, left: Indices, right: Indices) -> Array:
    """Return the spread of a gap from crowns whose own part the state leaves out: under it, and held for it."""
    own, along = left_out_mm(board), board.along_mm
    share = (along[string, fret] - along[string, left]) / (along[string, right] - along[string, left])
    variance = (
        own[string, fret] ** 2 + ((1.0 - share) * own[string, left]) ** 2 + (share * own[string, right]) ** 2
    )
    return np.asarray(np.sqrt(variance))


def _candidates(instrument: Instrument) -> list[Reading]:
    middle = instrument.joint_fret // 2
    found: list[Reading] = []
    for one in instrument.in_order():
        first = one.nut_at_fret
        action = min(first + 12, instrument.frets)
        found += [
            Gap(string=one.string, fret=first + 1, held=(first + 3,), mm=0.0),
            Gap(string=one.string, fret=action, held=(first + 1,), mm=0.0),
            Gap(string=one.string, fret=middle, held=(first + 1, instrument.joint_fret), mm=0.0),
        ]
    return [one for one in found if not list(one.misfits(instrument))]


def place(reading: HeldFrets) -> str:
    """Return in words where the gap is read."""
    return _place_of(reading, strings_in_words([reading.string]))  # type: ignore[attr-defined]


def _place_of(reading: HeldFrets, strings: str) -> str:
    """Return in words where such gaps of strings, named in words, are read."""
    return tr("{strings} {along}", strings=strings, along=along(reading))


def along(reading: HeldFrets) -> str:
    """Return in words where along its string the gap is read."""
    held = tr(" and ").join(str(fret) for fret in reading.held)
    taken = (
        tr("with fret {held} held", held=held)
        if len(reading.held) == 1
        else tr("with frets {held} held", held=held)
    )
    where = tr("over fret {fret}", fret=reading.fret)
    return f"{where}, {taken if reading.held else tr('open')}"


def _shown(reading: Reading, value: float, spread: float) -> Reading:
    update = {"mm": round(max(value, 0.0), 3), "uncertainty_mm": round(max(spread, 0.001), 3), "after": 0}
    return reading.model_copy(update=update)


def _value(reading: Reading, board: Board) -> float:
    """Return the reading; a string that lies on the crown tells only that a straight one would not clear it."""
    del board
    mm = float(reading.mm)  # type: ignore[attr-defined]
    return mm if mm > 0.0 else RESTING_MM


def _spread(reading: Reading) -> float:
    spread = float(reading.uncertainty_mm or GAUGE_SPREAD_MM)  # type: ignore[attr-defined]
    return spread if reading.mm > 0.0 else max(spread, RESTING_SPREAD_MM)  # type: ignore[attr-defined]


_ROD = mark("Loosen the rod a little, one move at a time, and read again after each before trusting amounts.")
_NO_ROD = mark("Hold a straight-edge along the frets before trusting amounts.")


def _remark(reading: Reading, instrument: Instrument, strings: str) -> str:
    assert isinstance(reading, Gap)
    if reading.mm > 0.0:
        return ""
    if reading.held and reading.held[0] > reading.fret:
        if instrument.nut.kind == "zero-fret":
            return tr(
                "No gap at {place}: the string lies on the crown. A zero fret as high as the others "
                "leaves next to none; where the open string buzzes it is worn: a new zero fret, or "
                "the frets levelled to it.",
                place=_place_of(reading, strings),
            )
        return tr(
            "No gap at {place}: the string lies on the crown. With relief as it should be the "
            "slot is too deep, and filing makes it worse: fill it or fit a new nut. With a neck "
            "bent back, mend that first.",
            place=_place_of(reading, strings),
        )
    return tr(
        "No gap at {place}: the string lies on the crown, and how far the board stands above "
        "it cannot be read. {no_rod}",
        place=_place_of(reading, strings),
        no_rod=_NO_ROD if instrument.rod.kind == "none" else _ROD,
    )


KIND = ReadingKind(
    name="gap",
    words=mark("gap under a string"),
    unit="mm",
    decimals=2,
    model=Gap,
    how=mark(
        "Slide feelers under the string until the next thicker one would lift it; hold the frets lightly."
    ),
    gauge_spread=GAUGE_SPREAD_MM,
    surprise=0.2,
    value=_value,
    spread=_spread,
    predict=predict,
    shown=_shown,
    candidates=_candidates,
    place=place,
    along=along,
    remark=_remark,
)
