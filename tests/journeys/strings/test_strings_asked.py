"""What the strings and procedures pages ask for: weighings typed, strings taken from the shelf, text kept."""

from datetime import UTC, datetime

import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.procedures.shelf import own_procedures, procedure_from_text
from breakangle.reference.families import family
from breakangle.services.procedures.typed_procedures import (
    NEW_TEXT,
    keep_procedure_text,
    procedure_text_of,
    toml_of,
)
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.strings.request import asked_strings, typed_masses
from breakangle.services.strings.sizes import fitted
from breakangle.services.strings.stock import add_strings, shelf_strings
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp
from breakangle.web.forms.strings import strings_form

pytest_plugins = ["shop_fixtures.shops"]
AT = Stamp("Ada", datetime(2026, 3, 2, 9, tzinfo=UTC))
GUITAR = usual_instrument(family("electric-guitar"), "a guitar")


def test_a_weighing_counts_before_what_is_printed_and_is_as_sure_as_its_digits():
    typed = {"grams-6": "6,71", "length-6": "1000", "printed-6": "6.5", "printed-1": "0.402"}
    masses = typed_masses(GUITAR, strings_form(typed))
    assert (masses[6].source, masses[1].source) == ("weighed", "printed")
    assert masses[6].g_per_m == pytest.approx(6.71)
    rough = typed_masses(GUITAR, strings_form({"grams-6": "6.7", "length-6": "1000"}))
    assert rough[6].uncertainty > 5 * masses[6].uncertainty  # half a tenth of a gram against half a hundredth


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"grams-6": "6.71"}, "string 6: its length is missing"),
        ({"length-2": "1000"}, "string 2: its weight is missing"),
        ({"grams-6": "six", "length-6": "1000"}, 'string 6: weight is "six"'),
        ({"printed-3": "1000000000"}, "unit mass is 1e"),
        ({"printed-3": "1e9"}, 'string 3: mass is "1e9"'),
        ({"printed-3": "nan"}, 'string 3: mass is "nan"'),
    ],
)
def test_a_weighing_that_cannot_be_right_names_its_string_or_figure(typed: dict[str, str], told: str):
    with pytest.raises(CorrectInputError, match=told):
        typed_masses(GUITAR, strings_form(typed))


def test_strings_from_the_shelf_keep_what_was_measured_of_them(shop: Shop):
    single = {
        "kind": "single",
        "strings": [{"make": "plain-steel", "diameter_mm": 0.28, "unit_mass_g_per_m": 0.48}],
    }
    lying = add_strings(shop, AT, "single .28", single, 4).record
    typed = {
        f"{name}-{number}": value
        for number in (1, 2)
        for name, value in (("from", lying.id), ("diameter", "0.28"))
    }
    asked = asked_strings(shop, GUITAR, strings_form(typed))
    assert [(one.string, one.unit_mass_g_per_m) for one in asked.strings] == [(1, 0.48), (2, 0.48)]
    assert [(one.id, count) for one, count in asked.takes] == [(lying.id, 2)]
    assert asked.strings[0] == fitted(GUITAR.in_order()[0], shelf_strings(shop)[0])
    other = asked_strings(
        shop, GUITAR, strings_form({**typed, "diameter-2": "0.3"})
    )  # typed over: not that one any more
    assert [count for _, count in other.takes] == [1]
    assert other.strings[1].unit_mass_g_per_m is None


def test_every_procedure_of_ours_reads_back_from_its_text():
    for name, one in own_procedures().items():
        assert procedure_from_text(toml_of(one), name) == one


def test_a_new_procedure_does_not_take_the_place_of_another(shop: Shop):
    refused = keep_procedure_text(shop, AT, NEW_TEXT.replace("house-wipe", "settle"), "", 0)
    assert "is there already" in refused.problems[0].words
    assert procedure_text_of(shop, "settle").whose == "ours"
    assert not keep_procedure_text(shop, AT, NEW_TEXT, "", 0).problems
    assert procedure_text_of(shop, "house-wipe").whose == "the shop's"
    assert keep_procedure_text(shop, AT, NEW_TEXT, "", 0).problems


@pytest.mark.parametrize(
    ("text", "step", "line", "words"),
    [
        (NEW_TEXT.replace("minutes = 2", "minutes = 2000"), 1, 6, "minutes is 2000"),
        (NEW_TEXT.replace("rank = 35", "rank = = 35"), None, 4, "is not TOML"),
        (NEW_TEXT.replace('title = "The', 'titel = "The'), None, None, "tit"),
        ("", None, None, ""),
        ("x" * 200_000, None, None, "longer than"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(
    shop: Shop, text: str, step: int | None, line: int | None, words: str
):
    kept = keep_procedure_text(shop, AT, text, "", 0)
    first = kept.problems[0]
    assert (first.step, first.line) == (step, line)
    assert words in first.words
    assert kept.text == text
