"""The air an instrument came into: its boxes hold what is stored, and nobody's newer reading is written over."""

import re

import pytest
from starlette.testclient import TestClient

from breakangle.storage.records.records import Visit
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]


def boxes(bench: TestClient, page: str | None = None) -> dict[str, str]:
    """Return what the form of the arrival holds and would send, hand apart."""
    text = page or bench.get("/visits/1").text
    form = next(one for one in re.findall(r"<form.*?</form>", text, re.DOTALL) if "/arrival" in one)
    return dict(re.findall(r'<input[^>]*name="([^"]*)"[^>]*value="([^"]*)"', form))


def air(bench: TestClient) -> tuple[float | None, float | None]:
    (visit,) = workshop_of(bench).shop().every(Visit)
    return visit.temperature_c, visit.humidity_percent


def keep(bench: TestClient, **typed: str) -> int:
    return bench.post("/visits/1/arrival", data=boxes(bench) | typed).status_code


@pytest.mark.parametrize("language", ["en", "de", "sv"])
@pytest.mark.parametrize("typed, stored", [
    (("21.4", "47.6"), (21.4, 47.6)), (("−5", ""), (-5.0, None)), (("-0,25", "50"), (-0.25, 50.0)),
])  # fmt: skip
def test_keeping_only_the_hand_leaves_the_air_as_it_was(
    first_sheet: TestClient, language: str, typed: tuple[str, str], stored: tuple[float, float | None]
):
    first_sheet.headers["accept-language"] = language
    assert keep(first_sheet, temperature_c=typed[0], humidity_percent=typed[1]) == 200
    assert air(first_sheet) == stored
    assert keep(first_sheet, hand="heavy") == 200
    assert air(first_sheet) == stored
    assert '<option value="heavy" selected>' in first_sheet.get("/visits/1").text


def test_an_old_form_writes_over_nothing_and_shows_both(first_sheet: TestClient):
    keep(first_sheet, temperature_c="20", humidity_percent="50")
    old = boxes(first_sheet)
    assert keep(first_sheet, humidity_percent="35.5") == 200
    # Who changed something else alone is in nobody's way.
    assert first_sheet.post("/visits/1/arrival", data=old | {"hand": "heavy"}).status_code == 200
    assert air(first_sheet) == (20.0, 35.5)
    clash = first_sheet.post("/visits/1/arrival", data=old | {"humidity_percent": "48,5", "hand": "heavy"})
    assert clash.status_code == 409
    for words in ('id="theirs-humidity_percent" value="35.5"', 'name="humidity_percent" value="48,5"'):
        assert words in clash.text
    assert air(first_sheet) == (20.0, 35.5)
    again = boxes(first_sheet, clash.text)
    assert again["temperature_c"] == "20"
    assert first_sheet.post("/visits/1/arrival", data=again | {"hand": "heavy"}).status_code == 200
    assert air(first_sheet) == (20.0, 48.5)
