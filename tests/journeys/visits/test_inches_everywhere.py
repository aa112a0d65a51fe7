"""A bench that works in inches types inches on the paper pages and at the terminal too."""

import re
from io import BytesIO

import pdfplumber
import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main
from breakangle.cli.render.units import Units
from breakangle.documents.true_size.geometry import Curve, Words
from breakangle.documents.true_size.registry import template_kind
from breakangle.procedures.shelf import own_procedures
from breakangle.procedures.text import procedure_text
from breakangle.reference.routine import orders
from breakangle.services.documents.templates import templates
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.service import service_from

pytest_plugins = ["web_fixtures.at_hand"]
# A word of mm, or a figure that has lost its unit, among words in inches; thickness goes by tenths of itself.
METRIC = re.compile(
    r"\bmm\b|\bmillimetres?\b|(?<!nine )\btenths?\b|\bhundredths\b|\d\.\d+ (?:by|or)\b", re.IGNORECASE
)
# One inch is 25.4 mm exactly (international yard and pound agreement, 1959).


@pytest.fixture
def in_inches(first_sheet: TestClient) -> TestClient:
    """Return the app as a bench sees it that works in inches."""
    first_sheet.post("/view", data={"units": "inch", "back": "/"})
    return first_sheet


def boxes(page: str, kind: str) -> dict[str, str]:
    """Return what a template's form would send if nobody touched it."""
    form = next(
        one for one in re.findall(r"<form.*?</form>", page, re.DOTALL) if f"/template/{kind}.pdf" in one
    )
    chosen = dict(
        re.findall(r'<select[^>]*name="(\w+)">.*?<option value="([^"]*)" selected', form, re.DOTALL)
    )
    return dict(re.findall(r'<input[^>]*name="(\w+)" value="([^"]*)"', form)) | chosen


def test_the_bar_is_typed_in_inches(in_inches: TestClient):
    page = in_inches.get("/visits/1/paper", params={"bar": "3.937"})
    assert page.status_code == 200
    assert "True size: work from it." in page.text
    assert in_inches.get("/visits/1/paper", params={"bar": "100"}).status_code == 422


def test_a_template_s_lengths_are_in_inches(in_inches: TestClient):
    page = in_inches.get("/visits/1/paper").text
    assert "from 0.020 to 0.236 in" in page
    drawn = {
        typed: in_inches.get("/visits/1/template/height-ruler.svg", params={"highest": typed}).text
        for typed in ("0.2", "5.08 mm", "3 mm")
    }
    assert drawn["0.2"] == drawn["5.08 mm"] != drawn["3 mm"]
    for edge in ("0.020", "0.236"):
        answer = in_inches.get("/visits/1/template/height-ruler.svg", params={"highest": edge})
        assert answer.status_code == 200


@pytest.mark.parametrize("kind", [one.name for one in templates()])
def test_a_form_left_as_it_is_draws_the_usual_in_either_unit(in_inches: TestClient, kind: str):
    usual = in_inches.get(f"/visits/1/template/{kind}.svg").text
    untouched = boxes(in_inches.get("/visits/1/paper").text, kind)
    assert not [one for one in untouched.values() if "mm" in one]
    assert untouched.keys() >= {one.name for one in template_kind(kind).options}
    assert in_inches.get(f"/visits/1/template/{kind}.svg", params=untouched).text == usual


@pytest.mark.parametrize("kind", [one.name for one in templates()])
def test_a_template_says_its_lengths_in_inches(in_inches: TestClient, kind: str):
    drawn = in_inches.get(f"/visits/1/template/{kind}.pdf").content
    with pdfplumber.open(BytesIO(drawn)) as found:
        words = " ".join(page.extract_text() for page in found.pages)
    words = re.sub(r"bar is\s+100\s+mm \(3 15/16 in\)|\d+\.\d mm \(\d+\.\d+ in\)", "", words)  # said in both
    assert not METRIC.findall(words)
    assert " in" in words or kind == "radius-gauges"  # which is said in both alone


@pytest.mark.parametrize("name", own_procedures())
def test_a_procedure_says_its_lengths_in_inches(name: str):
    for width in 40, 60, 78, 79, 80:
        told = Units("in").sentence(procedure_text(own_procedures()[name], {}, width))
        assert not METRIC.findall(" ".join(told.split()))


def test_why_an_order_of_work_matters_is_said_in_inches():
    assert not [one.reason for one in orders() if METRIC.search(Units("in").sentence(one.reason))]


def test_a_wedge_s_cheeks_are_marked_in_the_unit_of_who_cuts_them():
    """Derived: 1.27 mm are 0.050 in."""
    service = service_from(example_text().encode(), "heron.json")
    sides = {"wedge_bass": "1.27 mm", "wedge_treble": "2.54 mm"}
    for unit, marks in ("in", {"0.050", "0.100"}), ("mm", {"1.27", "2.54"}):
        parts = template_kind("neck-wedge").drawing(service, sides, unit).parts
        assert marks <= {part.text for part in parts if isinstance(part, Words)}


def test_a_ruler_for_inches_is_graduated_in_them():
    service = service_from(example_text().encode(), "heron.json")
    ruler = template_kind("height-ruler").drawing(service, own_unit="in")
    texts = {part.text: part.at_mm for part in ruler.parts if isinstance(part, Words)}
    assert {
        "action: 8/64 in",
        "relief: 0.04 in",
        "stand on two crowns; lines every 64th of an inch",
    } <= texts.keys()
    stair = next(part for part in ruler.parts if isinstance(part, Curve) and len(part.points_mm) > 4)
    treads = sorted({y for _, y in stair.points_mm if y > 0.0})
    assert [round((y - treads[0]) / (25.4 / 64.0), 6) for y in treads] == list(range(8))
    for way in "mm", "in":
        for kind in templates():
            for option in kind.options:
                assert option.read(option.usual_text(way), way) == option.usual_for(way)


def test_the_terminal_takes_its_own_unit(monkeypatch: pytest.MonkeyPatch, tmp_path, capsys):  # type: ignore[no-untyped-def]
    monkeypatch.chdir(tmp_path)
    (tmp_path / "heron.json").write_text(example_text())
    monkeypatch.setenv("BREAKANGLE_UNITS", "in")
    assert main(["template", "--measured", "3.937"]) == 0
    assert main(["template", "--measured", "100", "--units", "mm"]) == 0
    for typed in ("0.2", "5.08 mm"):
        asked = [
            "template",
            "height-ruler",
            "heron.json",
            "--set",
            f"highest={typed}",
            "--form",
            "svg",
            "--out",
        ]
        assert main([*asked, typed.replace(" ", "") + ".svg"]) == 0
    assert (tmp_path / "0.2.svg").read_text() == (tmp_path / "5.08mm.svg").read_text()
    assert main(["template"]) == 0
    assert (
        "--set highest=8/64  highest step of the stair, in; from 0.020 to 0.236 in" in capsys.readouterr().out
    )


def test_a_weighed_string_s_length_is_in_the_terminal_s_unit(
    monkeypatch: pytest.MonkeyPatch, tmp_path, capsys
):  # type: ignore[no-untyped-def]
    (tmp_path / "heron.json").write_text(example_text())
    told = []
    for variable, length in (("mm", "1270"), ("in", "50"), ("in", "1270mm")):
        monkeypatch.setenv("BREAKANGLE_UNITS", variable)
        assert main(["strings", str(tmp_path / "heron.json"), "--weighed", f"6=6.71/{length}", "--json"]) == 0
        told.append(capsys.readouterr().out)
    assert told[0] == told[1] == told[2]
