"""The strings of a kind as text, one a line: `E5 0.279 mm plain-steel course 1`, string 1 first."""

from collections.abc import Sequence
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.kind.string import String
from breakangle.model.measure import INCH_MM
from breakangle.model.typed_number import whole_within
from breakangle.model.words.speech import tr
from breakangle.reference.strings import make, makes
from breakangle.services.typed_values.sizes import gauge_mm

MOST_STRINGS = 18  # as a service file has them
WORDS = ("core", "wrap", "course", "fret")


def strings_text(strings: Sequence[String], own_unit: str = "mm") -> str:
    """Return the strings as lines, string 1 first."""
    return "\n".join(_line(one, own_unit) for one in sorted(strings, key=lambda one: one.string))


def strings_typed(text: str, own_unit: str, usual: Sequence[String]) -> list[dict[str, Any]]:
    """Return the strings that lines describe, string 1 first: note, diameter, make, then what else a string has.

    `core 0.4`, `wrap phosphor-bronze`, `course 2` (strings of one course sound together), `fret 5` (its nut is there).

    Raises:
        CorrectInputError: a line that cannot be read, with its number and what would be right.
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if not 1 <= len(lines) <= MOST_STRINGS:
        raise CorrectInputError(
            tr("strings: {count} lines", count=len(lines)),
            tr("from 1 to {most}, one for each string", most=MOST_STRINGS),
            "",
        )
    near = {one.string: one.diameter_mm for one in usual}
    return [_string(number, line, own_unit, near.get(number)) for number, line in enumerate(lines, 1)]


def _line(one: String, own_unit: str) -> str:
    size = [f"{mm:g} mm" if own_unit == "mm" else f"{mm / INCH_MM:.4g} in" for mm in (one.diameter_mm,)]
    parts = [one.note, *size, one.make]
    if one.core_mm is not None:
        parts += ["core", f"{one.core_mm:g} mm" if own_unit == "mm" else f"{one.core_mm / INCH_MM:.4g} in"]
    if one.wrap is not None:
        parts += ["wrap", one.wrap]
    if one.course is not None and one.course != one.string:
        parts += ["course", str(one.course)]
    if one.nut_at_fret:
        parts += ["fret", str(one.nut_at_fret)]
    return " ".join(parts)


def _string(number: int, line: str, own_unit: str, near_mm: float | None) -> dict[str, Any]:
    parts = line.split()
    at = next((index for index, part in enumerate(parts) if part in makes()), None)
    if at is None or at < 2:
        raise _wrong(number, line)
    note, size = parts[0], " ".join(parts[1:at])
    found: dict[str, Any] = {"string": number, "note": note, "make": parts[at]}
    told, word = dict[str, list[str]](), ""
    for part in parts[at + 1 :]:
        if part in WORDS:
            word = part
            told[word] = []
        elif not word:
            raise _wrong(number, line)
        else:
            told[word].append(part)
    try:
        found["diameter_mm"] = round(gauge_mm(size, own_unit, near_mm), 4)
        if "core" in told:
            found["core_mm"] = round(gauge_mm(" ".join(told["core"]), own_unit), 4)
    except CorrectInputError as cause:
        raise CorrectInputError(
            tr("string {number}: {said}", number=number, said=cause.given), cause.possible, cause.remedy
        ) from cause
    if "wrap" in told:
        found["wrap"] = " ".join(told["wrap"])
    for word, name in (("course", "course"), ("fret", "nut_at_fret")):
        if word in told:
            whole = whole_within(" ".join(told[word]), 0, 36)
            if whole is None:
                raise _wrong(number, line)
            found[name] = whole
    if not make(parts[at]).wound:
        found.pop("core_mm", None)
        found.pop("wrap", None)
    return found


def _wrong(number: int, line: str) -> CorrectInputError:
    return CorrectInputError(
        tr('string {number} is "{line}"', number=number, line=line[:60]),
        tr(
            "note, diameter, make, then what else it has: E2 1.168 mm wound-steel core 0.457 mm "
            "wrap nickel-plated-steel"
        ),
        tr("makes are {makes}", makes=", ".join(makes())),
    )
