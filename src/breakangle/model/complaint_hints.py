"""What a refused value was likely meant as: inches for mm, a length with its unit, a decimal comma, a trade word."""

import re
from collections.abc import Mapping
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import INCH_MM, parse_length
from breakangle.model.typed_number import number_within
from breakangle.model.words.speech import tr

_COMMA = re.compile(r"\s*[+\-−]?\d*,\d+\s*")
# What a number in mm that is out of range may have been typed in, with the length of one in mm.
OTHER_UNITS = {"in": INCH_MM, "thou": INCH_MM / 1000.0}
TRADE_GAPS = ("relief", "action", "clearance", "nut", "first-fret")
LARGEST = 1e12
ACTION_FRET, NUT_HELD = 12, 3


def hint(key: str, value: Any, context: Mapping[str, Any], data: Any) -> str:
    """Return what `value`, refused under `key`, was likely meant as, in a few words; empty where nothing is known.

    Args:
        key: the key it stands under.
        value: what stands there.
        context: what refused it: `low`, `high` and `unit` where it is a number in a range.
        data: the whole of the file, for the instrument that a trade word is about.
    """
    if key == "quantity" and isinstance(value, str) and value.strip().lower() in TRADE_GAPS:
        return f"; {trade_gap(value.strip().lower(), data)}"
    if "low" not in context:
        return ""
    low, high = float(context["low"]), float(context["high"])
    in_mm = context.get("unit") == "mm"
    if isinstance(value, str):
        return _text_hint(value, low, high, in_mm)
    if not in_mm or isinstance(value, bool) or not isinstance(value, int | float):
        return ""
    found = [
        f"{value:g} {unit} ({value * one_mm:.4g} mm)"
        for unit, one_mm in OTHER_UNITS.items()
        if low <= value * one_mm <= high
    ]
    # "inches" or "thousandths of an inch": whichever of them the range allows.
    return (
        tr("; did you mean inches: {found}? A file is in mm", found=tr(" or ").join(found)) if found else ""
    )


def _text_hint(text: str, low: float, high: float, in_mm: bool) -> str:
    number = number_within(text, -LARGEST, LARGEST) if _COMMA.fullmatch(text) else None
    if number is not None:
        return tr(
            "; {text} has a decimal comma, and a file takes a point and no quotes: {number:g}",
            text=text.strip(),
            number=number,
        )
    if not in_mm:
        return ""
    try:
        mm = parse_length(text, "mm", low, high).mm
    except CorrectInputError:
        return ""
    return tr("; a file is in mm, without a unit and without quotes: {mm:.4g}", mm=mm)


def trade_gap(word: str, data: Any) -> str:
    """Return the gap to write in a file instead of a trade word such as `relief`."""
    instrument = data.get("instrument") if isinstance(data, dict) else None
    joint = instrument.get("joint_fret") if isinstance(instrument, dict) else None
    last = joint if isinstance(joint, int) and not isinstance(joint, bool) and 4 <= joint <= 36 else 17
    fret, held = {"relief": (last // 2, f"1, {last}"), "action": (ACTION_FRET, "1")}.get(
        word, (1, f"{NUT_HELD}")
    )
    return tr(
        'a file keeps {word} as a gap: write "quantity": "gap", "fret": {fret}, "held": [{held}]',
        word=word,
        fret=fret,
        held=held,
    )
