"""The shape of an instrument in its family's usual sizes, on the bridge and the nut that are asked for."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Bridge, Instrument, Nut, Rod, String
from breakangle.reference.families import Family, FamilyString, family

Array = NDArray[np.float64]
# Screws of a bridge that the family itself does not have; common practice, no source.
USUAL_SCREWS = {"height_mm_per_turn": 0.5, "position_mm_per_turn": 0.5, "position_travel_mm": (-4.0, 4.0)}
COURSE_MM = 2.0  # between the two strings of a course; common practice, no source


def _bridge(kin: Family, kind: str | None) -> Bridge:
    asked = kind or kin.bridge.kind
    own = {
        "height_mm_per_turn": kin.bridge.height_mm_per_turn,
        "position_mm_per_turn": kin.bridge.position_mm_per_turn,
        "position_travel_mm": kin.bridge.position_travel_mm,
    }
    screws: dict[str, Any] = {} if asked == "one-piece" else own if asked == kin.bridge.kind else USUAL_SCREWS
    return Bridge.model_validate({"kind": asked} | {k: v for k, v in screws.items() if v is not None})


def _string(one: FamilyString) -> String:
    told = {
        "string": one.string,
        "note": one.note,
        "make": one.make,
        "diameter_mm": one.diameter_mm,
        "core_mm": one.core_mm,
        "wrap": one.wrap,
        "nut_at_fret": one.nut_at_fret or None,
        "course": one.course if one.course != one.string else None,
    }
    return String.model_validate({key: value for key, value in told.items() if value is not None})


def instrument_of(
    kind: str, name: str = "From the workshop", bridge_kind: str | None = None, zero_fret: bool = False
) -> Instrument:
    """Return an instrument of the family `kind`, with another bridge or a zero fret where asked."""
    kin = family(kind)
    return Instrument(
        name=name,
        kind=kind,
        scale_mm=kin.scale_mm,
        frets=kin.frets,
        joint_fret=kin.joint_fret,
        board_radius_mm=kin.board_radius_mm,
        spread_nut_mm=kin.spread_nut_mm,
        spread_bridge_mm=kin.spread_bridge_mm,
        nut=Nut(kind="zero-fret" if zero_fret else kin.nut),
        rod=Rod.model_validate({"kind": kin.rod.kind if kin.rod is not None else "none"}),
        bridge=_bridge(kin, bridge_kind),
        strings=tuple(_string(one) for one in kin.strings),
    )


def is_loose(instrument: Instrument) -> bool:
    """Return whether the bridge is held by the strings' pull alone: banjos and mandolins without position screws."""
    return instrument.kind in ("banjo-five", "banjo-tenor", "mandolin") and (
        instrument.bridge.position_mm_per_turn is None
    )


def sides(instrument: Instrument) -> Array:
    """Return each string's place across, from +1 at the treble edge to -1 at the bass edge, courses beside each other.

    A banjo's short string lies at the bass edge, as its number says.
    """
    strings = instrument.in_order()
    courses = sorted({one.course or one.string for one in strings})
    if len(courses) == 1:
        return np.zeros(len(strings))
    half_mm = instrument.spread_bridge_mm / 2.0
    found = []
    for one in strings:
        course = one.course or one.string
        middle = 1.0 - 2.0 * courses.index(course) / (len(courses) - 1)
        pair = [other.string for other in strings if (other.course or other.string) == course]
        off = (len(pair) - 1) / 2.0 - pair.index(one.string)
        found.append(middle + off * COURSE_MM / half_mm)
    return np.array(found)


def relief_fret(instrument: Instrument) -> int:
    """Return the fret over which relief is read: the family's, in proportion to where the neck joins."""
    kin = family(instrument.kind)
    joint = instrument.joint_fret
    return min(max(round(kin.relief_fret * joint / kin.joint_fret), 2), joint - 1)
