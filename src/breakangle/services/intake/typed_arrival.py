"""What is typed as an instrument is taken in, understood or refused: the air, the day promised, how it is played."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from breakangle.model.errors import CorrectInputError
from breakangle.model.typed_number import number_within
from breakangle.model.words.speech import tr
from breakangle.reference.families import HANDS
from breakangle.services.visits.typed_complaints import ComplaintTyped


@dataclass(frozen=True)
class ArrivalTyped:
    """The air an instrument comes into and how hard it is played, as typed; None: not told."""

    temperature_c: str | None = None
    humidity_percent: str | None = None
    hand: str | None = None


@dataclass(frozen=True)
class VisitTyped:
    """What is typed of any visit as it begins: the owner's words and complaint, the air, what was agreed."""

    complaint_words: str = ""
    complaint: ComplaintTyped = field(default_factory=ComplaintTyped)
    arrival: ArrivalTyped = field(default_factory=ArrivalTyped)
    notes: str = ""
    promised_on: str = ""
    came_in_on: str = ""
    price: str = ""


@dataclass(frozen=True)
class NewTyped:
    """What is typed of an instrument that is new here: its boxes by their names, its owner, how much it is played.

    `is_another`: a person has said that it is not the one with the same serial number or tag.
    """

    boxes: Mapping[str, str]
    owner: str = ""
    contact: str = ""
    owner_id: str = ""
    playing_hours_per_week: str = ""
    is_another: bool = False


def air_typed(typed: ArrivalTyped) -> tuple[float | None, float | None]:
    """Return temperature in °C and humidity in percent; None where nothing was typed.

    Raises:
        CorrectInputError: no number, or one that no room has.
    """
    found = [
        _number(typed.temperature_c or "", tr("the temperature"), -10.0, 50.0, "°C", ("c", "°c")),
        _number(typed.humidity_percent or "", tr("the humidity"), 1.0, 100.0, "%", ("%",)),
    ]
    return found[0], found[1]


def promised_typed(text: str) -> str | None:
    """Return the day that was promised, as 2027-03-01; None where nothing was typed.

    Raises:
        CorrectInputError: no day.
    """
    text = text.strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError as cause:
        given = tr('the promised day is "{text}"', text=text[:20])
        raise CorrectInputError(given, tr("a day such as 2027-03-01"), tr("choose one")) from cause


def hand_typed(typed: ArrivalTyped) -> str:
    """Return the strength of play; empty where none was chosen.

    Raises:
        CorrectInputError: no such strength.
    """
    hand = typed.hand or ""
    if hand and hand not in HANDS:
        raise CorrectInputError(
            tr('"{hand}" is no strength of play', hand=hand[:20]),
            tr("one of {hands}", hands=", ".join(HANDS)),
            "",
        )
    return hand


def hours_typed(text: str) -> float | None:
    """Return how many hours a week it is played; None where nothing was typed.

    Raises:
        CorrectInputError: no number, or more than a week has.
    """
    return _number(text, tr("hours of playing"), 0.0, 168.0, "a week", ("h",))


def _number(text: str, what: str, low: float, high: float, unit: str, words: tuple[str, ...]) -> float | None:
    """Return the number typed, None where nothing was; a word of its unit may stand behind it."""
    if not text.strip():
        return None
    number = number_within(text, low, high, words)
    if number is None:
        raise CorrectInputError(
            tr('{what} is "{text}"', what=what, text=text[:20]),
            tr("a number from {low:g} to {high:g} {unit}", low=low, high=high, unit=unit),
            "",
        )
    return number
