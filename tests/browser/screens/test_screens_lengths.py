"""Lengths on the screens: small ones in inches, winds in the visitor's unit; and a few words beside them."""

import re

import pytest
from starlette.testclient import TestClient

from breakangle.drawings.figures import length_number, length_text
from breakangle.model.measure import inch_decimals
from breakangle.reference.families import family
from breakangle.services.history.timeline import timeline
from breakangle.services.plans.charts import history_chart, points_of
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.strings.shelf import add_stock
from breakangle.services.strings.stock import add_strings
from breakangle.services.strings.winding import wind
from breakangle.services.visits.entries import do_adjustment, take_reading
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA, GAP, ROD
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]
# One inch is 25.4 mm exactly (international yard and pound agreement, 1959).
FIGURE = r"\d\.\d+ ± \d\.\d+"


@pytest.fixture
def in_inches(first_sheet: TestClient) -> TestClient:
    """Return the app as a bench sees it that works in inches."""
    first_sheet.post("/view", data={"units": "inch", "back": "/"})
    return first_sheet


def test_lengths_that_differ_by_a_hundredth_of_a_millimetre_differ_in_inches_where_it_matters():
    told = [length_number(step / 100, "inch") for step in range(-10, 11)]
    assert len(set(told)) == len(told)
    assert (length_number(0.02, "inch"), length_number(-0.02, "inch")) == ("0.0008", "−0.0008")
    assert length_number(1.5, "inch") == "0.059"
    assert length_number(0.02, "mm") == "0.02"


def test_a_length_and_its_doubt_are_written_alike():
    assert length_text(0.02, "inch", 0.02) == "0.0008 ± 0.0016 in"
    assert length_text(1.5, "inch", 0.02) == "0.059 ± 0.002 in"
    assert (
        length_text(1.5, "inch", 0.005) == "0.0591 ± 0.0004 in"
    )  # to a thousandth the doubt would read as none
    assert (inch_decimals(0.0), inch_decimals(0.3, 0.02), inch_decimals(0.3)) == (3, 4, 3)


def test_nut_clearances_tell_something_in_inches(in_inches: TestClient):
    plan = in_inches.get("/visits/1/plan?part=yes").text
    rows = re.findall(r"<tr role=\"row\"><th[^>]*>Nut clearance.*?</tr>", plan, re.DOTALL)
    figures = [one for row in rows for one in re.findall(FIGURE, row)]
    assert len(figures) == 3 * len(rows) > 0
    assert all(re.fullmatch(r"\d\.\d{4} ± \d\.\d{4}", one) for one in figures)
    assert all(float(one.split()[0]) > 0 for one in figures)
    boxes = re.findall(
        r'<input id="in-gap_\d_1_h3"[^>]* value="([^"]+)"', in_inches.get("/visits/1/readings").text
    )
    assert len(boxes) == len(rows)
    assert all(len(one) == (6 if float(one) < 0.0039 else 5) for one in boxes)


@pytest.mark.parametrize("post", ["plain", "slotted", "locking", "roller", "bass"])
def test_winds_on_posts_are_said_in_the_visitor_s_unit(in_inches: TestClient, post: str):
    page = in_inches.get("/visits/1/strings", params={"post": post}).text
    said = page[page.index('<option value="plain"', page.index('id="post"')) :]
    assert re.findall(r"[^>]*\d mm\b", said) == []
    mark = re.search(r"([\d.]+) in past the post", said)
    assert (mark is None) == (post == "locking")


def test_winds_on_posts_are_said_to_a_tenth_of_a_millimetre(first_sheet: TestClient):
    page = first_sheet.get("/visits/1/strings").text
    assert "Leave 25.0 mm of spare end" in page
    found = wind(0.254, 3.0)
    assert f"a mark {found.mark_past_mm:.1f} mm past the post" in " ".join(found.sentences)


def ended(shop: Shop, *left: dict[str, object]) -> str:
    """Return an instrument that came in, was read at string 6, adjusted, and read again as given."""
    record = add_instrument(shop, ADA, usual_instrument(family("electric-guitar"), "Rook"))
    visit = open_visit(shop, ADA, record)
    take_reading(shop, visit.id, GAP | {"mm": 2.0}, ADA)
    do_adjustment(shop, visit.id, ROD, ADA)
    for one in left:
        take_reading(shop, visit.id, one, ADA)
    return record.id


def told_of(bench: TestClient, *left: dict[str, object]) -> str:
    shop = shop_at(workshop_of(bench).folder)
    key = ended(shop, *left)
    shop.close()
    page = bench.get(f"/instruments/{key}").text
    row = page[page.index('data-label="Action, mm"') :]
    return re.sub(r"<[^>]*>|\s+", " ", row[row.index(">") + 1 : row.index("</td>")]).strip()


def test_ends_of_a_visit_that_do_not_compare_say_so(bench: TestClient):
    assert (
        re.sub(" +", " ", told_of(bench, GAP | {"string": 1, "mm": 1.5})) == "2.00 then 1.50 at other places"
    )
    assert re.sub(" +", " ", told_of(bench)) == "2.00 not read after the work"
    assert told_of(bench, GAP | {"mm": 1.8}) == "2.00 → 1.80"


def test_the_page_says_why_two_ends_do_not_compare_only_where_they_do_not(bench: TestClient):
    shop = shop_at(workshop_of(bench).folder)
    apart, alike = ended(shop, GAP | {"string": 1, "mm": 1.5}), ended(shop, GAP | {"mm": 1.8})
    drawn = history_chart(points_of(timeline(shop, apart)))
    shop.close()
    why = "readings at other places than it began with"
    assert why in bench.get(f"/instruments/{apart}").text
    assert why not in bench.get(f"/instruments/{alike}").text
    assert "1.50 (other places)" in drawn.table.rows[0]
    assert "action 1.50 mm, as left, read at other places than it was found" in drawn.svg


def test_a_gauge_is_asked_for_in_words_of_the_bench(bench: TestClient):
    page = bench.get("/shop/lists/gauge").text
    assert "deviation" not in page
    # Of readings that scatter normally, 68 in 100 lie within one and 95 within two standard deviations of the mean.
    assert "two in three of its readings lie within this ±" in page
    assert "nineteen in twenty within twice it" in page


def test_only_what_may_be_a_set_is_offered_as_one(first_sheet: TestClient):
    shop = shop_at(workshop_of(first_sheet).folder)
    steel = [{"make": "plain-steel", "diameter_mm": 0.3 + 0.1 * number} for number in range(6)]
    for words, strings in (("a six", steel), ("a four", steel[:4]), ("one", steel[:1])):
        kind = "single" if len(strings) == 1 else "pack"
        add_strings(shop, ADA, words, {"kind": kind, "strings": strings}, 2)
    add_stock(shop, ADA, "a set by its words", 1)
    add_stock(shop, ADA, "a set that is gone", 0)
    shop.close()
    page = first_sheet.get("/visits/1/strings").text
    offered = page[page.index('<select id="shelf"') :]
    offered = offered[: offered.index("</select>")]
    assert re.findall(r"<option[^>]*>([^<]*) \(", offered) == ["a six", "a set by its words"]
