"""Strengths of play, losses of a string, and classes of buzz; a shop may put its own in the tables' place."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.tables.rows import read_table

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

    def height_mm(self, strength: str) -> float:
        """Height of the string at the pluck, mm.

        Raises:
            CorrectInputError: not light, medium or heavy.
        """
        if strength not in STRENGTHS:
            raise CorrectInputError(
                f"strength {strength!r} is not known", f"known are {', '.join(STRENGTHS)}", "use one of these"
            )
        return float(getattr(self, f"{strength}_mm"))


@dataclass(frozen=True)
class StringLosses:
    """What takes a string's swing: air, bending of the material, and what remains."""

    air_viscosity_pa_s: float
    air_density_kg_per_m3: float
    bending_loss_ratio: float
    other_loss_ratio: float
    source: str


@dataclass(frozen=True)
class BuzzClasses:
    """From which impulse, and from which loss of the low partials, a touch is audible or chokes the note."""

    audible_from_impulse_ratio: float
    choking_from_impulse_ratio: float
    choking_from_loss_ratio: float
    calibrated: bool
    source: str


@dataclass(frozen=True)
class Playing:
    """Everything about playing that contact needs."""

    strengths: Strengths
    losses: StringLosses
    classes: BuzzClasses


@cache
def playing(kind: str) -> Playing:
    """How instruments of this family are played: its own row where there is one, else everyone's."""
    return _playing(read_table("strength"), kind)


def own_playing(path: Path, kind: str) -> Playing:
    """How a shop finds its instruments played, from a file of the tables' form; what it leaves out is ours.

    Raises:
        ChooseAnotherFileError: not a readable file of that form.
        CorrectInputError: a height or a distance that cannot be right.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as cause:
        raise ChooseAnotherFileError(f"{path} cannot be read", "", "name another file") from cause
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as cause:
        raise ChooseAnotherFileError(
            f"{path} is not TOML: {cause}", "a file of the form in the docs"
        ) from cause
    ours = read_table("strength")
    merged = {part: {**ours[part], **table.get(part, {})} for part in ("losses", "classes")}
    rows = {**ours["strengths"], **table.get("strengths", {})}
    if "strengths" in table and kind not in table["strengths"] and EVERY_FAMILY in table["strengths"]:
        rows = {EVERY_FAMILY: table["strengths"][EVERY_FAMILY]}
    try:
        return _playing({**merged, "strengths": rows}, kind)
    except (TypeError, KeyError, ValueError, AttributeError) as cause:
        raise ChooseAnotherFileError(
            f"{path} does not have the keys of a table of strengths ({cause})",
            "a file of the form in the docs",
        ) from cause


def _playing(table: Mapping[str, Any], kind: str) -> Playing:
    rows = table["strengths"]
    found = Playing(
        Strengths(**{"source": "the shop's own", **rows.get(kind, rows[EVERY_FAMILY])}),
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
            f"heights {', '.join(f'{one:g}' for one in given)} mm for light, medium, heavy",
            f"rising heights from {low:g} to {high:g} mm",
        )
    low, high = PLUCK_RANGE_MM
    if not low <= found.pluck_from_saddle_mm <= high:
        raise CorrectInputError(
            f"pluck {found.pluck_from_saddle_mm:g} mm from the saddle", f"from {low:g} to {high:g} mm"
        )
    if found.release not in ("away", "toward"):
        raise CorrectInputError(f"release {found.release!r}", "away from the board, or toward it")
