"""Strengths of play, losses of a string, and classes of buzz; a shop may put its own in the tables' place."""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.kind.kind_table import KindTable
from breakangle.model.words.speech import tr
from breakangle.reference.rows import read_table

# Where nothing else is said below: chosen: bounds of what can be meant.
STRENGTHS: tuple[str, ...] = ("light", "medium", "heavy")
EVERY_FAMILY = "all"
HEIGHT_RANGE_MM = (0.02, 10.0)
PLUCK_RANGE_MM = (10.0, 500.0)


@dataclass(frozen=True)
class Strengths:
    """Height of the string at the pluck for each strength, mm; where it is plucked; which way let go."""

    light_mm: float
    medium_mm: float
    heavy_mm: float
    pluck_from_saddle_mm: float
    release: str
    source: str
    way: str = ""
    """Way of playing that the heights are worked out from; empty where a shop set them by its own ear."""

    def height_mm(self, strength: str) -> float:
        """Height of the string at the pluck, mm.

        Raises:
            CorrectInputError: not light, medium or heavy.
        """
        if strength not in STRENGTHS:
            raise CorrectInputError(
                tr("strength {strength!r} is not known", strength=strength),
                tr("known are {strengths}", strengths=", ".join(STRENGTHS)),
                tr("use one of these"),
            )
        return float(getattr(self, f"{strength}_mm"))


@dataclass(frozen=True)
class Way:
    """A way of playing: energy that a stroke leaves in a string, mJ, and how much of the swing is toward the board."""

    light_mj: float
    medium_mj: float
    heavy_mj: float
    toward_board_ratio: float
    toward_board_spread_ratio: float
    source: str

    def height_mm(
        self, strength: str, tension_n: float, length_mm: float, saddle_distance_mm: float
    ) -> float:
        """Height over rest at the pluck of a string let go by this way of playing, mm.

        Derived: a string gives by x(L − x)/(T L) per newton, so energy E takes it √(2 E x(L − x)/(T L)) from rest.
        """
        energy_mj = float(getattr(self, f"{strength}_mj"))
        give = saddle_distance_mm * (length_mm - saddle_distance_mm) / (tension_n * length_mm)
        return self.toward_board_ratio * math.sqrt(2.0 * energy_mj * give)


@cache
def ways() -> dict[str, Way]:
    """Every way of playing, by its key."""
    return {key: Way(**row) for key, row in read_table("strength")["ways"].items()}


@dataclass(frozen=True)
class StringLosses:
    """What takes a string's swing: air, and bending of the material and what remains, where a shop sets them for all.

    None: as each string's make has them (`reference.behaviour`).
    """

    air_viscosity_pa_s: float
    air_density_kg_per_m3: float
    source: str
    bending_loss_ratio: float | None = None
    other_loss_ratio: float | None = None


@dataclass(frozen=True)
class BuzzClasses:
    """From when on a touch is heard, and from which impulse or loss of the low partials it chokes the note.

    `heard_from_depth_ratio`: how far the free string would swing below the crown, over the height of the pluck.
    """

    heard_from_depth_ratio: float
    choking_from_impulse_ratio: float
    choking_from_loss_ratio: float
    calibrated: bool
    source: str


@dataclass(frozen=True)
class Playing:
    """Everything about playing that contact needs; `own`: this shop set its strengths by its own ear."""

    strengths: Strengths
    losses: StringLosses
    classes: BuzzClasses
    own: bool = False


@cache
def playing(kind: str) -> Playing:
    """How instruments of this family are played, from its own file."""
    return playing_with(kind, None)


@lru_cache(maxsize=64)
def playing_with(kind: str, made: KindTable | None) -> Playing:
    """How instruments of a kind are played, by the table that a shop made of it; without one, by the family's file."""
    return _playing({**read_table("strength"), "strengths": _rows(kind, made)}, kind)


