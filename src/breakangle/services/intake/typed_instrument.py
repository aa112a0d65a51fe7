"""An instrument as it is typed on a form: a family's usual sizes to start from, and every field understood."""

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from breakangle.model.complaint import complaints
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.measure import parse_length
from breakangle.model.typed_number import number_within, whole_within
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.units_doubted.figures import SPREAD_RATIO
from breakangle.planning.estimate.units_doubted.likelihood import Expectation
from breakangle.reference.families import Family, family, family_of
from breakangle.reference.posts import posts
from breakangle.services.intake.typed_string import string_typed
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.typed_values.doubtful_units import UnitAskedError, refuse_doubted_size
from breakangle.services.typed_values.sizes import fanned, gauge_mm, scales_mm
from breakangle.services.visits.instrument_identity.typed_marks import put_marks

__all__ = ["gauge_mm", "instrument_typed", "usual_typed"]

LENGTHS = ("spread_nut_mm", "spread_bridge_mm")
SCREWS = ("height_mm_per_turn", "position_mm_per_turn")
WHOLE = ("frets", "joint_fret")
MOST_WHOLE, MOST_TURNS = 99, 1e6  # chosen: what can be typed; the model says what an instrument can have
# Lengths that no instrument has would be refused by the model in its own words; here units are told apart. Chosen.
SENSIBLE_MM = {"spread_nut_mm": (0.0, 150.0), "spread_bridge_mm": (0.0, 150.0)}
RADIUS_MM, TURN_MM, POST_MM = (50.0, 5000.0), (0.05, 3.0), (2.0, 30.0)  # common practice, no source


def usual_typed(kind: str, kin: Family | None = None) -> Instrument:
    """Return an instrument of the family in its usual sizes, to be corrected; its name is empty in effect.

    `kin`: the family where the shop made it; None: the program's.

    Raises:
        CorrectInputError: a kind of instrument that the tables do not know.
    """
    return usual_instrument(kin or family(kind), tr("to be named"))


def instrument_typed(
    typed: Mapping[str, str], own_unit: str = "mm", base: Instrument | None = None, kin: Family | None = None
) -> Instrument:
    """Return the instrument that a form describes; every field that is wrong is named in one error.

    Args:
        typed: the form's fields: `name`, `kind`, the sizes by their names, and `note_1`, `gauge_1`, `make_1`,
            `core_1`, `wrap_1` and so on for each string. `scale_mm` may hold two lengths, the lowest string's
            first: a scale for each string, in equal steps.
        own_unit: the unit of a bare length, `mm` or `in`.
        base: the instrument that is corrected: what no field tells stays as it was. None: a new one, of which
            every size and gauge is told.
        kin: the kind of a new one where the shop made it; None: the one that `typed` names.

    Raises:
        CorrectInputError: what cannot be right, one sentence a field.
    """
    kin = family_of(base) if base is not None else kin or family(typed.get("kind", ""))
    usual = base or usual_typed(kin.kind, kin)
    typed = typed if base is None else {**_untold(base), **typed}
    problems: list[str] = []
    data: dict[str, Any] = {} if base is None else base.model_dump(mode="json", exclude_unset=True)
    data |= {
        "name": typed.get("name", "").strip(),
        "kind": usual.kind,
        "nut": usual.nut.model_dump(mode="json", exclude_unset=True)
        | {"kind": typed.get("nut", usual.nut.kind)},
        "bridge": usual.bridge.model_dump(mode="json", exclude_unset=True),
        "rod": usual.rod.model_dump(mode="json", exclude_unset=True)
        | {"kind": typed.get("rod", usual.rod.kind)},
    }
    if kin.made is not None:
        data["kind_table"] = kin.made.model_dump(mode="json", exclude_none=True)
    data |= dict(_sizes(typed, own_unit, data, kin, problems))
    _crowns(typed, data)
    _bridge(typed, own_unit, data["bridge"], problems)
    _rod_and_post(typed, own_unit, data, problems)
    put_marks(typed, data, problems)
    data["strings"] = [string_typed(string, typed, own_unit, problems) for string in usual.in_order()]
    _scale(typed, own_unit, data, usual.in_order(), problems)
    if not data["name"]:
        problems.insert(0, tr("the instrument has no name"))
    if problems:
        raise CorrectInputError("; ".join(problems), "", tr("correct it and try again"))
    try:
        return Instrument.model_validate(data)
    except ValidationError as cause:
        found = [complaint.removeprefix("$.") for complaint in complaints(cause, Instrument, data)]
        raise CorrectInputError("; ".join(found), "", tr("correct it and try again")) from cause


def _scale(
    typed: Mapping[str, str],
    own_unit: str,
    data: dict[str, Any],
    strings: tuple[String, ...],
    problems: list[str],
) -> None:
    """Take the scale, where it is told; of two, every string gets its own, and the instrument what lies between."""
    if "scale_mm" in data and "scale_mm" not in typed:
        return
    try:
        ends = scales_mm(typed.get("scale_mm", ""), own_unit)
    except CorrectInputError as cause:
        problems.append(tr("scale: {cause}", cause=str(cause).rstrip(".")))
        return
    own = fanned(strings, *ends) if len(ends) == 2 and ends[0] != ends[1] else {}
    data["scale_mm"] = round(sum(ends) / len(ends), 4)
    for one in data["strings"]:
        one.pop("scale_mm", None)
        if own:
            one["scale_mm"] = own[one["string"]]


