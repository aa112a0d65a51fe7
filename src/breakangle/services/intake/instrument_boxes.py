"""What is told of an instrument, each by the name of its box, in words that can be typed back."""

from collections.abc import Callable

from breakangle.model.identity_marks import IDENTITY_MARKS, identity_marks
from breakangle.model.instrument import ConicalRadius, Instrument, String
from breakangle.model.measure import INCH_MM
from breakangle.model.words.unit_said import as_told
from breakangle.services.typed_values.sizes import scale_ends_mm

STRING_BOXES = ("note", "gauge", "make", "core", "wrap", "as_told")  # each with _ and the string's number
YES = "yes"


def boxes_told(instrument: Instrument, own_unit: str = "mm") -> dict[str, str]:
    """Return by the names that `instrument_typed` takes what stands there, lengths in mm or in; empty: not known."""
    own = instrument.model_extra or {}
    post = own.get("tuner_post")
    post = post if isinstance(post, dict) else {}  # a file may hold anything there
    across = post.get("diameter_mm")
    marks = identity_marks(own)
    radius, bridge, turns = instrument.board_radius_mm, instrument.bridge, instrument.rod.turns_left
    say = _in_inches if own_unit == "in" else _in_mm
    ends = (radius.at_nut, radius.at_last_fret) if isinstance(radius, ConicalRadius) else (radius, radius)
    found = {
        "name": instrument.name,
        **{name: marks.get(name, "") for name in IDENTITY_MARKS},
        "scale_mm": _from_to(say, *scale_ends_mm(instrument)),
        "frets": str(instrument.frets),
        "joint_fret": str(instrument.joint_fret),
        "board_radius_mm": "flat" if radius is None else _from_to(say, *ends),
        "fret_condition": "" if instrument.fret_condition == "unknown" else instrument.fret_condition,
        "spread_nut_mm": say(instrument.spread_nut_mm),
        "spread_bridge_mm": say(instrument.spread_bridge_mm),
        "nut": instrument.nut.kind,
        "bridge": bridge.kind,
        "height_mm_per_turn": say(bridge.height_mm_per_turn),
        "position_mm_per_turn": say(bridge.position_mm_per_turn),
        "rod": instrument.rod.kind,
        "turns_left": "" if turns is None else f"{turns:g}",
        "rod_reached_from": str(own.get("rod_reached_from", "")),
        "post": str(post.get("kind", "")),
        "post_diameter_mm": say(across if isinstance(across, int | float) else None),
    }
    for string in reversed(instrument.in_order()):
        found |= _string(string, say)
    return found


def _string(one: String, say: Callable[[float | None], str]) -> dict[str, str]:
    told = (
        one.note,
        say(one.diameter_mm),
        one.make,
        say(one.core_mm),
        one.wrap or "",
        YES if as_told(one) else "",
    )
    return {f"{name}_{one.string}": text for name, text in zip(STRING_BOXES, told, strict=True)}


def _from_to(say: Callable[[float | None], str], low_mm: float | None, high_mm: float | None) -> str:
    return say(low_mm) if low_mm == high_mm else f"{say(low_mm)}-{say(high_mm)}"


def _in_mm(mm: float | None) -> str:
    return "" if mm is None else f"{round(mm, 3):g}mm"


def _in_inches(mm: float | None) -> str:
    return "" if mm is None else f"{round(mm / INCH_MM, 4):g}in"
