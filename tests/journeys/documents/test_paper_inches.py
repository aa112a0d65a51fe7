"""Paper in the reader's unit, and every reading on the bench sheet; pull in pounds and action in 64ths on screens."""

import re

import pytest
from starlette.testclient import TestClient

from breakangle.documents.renderers.page import Boxes, Heading, Letterhead, Page, Paragraph, Table
from breakangle.documents.renderers.page_units import in_inches
from breakangle.model.measure import POUND_FORCE_N, parse_length, sixty_fourths
from breakangle.services.documents.labels import label_of
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.visits.entries import take_reading
from breakangle.storage.records.records import Gauge, Visit
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]
# A length in mm, but not a slope in mm per mm, which has no unit.
LEFT_IN_MM = re.compile(r"\d\s?mm\b(?! per)|millimetre")


def first_visit(client: TestClient) -> tuple[Shop, Visit]:
    shop = workshop_of(client).shop()
    return shop, shop.every(Visit, number=1)[0]


def test_a_page_in_inches_holds_the_same_lengths():
    """Derived: 25.4 mm are an inch, exactly."""
    page = Page(
        kind="Sheet", title="Rook", letterhead=Letterhead("Shop"), facts=(("Scale", "635 mm, 22 frets"),),
        blocks=(
            Heading("Found"),
            Paragraph("Raise it 0.51 mm ± 0.05, by ear 3.0 cents; from 0.05 to 0.30 mm."),
            Table("", ("string", "action, mm", "cents"), (("6", "≈ 1.52", "1.5"), ("1", "not read", "–"))),
            Table("", ("", "came"), (("Relief, mm", "0.25 to 0.30"), ("Intonation, cents", "2.5"))),
            Boxes("", ("String", "Action, mm"), (("6 E2", "1.52"),), (("", "1.27 ± 0.25"),)),
        ),
    )  # fmt: skip
    told = in_inches(page)
    assert told.facts == (("Scale", "25.00 in, 22 frets"),)
    paragraph, strings, kinds, boxes = told.blocks[1:]
    assert isinstance(paragraph, Paragraph)
    assert paragraph.text == "Raise it 0.020 in ± 0.002, by ear 3.0 cents; from 0.0020 to 0.012 in."
    assert isinstance(strings, Table)
    assert strings.head == ("string", "action, in", "cents")
    # An action has its 64ths beside it, as the trade says it: 1.52 / 25.4 × 64 = 3.8. Derived.
    assert strings.rows == (("6", "≈ 0.060 (4/64)", "1.5"), ("1", "not read", "–"))
    assert isinstance(kinds, Table)
    assert kinds.rows == (("Relief, in", "0.010 to 0.012"), ("Intonation, cents", "2.5"))
    assert isinstance(boxes, Boxes)
    assert (boxes.rows, boxes.small) == ((("6 E2", "0.060 (4/64)"),), (("", "0.050 ± 0.010 (3/64)"),))


@pytest.mark.parametrize("sheet", ["hand-back", "bench"])
def test_no_sheet_in_inches_has_a_length_in_mm(first_sheet: TestClient, sheet: str):
    shop, visit = first_visit(first_sheet)
    text = sheet_file(shop, visit, sheet, "txt", inch=True).decode()
    # A string's size stands in both units, as makers print it.
    left = [line for line in text.splitlines() if LEFT_IN_MM.search(line) and "steel" not in line]
    assert left == []
    assert " in" in text
    assert LEFT_IN_MM.search(sheet_file(shop, visit, sheet, "txt").decode())


def test_paper_from_the_screens_follows_their_unit(first_sheet: TestClient):
    first_sheet.post("/view", data={"units": "inch"})
    assert "25." in first_sheet.get("/visits/1/paper/bench.txt").text.split("Scale")[1][:30]


def test_a_label_in_inches_has_no_mm(first_sheet: TestClient):
    shop, visit = first_visit(first_sheet)
    plain, told = (dict(label_of(shop, visit, inch=inch).settings) for inch in (False, True))
    assert plain.keys() == told.keys()
    assert all(text.endswith("mm") for text in plain.values())
    for name, text in told.items():
        mm, inches = (re.findall(r"\d+\.\d+", one) for one in (plain[name], text))
        assert text.endswith(" in")
        assert [float(one) * 25.4 for one in inches] == pytest.approx([float(one) for one in mm], abs=0.013)


