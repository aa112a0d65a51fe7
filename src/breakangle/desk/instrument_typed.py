"""An instrument as it is typed on a form: a family's usual sizes to start from, and every field understood."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from breakangle.desk.example import usual_instrument
from breakangle.model.complaint import complaints
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.measure import INCH_MM, parse_length
from breakangle.tables.families import family

LENGTHS = ("scale_mm", "spread_nut_mm", "spread_bridge_mm")
SCREWS = ("height_mm_per_turn", "position_mm_per_turn")
WHOLE = ("frets", "joint_fret")
OTHER_UNITS = ("mm", "in", "thou")
GAUGE_MM = (0.1, 6.0)
# Lengths that no instrument has would be refused by the model in its own words; here units are told apart.
SENSIBLE_MM = {"scale_mm": (200.0, 1300.0), "spread_nut_mm": (0.0, 150.0), "spread_bridge_mm": (0.0, 150.0)}
RADIUS_MM, TURN_MM, POST_MM = (50.0, 5000.0), (0.05, 3.0), (2.0, 30.0)


def usual_typed(kind: str) -> Instrument:
    """Return an instrument of the family in its usual sizes, to be corrected; its name is empty in effect.

    Raises:
        CorrectInputError: a kind of instrument that the tables do not know.
    """
    return usual_instrument(family(kind), "to be named")


def gauge_mm(text: str, own_unit: str = "mm") -> float:
    """Return a string's diameter in mm from how the trade writes it: 0.254, .010, 10, 0.010 in.

    A bare number is taken in whichever unit makes a string of it; where two do, it is the person's own.

    Raises:
        CorrectInputError: no diameter that a string has.
    """
    low, high = GAUGE_MM
    try:
        return parse_length(text, own_unit, low, high).mm
    except CorrectInputError as cause:
        bare = re.fullmatch(r"\s*\d*[.,]?\d+\s*", text)
        number = float(text.replace(",", ".")) if bare else 0.0
        could_be = [number * size for size in (1.0, INCH_MM, INCH_MM / 1000) if low <= number * size <= high]
        if len(could_be) == 1:
            return could_be[0]
        raise cause


def instrument_typed(typed: Mapping[str, str], own_unit: str = "mm") -> Instrument:
    """Return the instrument that a form describes; every field that is wrong is named in one error.

    Args:
        typed: the form's fields: `name`, `kind`, the sizes by their names, and `note_1`, `gauge_1`, `make_1`,
            `core_1`, `wrap_1` and so on for each string.
        own_unit: the unit of a bare length, `mm` or `in`.

    Raises:
        CorrectInputError: what cannot be right, one sentence a field.
    """
    usual = usual_typed(typed.get("kind", ""))
    problems: list[str] = []
    data: dict[str, Any] = {
        "name": typed.get("name", "").strip(),
        "kind": usual.kind,
        "nut": {"kind": typed.get("nut", usual.nut.kind)},
        "bridge": usual.bridge.model_dump(mode="json", exclude_unset=True),
        "rod": {"kind": typed.get("rod", usual.rod.kind)},
        "strings": [],
    }
    data |= dict(_sizes(typed, own_unit, problems))
    _bridge(typed, own_unit, data["bridge"], problems)
    _rod_and_post(typed, own_unit, data, problems)
    data["strings"] = [_string(one.string, typed, own_unit, problems) for one in usual.in_order()]
    if not data["name"]:
        problems.insert(0, "the instrument has no name")
    if problems:
        raise CorrectInputError("; ".join(problems), "", "correct it and try again")
    try:
        return Instrument.model_validate(data)
    except ValidationError as cause:
        found = [one.removeprefix("$.") for one in complaints(cause, Instrument, data)]
        raise CorrectInputError("; ".join(found), "", "correct it and try again") from cause


def _length(
    words: str, text: str, own_unit: str, sensible: tuple[float, float], problems: list[str]
) -> float | None:
    try:
        return round(parse_length(text, own_unit, *sensible).mm, 4)
    except CorrectInputError as cause:
        problems.append(f"{words}: {str(cause).rstrip('.')}")
        return None


def _sizes(typed: Mapping[str, str], own_unit: str, problems: list[str]) -> Iterator[tuple[str, Any]]:
    for name in LENGTHS:
        words = name.removesuffix("_mm").replace("_", " ")
        yield name, _length(words, typed.get(name, ""), own_unit, SENSIBLE_MM[name], problems)
    for name in WHOLE:
        text = typed.get(name, "").strip()
        if not (text.isascii() and text.isdigit() and len(text) <= 2):
            problems.append(f'{name.replace("_", " ")} is "{text[:20]}"; it must be a whole number')
        else:
            yield name, int(text)
    radius = typed.get("board_radius_mm", "").strip()
    if not radius or radius.casefold() == "flat":
        yield "board_radius_mm", None
    else:
        yield "board_radius_mm", _length("board radius", radius, own_unit, RADIUS_MM, problems)


def _bridge(typed: Mapping[str, str], own_unit: str, bridge: dict[str, Any], problems: list[str]) -> None:
    bridge["kind"] = typed.get("bridge", bridge["kind"])
    for name in SCREWS:
        text = typed.get(name, "").strip()
        if text:
            words = name.removesuffix("_mm_per_turn") + " per turn"
            bridge[name] = _length(words, text, own_unit, TURN_MM, problems)
        else:
            bridge.pop(name, None)


def _rod_and_post(typed: Mapping[str, str], own_unit: str, data: dict[str, Any], problems: list[str]) -> None:
    """Take the rod's reach and the tuners' posts; what no model asks for is kept with the instrument as it is."""
    left = typed.get("turns_left", "").strip().replace(",", ".")
    if left:
        try:
            data["rod"]["turns_left"] = float(left)
        except ValueError:
            problems.append(f'the rod\'s reach is "{left[:20]}"; it must be a number of turns')
    post = typed.get("post_diameter_mm", "").strip()
    kind = typed.get("post", "").strip()
    if post or kind:
        told: dict[str, Any] = {"kind": kind} if kind else {}
        if post:
            told["diameter_mm"] = _length("tuner post", post, own_unit, POST_MM, problems)
        data["tuner_post"] = told
    reach = typed.get("rod_reached_from", "").strip()
    if reach:
        data["rod_reached_from"] = reach[:60]


def _string(number: int, typed: Mapping[str, str], own_unit: str, problems: list[str]) -> dict[str, Any]:
    """Return one string; its course and a short string's own nut are as usual in the family."""
    usual = next(one for one in usual_typed(typed["kind"]).strings if one.string == number)
    found = usual.model_dump(mode="json", exclude_unset=True)
    found["note"] = typed.get(f"note_{number}", "").strip() or found["note"]
    found["make"] = typed.get(f"make_{number}", found["make"])
    found.pop("core_mm", None)
    for key, name in (("diameter_mm", "gauge"), ("core_mm", "core")):
        text = typed.get(f"{name}_{number}", "").strip()
        if not text:
            problems += [f"string {number} has no gauge"] if name == "gauge" else []
            continue
        try:
            found[key] = round(gauge_mm(text, own_unit), 4)
        except CorrectInputError as cause:
            problems.append(f"{name} of string {number}: {str(cause).rstrip('.')}")
    if f"wrap_{number}" in typed:
        wrap = typed[f"wrap_{number}"].strip()
        found.pop("wrap", None)
        if wrap:
            found["wrap"] = wrap
    return found
