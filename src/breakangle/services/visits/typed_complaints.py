"""A complaint and its answer as they are typed, in plain text, understood or refused."""

from dataclasses import asdict, dataclass
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from breakangle.model.complaint import complaints
from breakangle.model.concern import Answer, Checked, Complaint, Outcome, What, When
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.typed_number import whole_within
from breakangle.model.words.speech import tr

WHATS: tuple[str, ...] = get_args(What)
WHENS: tuple[str, ...] = get_args(When)
OUTCOMES: tuple[str, ...] = get_args(Outcome)
CHECKS: tuple[str, ...] = get_args(Checked)
OPEN, EVERY = "open", "all"
MOST_PLACE = 999
Made = TypeVar("Made", bound=BaseModel)


@dataclass(frozen=True)
class ComplaintTyped:
    """A complaint as typed: `strings` such as `6 5` or `all`, `frets` such as `3`, `open`, `1-5`, `when` as ticked."""

    what: str = ""
    strings: str = ""
    frets: str = ""
    when: tuple[str, ...] = ()
    played: str = ""
    words: str = ""


@dataclass(frozen=True)
class AnswerTyped:
    """What the owner is told about a complaint, as typed: how it ended, and what was found, done and checked."""

    outcome: str = ""
    found: str = ""
    cause: str = ""
    done: str = ""
    checked: str = ""


def complaint_typed(typed: ComplaintTyped, instrument: Instrument) -> Complaint | None:
    """Return the complaint typed; None where nothing says what it is.

    Raises:
        CorrectInputError: what cannot be, or a place that the instrument does not have.
    """
    what = typed.what.strip()
    if not what:
        return None
    data: dict[str, Any] = {
        "what": what,
        "strings": _numbers(typed.strings, "strings", 1, len(instrument.strings)),
        "frets": _numbers(typed.frets, "frets", 0, instrument.frets),
        "when": [moment for moment in WHENS if moment in typed.when],
        "played": typed.played.strip(),
        "words": typed.words.strip(),
    }
    return _made(Complaint, {name: value for name, value in data.items() if value})


def answer_typed(typed: AnswerTyped) -> Answer | None:
    """Return the answer typed; None where nothing says how it ended.

    Raises:
        CorrectInputError: no such outcome or way of checking, or words without end.
    """
    if not typed.outcome.strip():
        return None
    return _made(Answer, {name: text.strip() for name, text in asdict(typed).items() if text.strip()})


def _made(model: type[Made], data: dict[str, Any]) -> Made:
    try:
        return model.model_validate(data)
    except ValidationError as cause:
        sentence = complaints(cause, model, data)[0].removeprefix("$.")
        given, _, possible = sentence.partition("; it must be ")
        raise CorrectInputError(given, possible, tr("choose another")) from cause


def _numbers(text: str, what: str, low: int, high: int) -> list[int]:
    """Return the numbers typed: with spaces or commas between, a run as `1-5`, `open` for 0, `all` for every one."""
    found: dict[int, None] = {}
    for part in text.replace(",", " ").replace(";", " ").split():
        first, dash, last = part.lower().partition("-")
        if part.lower() == EVERY and what == "strings":
            found |= dict.fromkeys(range(low, high + 1))
            continue
        typed = [first, last] if dash else [first]
        ends = [0 if one == OPEN else whole_within(one, 0, MOST_PLACE) for one in typed]
        if None in ends:
            raise CorrectInputError(
                tr('{what} are "{text}"', what=what, text=text[:40]),
                tr("numbers from {low} to {high}, such as 3, 1-5 or open", low=low, high=high),
                tr("type it again"),
            )
        whole = [end for end in ends if end is not None]
        places = range(whole[0], whole[-1] + 1)
        if not places or places[0] < low or places[-1] > high:
            raise CorrectInputError(
                tr('{what} are "{text}"', what=what, text=text[:40]),
                tr("from {low} to {high}", low=low, high=high),
                tr("type it again"),
            )
        found |= dict.fromkeys(places)
    return list(found)