def test_every_reading_taken_stands_on_the_bench_sheet(bench: TestClient, first_sheet: TestClient):
    del bench
    shop, visit = first_visit(first_sheet)
    for reading in (
        {"quantity": "pitch", "string": 6, "fret": 0, "hz": 82.31},
        {"quantity": "pitch", "string": 6, "fret": 12, "hz": 165.02},
        {"quantity": "gap", "string": 3, "fret": 7, "held": [1, 15], "mm": 0.23},
        {"quantity": "gap", "string": 4, "fret": 5, "held": [], "mm": 0.91},
    ):
        take_reading(shop, visit.id, reading, ADA)
    text = sheet_file(shop, visit, "bench", "txt").decode()
    rows = [
        ("Pitch, open, Hz", "82.31"),
        ("Pitch, fret 12, Hz", "165.02"),
        ("fret 7 with frets 1 and 15 held, mm", "0.23"),
        ("fret 5 of the open string, mm", "0.91"),
    ]
    for sort, said in rows:
        assert re.search(rf"{sort}\n(?:.+\n)*?.*{re.escape(said)}", text), text


def test_pull_in_pounds_and_action_in_64ths_where_inches_are_read(first_sheet: TestClient):
    assert sixty_fourths(1.5875) == "4/64"  # derived: 25.4 / 16
    assert sixty_fourths(1.40) == "3.5/64"  # derived: 1.40 / 25.4 * 64 = 3.53
    assert parse_length("3.5/64", "mm").mm == pytest.approx(1.3890625)  # derived: 25.4 * 3.5 / 64
    assert pytest.approx(16.0, abs=0.001) == 71.17 / POUND_FORCE_N
    assert " lb)" not in first_sheet.get("/visits/1/strings").text
    first_sheet.post("/view", data={"units": "inch"})
    asked = first_sheet.get("/visits/1/hand-back").text
    assert re.search(r"\d[ \u00a0]in\b", asked), asked
    assert not re.search(r"\d[ \u00a0]mm\b", asked), asked
    page = first_sheet.get("/visits/1/strings").text
    pulls = re.findall(r"([\d.]+) ± [\d.]+ N \(([\d.]+) lb\)", page)
    assert len(pulls) >= 4
    for newton, pounds in pulls:
        # Derived: half of the last place printed, of the pounds and of the newtons (whole ones in a sum).
        assert float(pounds) == pytest.approx(
            float(newton) / 4.448222, abs=0.06 if "." in newton else 0.05 + 0.5 / 4.448222 + 1e-6
        )
    # The readings page asks for this part when what came before is wanted.
    assert re.search(r"\d in \([\d.]+/64\)", first_sheet.get("/visits/1/late?trip=0").text)


def test_a_gauges_spread_is_typed_and_shown_in_inches_and_kept_where_nobody_touched_it(
    first_sheet: TestClient,
):
    shop, _ = first_visit(first_sheet)
    gauge = shop.add(Gauge, ADA, name="feelers", quantity="gap", spread=0.0213, notes="")
    first_sheet.post("/view", data={"units": "inch"})
    assert 'value="0.0008 in"' in first_sheet.get("/shop/lists/gauge").text  # derived: 0.0213 / 25.4
    kept = {"name": "feelers", "quantity": "gap", "spread": "0.0008 in", "notes": "zeroed"}
    for typed, mm in (
        ("0.0008 in", 0.0213),
        (".001", 0.0254),
    ):  # derived: a thousandth of an inch is 0.0254 mm
        seen = str(shop.get(Gauge, gauge.id).version)
        first_sheet.post(f"/shop/lists/gauge/{gauge.id}", data=kept | {"spread": typed, "seen": seen})
        assert shop.get(Gauge, gauge.id).spread == pytest.approx(mm, abs=1e-9)
