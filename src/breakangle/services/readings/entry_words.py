"""A reading typed as words: `gap string=6 fret=12 held=1 mm=1.8`, `relief 6 .012in`, `action 1 5/64`; or as JSON."""

import json
import re
from collections.abc import Sequence
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.json_text import json_trouble
from breakangle.model.measure import parse_length, parse_number, says_unit
from breakangle.model.service import Service
from breakangle.model.typed_number import with_point
from breakangle.model.words.near_words import refuse_near_misses
from breakangle.model.words.speech import mark, tr
from breakangle.model.words.unit_said import UNIT
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.services.readings.ways import Ways, usual_places
from breakangle.services.typed_values.doubtful_units import doubt_of, refuse_doubted
from breakangle.services.visits.reading_places import Place

# What the trade calls a gap by how it is held, as a bench reads it: the station it belongs to.
TRADE_WORDS = {
    "relief": "relief",
    "action": "action",
    "nut": "nut",
    "clearance": "nut",
    "first-fret": "nut",
    "nut-clearance": "nut",
}
OPEN_WORDS = ("", "open", "none", "nothing")
SEMITONE_CENTS = 100.0  # exact
_NOTE = re.compile(r"([A-Ga-g][#b♯♭]?)(-?\d)?")
HELD_HELP = mark(
    "say what is held: held=1 for action, held=1,17 for relief, held=3 at the nut, held=open for none"
)


def reading_words(
    words: Sequence[str], service: Service, own_unit: str = "mm", as_typed: bool = False
) -> dict[str, Any]:
    """Return the reading that `words` say, as a service file has it, its length in mm.

    Args:
        words: as they were typed.
        service: the visit's service, for the strings, the frets and what else was read.
        own_unit: the unit of a bare length.
        as_typed: a person says that it is right as it stands: nothing is asked.

    Raises:
        CorrectInputError: not of that form, a key that is nearly known, or a figure that was likely meant otherwise.
    """
    text = " ".join(words)
    if text.startswith("{"):
        found, bare = json_words(text), True
        _refuse_trade_word(found, service)
    elif not words:
        raise CorrectInputError(tr("nothing was typed"), "", tr("such as gap string=6 fret=12 held=1 mm=1.8"))
    else:
        found, bare = _from_words(words, service, own_unit)
    kind = reading_kinds().get(str(found.get("quantity")))
    if kind is not None:
        refuse_near_misses(found, kind.model.model_fields)
    if not as_typed:
        _question_cents(found)
        if bare:
            refuse_doubted(found, service, own_unit)
    return _with_unit_where_it_matters(found, service, own_unit)


def _with_unit_where_it_matters(found: dict[str, Any], service: Service, own_unit: str) -> dict[str, Any]:
    """Return the reading with the unit a person stands by, where its figure would be asked about again."""
    if UNIT in found or doubt_of(found, service, own_unit) is None:
        return found
    return found | {UNIT: own_unit}


def check_form(words: Sequence[str]) -> None:
    """Refuse words that are neither JSON nor a name with `name=value`, before anything is looked up.

    Raises:
        CorrectInputError: what is not of that form.
    """
    text = " ".join(words)
    if text.startswith("{"):
        json_words(text)
    elif words and words[0].lower() not in (*TRADE_WORDS, "rod"):
        pairs(words[1:])


def json_words(text: str) -> dict[str, Any]:
    """Return the object that `text` holds.

    Raises:
        CorrectInputError: no JSON, or no object.
    """
    try:
        found = json.loads(text)
    except json.JSONDecodeError as cause:
        comma = re.search(r":\s*(-?\d+,\d+)\s*[,}\]]", text)
        hint = (
            tr(
                "{comma} has a decimal comma: write {written}",
                comma=comma[1],
                written=with_point(comma[1]),
            )
            if comma
            else ""
        )
        raise CorrectInputError(
            tr("this is not JSON: {msg}", msg=json_trouble(cause)), "", hint or tr("type it as name=value")
        ) from cause
    return dict(found)


def pairs(words: Sequence[str]) -> dict[str, str]:
    """Return `name=value` words by name.

    Raises:
        CorrectInputError: a word without =, or a name twice.
    """
    made: dict[str, str] = {}
    for word in words:
        key, equals, value = word.partition("=")
        if not equals:
            raise CorrectInputError(f'"{word}"', tr("name=value, such as string=6"), "")
        if key in made:
            raise CorrectInputError(tr("{key} is named twice", key=key), tr("each once"), "")
        made[key] = value
    return made


def string_number(text: str, instrument: Instrument) -> Any:
    """Return a string's number; a note's name is refused with the strings that sound it.

    Raises:
        CorrectInputError: a note's name, with the numbers of the strings that have it.
    """
    if text.isascii() and text.isdigit():
        return int(text)
    found = _NOTE.fullmatch(text.strip())
    if found is None:
        return text
    name = found[1][:1].upper() + found[1][1:].replace("♯", "#").replace("♭", "b")
    wanted = name + (found[2] or "")
    there = [
        string
        for string in instrument.in_order()
        if wanted in (string.note, string.note.rstrip("-0123456789"))
    ]
    which = tr(" or ").join(f"string={one.string} ({one.note})" for one in there)
    raise CorrectInputError(
        tr("string={text}: a string is given by its number, 1 the highest", text=text),
        "",
        tr("type {which}", which=which)
        if which
        else tr("no string here is tuned to {wanted}", wanted=wanted),
    )


