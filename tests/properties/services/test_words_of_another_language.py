"""Units, ranges and reasons in sentences of another language: found there as they are in English, and in its words."""

from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest

from breakangle.documents.renderers.page_units import sentence_in_inches
from breakangle.drawings.sheet import legible
from breakangle.drawings.text_width import text_width
from breakangle.model.words import speech
from breakangle.model.words.said import frets_in_words, said_in, strings_in_words
from breakangle.model.words.speech import mark, tr
from breakangle.planning.explain.questions import keys_in_words
from breakangle.planning.kinds.reading_names import sort_named
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.services.history.drift import reason_of
from breakangle.services.history.seasons import due_for
from breakangle.services.visits.reasons import CLEARED, reason_said
from breakangle.storage.records.records import InstrumentRecord

WORDS = {
    "{first} to {last}": "{first} bis {last}",
    " and {parts}": " und {parts}",
    "to within about a tenth of a millimetre": "auf etwa einen Zehntelmillimeter",
    "to within about five thousandths of an inch": "auf etwa fünf Tausendstel Zoll",
    "taken away": "weggenommen",
    "{name} of {strings_in_words}": "{name} der {strings_in_words}",
}
COUNTED = {
    "string {numbers}": ("Saite {numbers}", "Saiten {numbers}"),
    "fret {numbers}": ("Bund {numbers}", "Bünde {numbers}"),
}
KEYED = {"due.strings": "seit {days} Tagen auf dem Instrument"}


class German:
    """A catalogue of the few words that these tests say, as gettext gives them."""

    def gettext(self, sentence: str) -> str:
        return WORDS.get(
            sentence, str.__str__(sentence) if type(sentence) is str else WORDS.get(sentence, "?")
        )

    def ngettext(self, one: str, more: str, count: int) -> str:
        return COUNTED[one][count != 1] if one in COUNTED else (one if count == 1 else more)

    def pgettext(self, key: str, sentence: str) -> str:
        return KEYED.get(key, sentence)


@pytest.fixture
def german() -> Iterator[None]:
    token = speech._spoken.set(("de", German()))  # type: ignore[arg-type]
    yield
    speech._spoken.reset(token)


def in_inches(coarse: bool, mm: float, wide_mm: float) -> tuple[str, str]:
    del coarse
    return f"{mm / 25.4:.3f}", f"{wide_mm / 25.4:.3f}"


@pytest.mark.usefixtures("german")
def test_both_ends_of_a_range_are_in_the_unit_asked_for():
    assert said_in("Relief 0.10 bis 0.15 mm ± 0.02.", in_inches, "in") == "Relief 0.004 bis 0.006 in ± 0.001."


def test_range_in_english_is_in_the_unit_asked_for():
    assert said_in("relief 0.10 to 0.15 mm", in_inches, "in") == "relief 0.004 to 0.006 in"


@pytest.mark.usefixtures("german")
def test_how_sure_a_length_is_turns_into_inches():
    sure = tr("to within about a tenth of a millimetre")
    assert sentence_in_inches(f"Die Saitenlage ist {sure} bekannt.") == (
        "Die Saitenlage ist auf etwa fünf Tausendstel Zoll bekannt."
    )


@pytest.mark.usefixtures("german")
def test_strings_and_frets_have_words_of_their_own():
    assert strings_in_words([1, 2, 3, 6]) == "Saiten 1 bis 3 und 6"
    assert frets_in_words([7, 8, 9, 14]) == "Bünde 7 bis 9 und 14"
    assert frets_in_words([9]) == "Bund 9"


@pytest.mark.usefixtures("german")
def test_adjusters_are_said_in_the_language_spoken(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(WORDS, adjustment_kinds()["nut-slot"].words, "Sattelkerben")
    assert keys_in_words(["nut-slot_1", "nut-slot_6"]) == "Sattelkerben der Saiten 1 und 6"


@pytest.mark.usefixtures("german")
def test_marked_words_are_drawn_and_measured_as_they_are_said():
    words = mark("taken away")
    assert legible(words) == "weggenommen"
    assert text_width(words, 10.0) == text_width("weggenommen", 10.0)


@pytest.mark.usefixtures("german")
def test_marked_words_measured_in_english_first_are_measured_again():
    words = mark("taken away")
    token = speech._spoken.set(None)
    english = text_width(words, 10.0)
    speech._spoken.reset(token)
    assert text_width(words, 10.0) != english


@pytest.mark.usefixtures("german")
def test_reasons_are_stored_as_keys_and_said_as_words():
    assert type(CLEARED) is str
    assert reason_said(CLEARED) == "weggenommen"
    assert reason_said("typed wrongly") == "typed wrongly"
    assert reason_said(None) == ""


@pytest.mark.usefixtures("german")
def test_reason_why_strings_are_due_is_stored_without_words():
    day = datetime(2027, 3, 1, tzinfo=UTC)
    record = InstrumentRecord(
        **dict.fromkeys(InstrumentRecord.__dataclass_fields__) | {"strings_changed_at": day}
    )
    (due,) = due_for(record, {}, ())
    stored = due.reason.model_dump_json(exclude_defaults=True)
    assert "instrument" not in stored
    assert due.why == f"seit {due.reason.values['days']} Tagen auf dem Instrument"
    assert reason_of(stored) == due.reason
    assert due.on > date(2027, 3, 1)


def test_reasons_stored_as_sentences_before_are_shown_as_they_stand():
    from breakangle.reference.messages import words

    assert words(reason_of("180 days on the instrument")) == "180 days on the instrument"


@pytest.mark.parametrize(
    ("reading", "sort"),
    [
        (Gap(quantity="gap", string=6, fret=12, held=(1,), mm=1.8), "Action, fret 12 with fret 1 held"),
        (Pitch(quantity="pitch", string=2, fret=0, cents=0.0), "Pitch, open"),
        (Pitch(quantity="pitch", string=2, fret=12, cents=0.0), "Pitch, fret 12"),
        (Pitch(quantity="pitch", string=2, fret=0, harmonic=2, cents=0.0), "Pitch, octave harmonic"),
    ],
)
def test_sort_of_a_reading_names_no_string(reading: Gap | Pitch, sort: str):
    assert sort_named(reading) == sort
