"""A kind of instrument copied from the nearest: the table it begins with, and the swing that its own strings have."""

import re
from collections.abc import Collection
from statistics import fmean
from typing import Any

from pydantic import ValidationError

from breakangle.model.complaint import complaints
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import ConicalRadius, Instrument
from breakangle.model.kind.kind_table import STRING_COLUMNS, KindTable
from breakangle.model.kind.string import String
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.state.board import board_of
from breakangle.reference.families import Family, families, family, family_with
from breakangle.reference.rows import read_table
from breakangle.reference.strength import STRENGTHS, ways
from breakangle.services.service_files.checks import is_kind_key, unheard_names
from breakangle.services.service_files.example import usual_instrument

LONGEST_KEY = 50
LONGEST_NAME = 80  # as a kind's table has it
SCREWS = ("height_mm_per_turn", "position_mm_per_turn", "position_travel_mm")


def table_of(kin: Family) -> KindTable:
    """Return the table of a kind, to be copied: the shop's own, or the program's, which names itself as its origin."""
    if kin.made is not None:
        return kin.made
    row = dict(read_table(f"families/{kin.kind}"))
    row.pop("offered_first", None)
    return KindTable.model_validate(_plain(row) | {"words": tr(kin.words), "copied_from": kin.kind})


def table_of_instrument(instrument: Instrument, kin: Family) -> KindTable:
    """Return the nearest kind's table with this instrument's sizes, strings, bridge and rod in place of its own."""
    radius = instrument.board_radius_mm
    row = table_of(kin).plain()
    row["words"] = instrument.name[:LONGEST_NAME]
    row["shape"] |= {
        "scale_mm": instrument.scale_mm,
        "frets": instrument.frets,
        "joint_fret": instrument.joint_fret,
        "board_radius_mm": radius.at_nut if isinstance(radius, ConicalRadius) else radius,
        "spread_nut_mm": instrument.spread_nut_mm,
        "spread_bridge_mm": instrument.spread_bridge_mm,
        "nut": instrument.nut.kind,
    }
    row["stringing"] = {
        "rows": [string_row(one) for one in instrument.in_order()],
        "source": tr("as {name} is strung", name=instrument.name),
    }
    bridge = instrument.bridge
    usual_travel = row["bridge"].get("position_travel_mm")
    row["bridge"] = {name: value for name, value in row["bridge"].items() if name not in SCREWS}
    row["bridge"] |= {"kind": bridge.kind} | {
        name: getattr(bridge, name) for name in SCREWS if getattr(bridge, name) is not None
    }
    if bridge.position_mm_per_turn is not None and usual_travel:  # how far screws go is often not told
        row["bridge"].setdefault("position_travel_mm", usual_travel)
    if instrument.rod.kind == "none":
        row.pop("rod", None)
    elif "rod" in row:
        row["rod"]["kind"] = instrument.rod.kind
    return checked_table(row)


def string_row(one: String) -> dict[str, Any]:
    """Return what a kind's table has of a string."""
    told = one.model_dump(mode="json", exclude_none=True)
    return {name: value for name, value in told.items() if name in STRING_COLUMNS}


def checked_table(row: dict[str, Any]) -> KindTable:
    """Return the table that `row` holds, its relief fret and swing following from its shape and strings.

    Raises:
        CorrectInputError: what cannot be right, each with its place and what is allowed.
    """
    row = _plain(row)
    shape, nearest = row["shape"], family(row["copied_from"]) if row["copied_from"] in families() else None
    if nearest is not None and isinstance(shape.get("joint_fret"), int):
        shape["relief_fret"] = max(round(nearest.relief_fret * shape["joint_fret"] / nearest.joint_fret), 2)
    try:
        made = KindTable.model_validate(row)
        instrument = usual_instrument(family_with("made", made), made.words)
    except ValidationError as cause:
        model = KindTable if cause.title == "KindTable" else Instrument
        said = [one.removeprefix("$.") for one in complaints(cause, model, row)]
        raise CorrectInputError("; ".join(said), "", tr("correct it and try again")) from cause
    problems = list(unheard_names(Service(instrument=instrument)))
    if problems:
        raise CorrectInputError(
            "; ".join(one.removeprefix("$.instrument.") for one in problems),
            "",
            tr("correct it and try again"),
        )
    return _with_own_swing(made, instrument)


def _with_own_swing(made: KindTable, instrument: Instrument) -> KindTable:
    """Return the table with the heights of the pluck that its way of playing gives strings of this pull and length.

    Where the strings are plucked goes with the scale. Derived as the program's own tables are: `reference.strength`.
    """
    strengths, way = made.strengths, ways().get(made.strengths.way)
    if way is None:
        return made
    usual = family(made.copied_from).scale_mm if made.copied_from in families() else made.shape.scale_mm
    origin = made.copied_from in families() and read_table(f"families/{made.copied_from}")["strengths"]
    at = origin["pluck_from_saddle_mm"] if origin else strengths.pluck_from_saddle_mm
    place_mm = round(at * made.shape.scale_mm / usual, 1)
    tension_n = fmean(float(one) for one in board_of(instrument).tension_n)
    heights = {
        f"{one}_mm": round(way.height_mm(one, tension_n, made.shape.scale_mm, place_mm), 2)
        for one in STRENGTHS
    }
    source = tr(
        "{tension_n:.0f} N and {scale_mm:.0f} mm in the middle of the set, worked out from its way of playing; place "
        "as on the kind it was copied from",
        tension_n=tension_n,
        scale_mm=made.shape.scale_mm,
    )
    told = strengths.model_dump() | heights | {"pluck_from_saddle_mm": place_mm, "source": source}
    return made.model_copy(update={"strengths": type(strengths).model_validate(told)})


def key_for(words: str, taken: Collection[str]) -> str:
    """Return the key of a kind called `words`, none of those `taken`: letters, digits and hyphens.

    A name of other letters than a to z makes the key `kind`.

    Raises:
        CorrectInputError: no letter or digit in it.
    """
    base = re.sub(r"[^a-z0-9]+", "-", words.casefold()).strip("-")[:LONGEST_KEY].strip("-") or "kind"
    if not any(one.isalnum() for one in words):
        raise CorrectInputError(
            tr("the kind has no name"), tr("a name with a letter or digit in it"), tr("give one")
        )
    number, key = 2, base
    while key in taken or key in families() or not is_kind_key(key):
        key, number = f"{base}-{number}", number + 1
    return key


def with_kind(instrument: Instrument, key: str, table: KindTable) -> Instrument:
    """Return the instrument as one of the kind `key` that `table` describes; its own sizes and strings stay."""
    return instrument.model_copy(update={"kind": key, "kind_table": table})


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _plain(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return str(value) if isinstance(value, str) else value