def played(instrument: Instrument) -> Playing:
    """How this instrument is played: by its player's own strengths where they were heard, else as its family is."""
    usual, own = playing_with(instrument.kind, instrument.kind_table), instrument.playing
    if own is None:
        return usual
    heard = Strengths(
        own.light_mm,
        own.medium_mm,
        own.heavy_mm,
        own.pluck_from_saddle_mm,
        own.release,
        tr("heard as {who} played, {day}", who=own.who, day=own.day),
    )
    return replace(usual, strengths=heard, own=True)


def own_playing(path: Path, kind: str, made: KindTable | None = None) -> Playing:
    """How a shop finds its instruments played, from a file of the tables' form; what it leaves out is ours.

    Raises:
        ChooseAnotherFileError: not a readable file of that form.
        CorrectInputError: a height or a distance that cannot be right.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as cause:
        raise ChooseAnotherFileError(
            tr("{path} cannot be read", path=path), "", tr("name another file")
        ) from cause
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as cause:
        raise ChooseAnotherFileError(
            tr("{path} is not TOML: {cause}", path=path, cause=cause), tr("a file of the form in the docs")
        ) from cause
    ours = read_table("strength")
    if "audible_from_impulse_ratio" in table.get("classes", {}):
        raise ChooseAnotherFileError(
            tr("{path} has audible_from_impulse_ratio", path=path),
            tr(
                "heard_from_depth_ratio: how far the string would swing below a crown, over the height of the pluck"
            ),
            tr("put the new key in its place"),
        )
    merged = {part: {**ours[part], **table.get(part, {})} for part in ("losses", "classes")}
    rows = {**_rows(kind, made), **table.get("strengths", {})}
    if "strengths" in table and kind not in table["strengths"] and EVERY_FAMILY in table["strengths"]:
        rows = {EVERY_FAMILY: table["strengths"][EVERY_FAMILY]}
    given = table.get("strengths", {})
    own = isinstance(given, dict) and bool({kind, EVERY_FAMILY} & set(given))
    try:
        return replace(_playing({**merged, "strengths": rows}, kind), own=own)
    except (TypeError, KeyError, ValueError, AttributeError) as cause:
        raise ChooseAnotherFileError(
            tr("{path} does not have the keys of a table of strengths ({cause})", path=path, cause=cause),
            tr("a file of the form in the docs"),
        ) from cause


def _rows(kind: str, made: KindTable | None) -> dict[str, Any]:
    """Return the rows of strengths there are for a family: everyone's, and its own from its file or a shop's table."""
    own = read_table(f"families/{kind}")["strengths"] if made is None else made.plain()["strengths"]
    return {**read_table("strength")["strengths"], kind: own}


def _playing(table: Mapping[str, Any], kind: str) -> Playing:
    rows = table["strengths"]
    found = Playing(
        Strengths(**{"source": tr("the shop's own"), **rows.get(kind, rows[EVERY_FAMILY])}),
        StringLosses(**table["losses"]),
        BuzzClasses(**table["classes"]),
    )
    _check(found.strengths)
    return found


def _check(found: Strengths) -> None:
    given = [found.height_mm(name) for name in STRENGTHS]
    low, high = HEIGHT_RANGE_MM
    if not all(isinstance(one, float) and low <= one <= high for one in given) or sorted(given) != given:
        raise CorrectInputError(
            tr("heights {given} mm for light, medium, heavy", given=", ".join(f"{one:g}" for one in given)),
            tr("rising heights from {low:g} to {high:g} mm", low=low, high=high),
        )
    low, high = PLUCK_RANGE_MM
    if not low <= found.pluck_from_saddle_mm <= high:
        raise CorrectInputError(
            tr(
                "pluck {pluck_from_saddle_mm:g} mm from the saddle",
                pluck_from_saddle_mm=found.pluck_from_saddle_mm,
            ),
            tr("from {low:g} to {high:g} mm", low=low, high=high),
        )
    if found.release not in ("away", "toward"):
        raise CorrectInputError(
            tr("release {release!r}", release=found.release), tr("away from the board, or toward it")
        )