def _from_words(words: Sequence[str], service: Service, own_unit: str) -> tuple[dict[str, Any], bool]:
    """Return the reading, and whether its length was typed without a unit."""
    name, rest = words[0], list(words[1:])
    station = TRADE_WORDS.get(name.lower())
    placed = [word for word in rest if "=" not in word]
    told = pairs([word for word in rest if "=" in word]) if station or not placed else pairs(rest)
    if station is None:
        made: dict[str, Any] = {"quantity": name}
    else:
        if placed and "string" not in told:
            told["string"] = placed.pop(0)
        if placed and "mm" not in told:
            told["mm"], placed = " ".join(placed), []
        if placed or "string" not in told or "mm" not in told:
            given = f'"{" ".join(words)}"'
            raise CorrectInputError(
                given, tr("{name} STRING LENGTH, such as {name} 6 .012in or {name} 6 0.30mm", name=name)
            )
        made = _place(station, name, told, service)
    bare = False
    for key, value in told.items():
        made[key] = _value(key, value, service.instrument, own_unit)
        if key == "mm":
            bare = not says_unit(value)
            made |= {} if bare else _unit_of(value)
    if name == "gap" and "mm" in made and "held" not in made and not any(_is_near_held(key) for key in told):
        raise CorrectInputError(tr("a gap without what is held can be three things"), "", tr(HELD_HELP))
    return made, bare


def _is_near_held(key: str) -> bool:
    from breakangle.model.words.near_words import meant_by

    return meant_by(key, ("held",)) == "held"


def _unit_of(text: str) -> dict[str, str]:
    return {UNIT: parse_length(text).unit}


def _place(station: str, name: str, told: dict[str, str], service: Service) -> dict[str, Any]:
    """Return where the trade reads this on that string, as this instrument has it; what was typed replaces it."""
    instrument = service.instrument_now()
    string = string_number(told["string"], instrument)
    places: tuple[Place, ...] = usual_places(instrument, Ways(relief_strings="all"))[station]
    found = next((place for place in places if place.string == string), None)
    if found is None:
        there = ", ".join(str(place.string) for place in places)
        raise CorrectInputError(
            tr("{name} of string {string}", name=name, string=told["string"]),
            tr("read here on strings {there}", there=there) if there else tr("not read here"),
        )
    return found.body()


def _value(key: str, value: str, instrument: Instrument, own_unit: str) -> Any:
    if key == "held":
        return _held(value)
    if key == "string":
        return string_number(value, instrument)
    if key == "mm" or key.endswith("_mm"):
        return round(parse_length(value, own_unit).mm, 4)
    if key in ("cents", "hz", "fret", "harmonic", "uncertainty_cents"):
        number = parse_number(value, ("c", "ct", "cent", "cents", "hz"))[0]
        return int(number) if number == int(number) and key in ("fret", "harmonic") else number
    try:
        return json.loads(value)
    except json.JSONDecodeError:
        return value


def _held(value: str) -> list[Any]:
    if value.strip().lower() in OPEN_WORDS:
        return []
    parts = [one.strip() for one in re.split(r"[+&/ ;-]", value)]
    if len(parts) > 1 and all(part.isdigit() for part in parts):
        raise CorrectInputError(
            f"held={value}", tr("frets with a comma between"), tr("type held={parts}", parts=",".join(parts))
        )
    return [int(one) if one.isdigit() else one for one in value.split(",") if one]


def _refuse_trade_word(found: dict[str, Any], service: Service) -> None:
    """Refuse a reading in JSON whose quantity is a trade word, with the gap to write.

    Raises:
        CorrectInputError: with the gap.
    """
    station = TRADE_WORDS.get(str(found.get("quantity")).lower())
    if station is None:
        return
    places = usual_places(service.instrument_now(), Ways(relief_strings="all"))[station]
    of_string = next(
        (place for place in places if place.string == found.get("string")), places[0] if places else None
    )
    gap = json.dumps({} if of_string is None else of_string.body())
    raise CorrectInputError(
        tr("{quantity} is written as a gap in JSON", quantity=found["quantity"]),
        "",
        tr("write {gap} with its mm", gap=gap),
    )


def _question_cents(found: dict[str, Any]) -> None:
    """Question a stopped note more than a semitone from its note: a fret off, or a slip, before it is the truth.

    Raises:
        CorrectInputError: with what it could be.
    """
    cents = found.get("cents")
    if not isinstance(cents, int | float) or isinstance(cents, bool) or not found.get("fret"):
        return
    if found.get("quantity") == "pitch" and abs(cents) > SEMITONE_CENTS and abs(cents) <= 250.0:
        way = tr("above") if cents > 0 else tr("below")
        raise CorrectInputError(
            tr(
                "{cents:g} cents is more than a fret {way} the note of fret {fret}",
                cents=cents,
                way=way,
                fret=found["fret"],
            ),
            "",
            tr("did you mean another fret, or {cents:g}? If it is right, add --as-typed", cents=cents / 10),
        )