def _untold(base: Instrument) -> dict[str, str]:
    """Return as text what a form that leaves it out would otherwise take away."""
    own = base.model_extra or {}
    post = own.get("tuner_post")
    post = post if isinstance(post, dict) else {}
    sizes: dict[str, float | None] = {name: getattr(base.bridge, name) for name in SCREWS}
    sizes["post_diameter_mm"] = post.get("diameter_mm")
    for string in base.strings:
        sizes |= {f"gauge_{string.string}": string.diameter_mm, f"core_{string.string}": string.core_mm}
    found = {name: f"{mm} mm" for name, mm in sizes.items() if mm is not None}
    left = base.rod.turns_left
    words = {"turns_left": left, "post": post.get("kind"), "rod_reached_from": own.get("rod_reached_from")}
    return {"name": base.name} | found | {name: str(one) for name, one in words.items() if one is not None}


def _length(
    words: str, text: str, own_unit: str, sensible: tuple[float, float], problems: list[str]
) -> float | None:
    try:
        return round(parse_length(text, own_unit, *sensible).mm, 4)
    except CorrectInputError as cause:
        problems.append(f"{words}: {str(cause).rstrip('.')}")
        return None


def _spread(
    name: str, words: str, text: str, own_unit: str, kin: Family, problems: list[str]
) -> float | None:
    """Return a spread of the strings in mm; a bare one that was likely meant in the other unit is asked about."""
    usual = float(getattr(kin, name))
    if usual <= 0.0:
        return _length(words, text, own_unit, SENSIBLE_MM[name], problems)
    expected = Expectation(usual, SPREAD_RATIO * usual, sized=True)
    try:
        return refuse_doubted_size(text, words, expected, own_unit, *SENSIBLE_MM[name])
    except UnitAskedError as asked:
        problems.append(str(asked).rstrip("."))
    except CorrectInputError as cause:
        problems.append(f"{words}: {str(cause).rstrip('.')}")
    return None


def _sizes(
    typed: Mapping[str, str], own_unit: str, before: Mapping[str, Any], kin: Family, problems: list[str]
) -> Iterator[tuple[str, Any]]:
    """Yield the sizes that are told; one that is not, and stands in `before`, stays as it is."""
    for name in LENGTHS:
        if name in before and name not in typed:
            continue
        words = name.removesuffix("_mm").replace("_", " ")
        yield name, _spread(name, words, typed.get(name, ""), own_unit, kin, problems)
    for name in WHOLE:
        if name in before and name not in typed:
            continue
        text = typed.get(name, "").strip()
        whole = whole_within(text, 0, MOST_WHOLE)
        if whole is None:
            problems.append(
                tr(
                    '{name} is "{text}"; it must be a whole number',
                    name=name.replace("_", " "),
                    text=text[:20],
                )
            )
        else:
            yield name, whole
    if "board_radius_mm" in before and "board_radius_mm" not in typed:
        return
    radius = typed.get("board_radius_mm", "").strip()
    if not radius or radius.casefold() == "flat":
        yield "board_radius_mm", None
        return
    try:
        ends = [round(one, 4) for one in scales_mm(radius, own_unit, *RADIUS_MM)]
    except CorrectInputError as cause:
        problems.append(tr("board radius: {cause}", cause=str(cause).rstrip(".")))
        return
    cone = {"at_nut": ends[0], "at_last_fret": ends[-1]}
    yield "board_radius_mm", ends[0] if len(ends) == 1 else cone


def _crowns(typed: Mapping[str, str], data: dict[str, Any]) -> None:
    """Take the condition of the frets' crowns, where a box tells it; an empty one says that nobody looked."""
    condition = typed.get("fret_condition")
    if condition is None:
        return
    data.pop("fret_condition", None)
    if condition.strip():
        data["fret_condition"] = condition.strip()


def _bridge(typed: Mapping[str, str], own_unit: str, bridge: dict[str, Any], problems: list[str]) -> None:
    kind = typed.get("bridge", bridge["kind"])
    if kind != bridge["kind"]:  # another bridge: how far the old one's screws reach tells nothing of it
        for name in ("height_travel_mm", "position_travel_mm"):
            bridge.pop(name, None)
    bridge["kind"] = kind
    for name in SCREWS:
        text = typed.get(name, "").strip()
        if text:
            words = name.removesuffix("_mm_per_turn") + tr(" per turn")
            bridge[name] = _length(words, text, own_unit, TURN_MM, problems)
        else:
            bridge.pop(name, None)


def _rod_and_post(typed: Mapping[str, str], own_unit: str, data: dict[str, Any], problems: list[str]) -> None:
    """Take the rod's reach and the tuners' posts; what no model asks for is kept with the instrument as it is."""
    data["rod"].pop("turns_left", None)
    left = typed.get("turns_left", "").strip()
    if left:
        data["rod"]["turns_left"] = number_within(left, 0.0, MOST_TURNS, ("turn", "turns"))
        if data["rod"]["turns_left"] is None:
            problems.append(tr('the rod\'s reach is "{left}"; it must be a number of turns', left=left[:20]))
    post = typed.get("post_diameter_mm", "").strip()
    kind = typed.get("post", "").strip()
    before = data.pop("tuner_post", None)
    data.pop("rod_reached_from", None)
    known = before.get("kind") if isinstance(before, dict) else None
    if kind and kind != known and kind not in posts():
        problems.append(
            tr(
                'the tuner post is "{kind}"; it must be one of {posts}',
                kind=kind[:20],
                posts=", ".join(posts()),
            )
        )
    if post or kind:
        others = before.items() if isinstance(before, dict) else ()
        told: dict[str, Any] = {key: value for key, value in others if key not in ("kind", "diameter_mm")}
        told |= {"kind": kind} if kind else {}
        if post:
            told["diameter_mm"] = _length(tr("tuner post"), post, own_unit, POST_MM, problems)
        data["tuner_post"] = told
    reach = typed.get("rod_reached_from", "").strip()
    if reach:
        data["rod_reached_from"] = reach[:60]
