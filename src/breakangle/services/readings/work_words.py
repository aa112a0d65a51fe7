"""An adjustment typed as words: `rod turns=1/4`, `nut-slot string=1 mm=-0.10`, or as JSON; slips are asked about."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.measure import parse_length, parse_number
from breakangle.model.words.near_words import refuse_near_misses
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import RAISED
from breakangle.planning.estimate.slips import turns_make_mm
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.services.readings.entry_words import json_words, pairs, string_number

RAISE = "raise"


def work_words(words: Sequence[str], instrument: Instrument, as_typed: bool = False) -> dict[str, Any]:
    """Return the adjustment that `words` say, as a service file has it, its length in mm.

    Args:
        words: as they were typed.
        instrument: as the work so far has left it.
        as_typed: a person says that it is right as it stands: nothing is asked.

    Raises:
        CorrectInputError: not of that form, a key that is nearly known, or a figure that was likely meant otherwise.
    """
    text = " ".join(words)
    found = json_words(text) if text.startswith("{") else _from_words(words, instrument)
    kind = adjustment_kinds().get(str(found.get("adjust")))
    raised = RAISE in found
    if raised:
        found |= {"mm": found.pop(RAISE), RAISED: True}
    if kind is not None:
        refuse_near_misses(found, (*kind.model.model_fields, "turns"))
    if not as_typed and not raised:
        refuse_raised_cut(found, instrument)
    if not as_typed:
        refuse_disagreement(found, instrument)
    return found


def refuse_raised_cut(found: Mapping[str, Any], instrument: Instrument) -> None:
    """Question a cut with a plus sign: what is cut comes down.

    Raises:
        CorrectInputError: with both forms to type.
    """
    mm, adjust = found.get("mm"), found.get("adjust")
    saddle = adjust == "saddle-height" and instrument.bridge.kind == "one-piece"
    if not isinstance(mm, int | float) or mm <= 0.0 or not (saddle or adjust == "nut-slot"):
        return
    what = tr("the saddle") if saddle else tr("the slot")
    raise CorrectInputError(
        tr("{adjust} mm={mm:g} would raise the string, and a cut takes away", adjust=adjust, mm=mm),
        "",
        tr("cut: type mm=-{mm:g}; {what} filled or shimmed: type raise={mm:g}", mm=mm, what=what),
    )


def refuse_disagreement(found: Mapping[str, Any], instrument: Instrument) -> None:
    """Question turns and mm of one screw, given together, that its pitch does not bring together.

    Raises:
        CorrectInputError: with what the turns make in mm.
    """
    turns, mm = found.get("turns"), found.get("mm")
    made = turns_make_mm(str(found.get("adjust")), turns, mm, instrument)
    if made is not None:
        raise CorrectInputError(
            tr(
                "{turns} turns of this screw make {made:.2f} mm, and mm={mm} was given",
                turns=turns,
                made=made,
                mm=mm,
            ),
            "",
            tr("type only the one that is right"),
        )


def _from_words(words: Sequence[str], instrument: Instrument) -> dict[str, Any]:
    if not words:
        raise CorrectInputError(tr("nothing was typed"), "", tr("such as rod turns=1/4"))
    name, rest = words[0], list(words[1:])
    if name == "rod" and len(rest) == 1 and "=" not in rest[0]:
        rest = [f"turns={rest[0]}"]
    made: dict[str, Any] = {"adjust": name}
    return made | {key: _value(key, value, instrument) for key, value in pairs(rest).items()}


def _value(key: str, value: str, instrument: Instrument) -> Any:
    if key == "string":
        return string_number(value, instrument)
    if key in ("mm", RAISE) or key.endswith("_mm"):
        return round(parse_length(value).mm, 4)
    if key in ("turns", "degrees"):
        return parse_number(value, ("turn", "turns", "t", "degrees", "degree"))[0]
    try:
        return json.loads(value)
    except json.JSONDecodeError:
        return value
