"""The design page: wishes typed in, the figures of the verb, drawings, and a build that is taken in with its wishes."""

import html
import json
import re

from starlette.testclient import TestClient

from breakangle.cli.main import main

pytest_plugins = ["web_fixtures.at_hand"]
BARITONE = {
    "kind": "electric-guitar", "name": "Bittern", "scale": "686 mm", "tuning": "B3,F#3,D3,A2,E2,B1", "low": "1.6",
    "high": "1.3",
}  # fmt: skip


def test_the_page_says_what_the_verb_says(bench: TestClient, capsys):
    words = [
        "design",
        "electric-guitar",
        "--name",
        "Bittern",
        "--scale",
        "686",
        "--tuning",
        BARITONE["tuning"],
    ]
    assert main([*words, "--action", "1.6/1.3", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    page = bench.get("/design", params=BARITONE).text
    assert f"{told['build']['angle_degrees']:.2f}°" in page
    assert "686 mm, 22 frets" in page
    assert page.count("<tr ") == 1 + sum(one["share"] >= 0.005 for one in told["budget"])
    drawn = bench.get("/design/side.svg", params=BARITONE)
    assert drawn.status_code == 200
    assert "<svg" in drawn.text


def test_a_wish_that_cannot_be_is_said_and_what_was_typed_stays(bench: TestClient):
    page = bench.get("/design", params=BARITONE | {"scale": "2"})
    assert page.status_code == 422
    assert 'value="Bittern"' in page.text
    assert "scale" in page.text
    many = bench.get("/design", params=BARITONE | {"frets": "many"})
    assert many.status_code == 422
    assert "frets is not a number that it can be" in many.text
    other = bench.get("/design/side.bmp", params=BARITONE)
    assert other.status_code == 422
    assert "is not a form of a template" in other.text


def test_a_design_is_taken_in_and_its_visit_wants_what_was_wished(bench: TestClient):
    page = bench.get("/design", params=BARITONE).text
    content = html.unescape(
        re.search(r'<textarea name="content" hidden>(.*?)</textarea>', page, re.S).group(1)
    )
    taken = bench.post("/visits/new/asked/import", data={"content": content, "source": "Design"})
    assert taken.url.path == "/visits/1"
    assert "Bittern" in taken.text
    assert "1.60 mm" in bench.get("/visits/1/plan").text or "1.6" in bench.get("/visits/1/plan").text
    assert bench.get("/visits/1/make/built").status_code == 422, "nothing is read yet"
