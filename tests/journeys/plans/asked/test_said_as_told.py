"""An odd string that is right as it is: said so on the plan, seen and taken back on the instrument's page."""

import json
import re

import pytest
from starlette.testclient import TestClient

from breakangle.services.service_files.example import example_text

pytest_plugins = ["web_fixtures.at_hand"]
BUTTON = "String 3 is right as it is"


@pytest.fixture
def odd(bench: TestClient) -> TestClient:
    data = json.loads(example_text("electric-guitar"))
    data["instrument"]["strings"][2]["diameter_mm"] = 0.25
    bench.post("/visits/new/import", files={"file": ("fen.json", json.dumps(data).encode())})
    return bench


def test_it_is_asked_once_however_often_the_button_is_pressed(odd: TestClient):
    assert BUTTON in odd.get("/visits/1/plan").text
    for _ in range(2):
        answer = odd.post("/visits/1/plan/as-told", data={"string": "3"})
        assert answer.status_code == 200
        assert BUTTON not in answer.text
        assert "String 3 at G3 pulls" not in answer.text
    assert odd.post("/visits/1/plan/as-told", data={"string": "9"}).status_code == 422


def test_it_is_seen_and_taken_back_where_the_instrument_is_corrected(odd: TestClient):
    odd.post("/visits/1/plan/as-told", data={"string": "3"})
    (there,) = set(re.findall(r"/instruments/[0-9a-z]+", odd.get("/visits/1").text))
    text = odd.get(there).text
    assert re.search(r'name="as_told_3"><option value="">[^<]*</option><option value="yes" selected>', text)
    assert 'name="as_told_2"' not in text
    seen = re.search(r'name="seen" value="(\d+)"', text)
    assert seen
    sent = {"seen": seen[1], "was_as_told_3": "yes", "as_told_3": ""}
    assert odd.post(there, data=sent).status_code == 200
    assert BUTTON in odd.get("/visits/1/plan").text
