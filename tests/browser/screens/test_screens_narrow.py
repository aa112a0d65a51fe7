"""Tables on a phone: no sideways scrolling in their boxes, and still tables to who listens to them."""

import json
import re
from collections.abc import Iterator
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page

from web_fixtures.process import Served
from web_fixtures.rules import WIDTHS, found_by_axe

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

VISIT = "/example/visits/27"
STACKED = (
    f"{VISIT}/plan",
    f"{VISIT}/strings",
    f"{VISIT}/strings/swap?diameter-1=.011in",
    f"{VISIT}/listen/recordings",
    "/example/shop/targets",
)
SCROLLS = """() => [...document.querySelectorAll('.wide:has(table.stack)')]
  .filter(one => one.offsetParent !== null && one.scrollWidth > one.clientWidth + 1)
  .map(one => one.getAttribute('aria-label'))"""
ROLES = ("columnheader", "rowheader", "row", "cell")


@pytest.fixture
def phone(chromium: Browser, looked_at: Served) -> Iterator[Page]:
    """Return a tab of a phone in a bench that works in inches, whose figures are the longest."""
    context = chromium.new_context(viewport={"width": WIDTHS["phone"], "height": 800}, locale="en-GB")
    view = quote(json.dumps({"units": "inch"}))
    context.add_cookies([{"name": "bench-view", "value": view, "url": looked_at.url}])
    yield context.new_page()
    context.close()


def heard(page: Page) -> dict[str, int]:
    """Return how many of each part of a table a screen reader finds, in tables that are there to see."""
    table = page.locator("table.stack:visible").first
    return {role: table.get_by_role(role).count() for role in ROLES}  # type: ignore[arg-type]


@pytest.mark.parametrize("path", STACKED)
def test_a_table_on_a_phone_needs_no_sideways_scrolling_and_stays_a_table(
    path: str, phone: Page, looked_at: Served
):
    phone.goto(looked_at.url + path)
    phone.locator("details[data-fold]").evaluate_all("all => all.forEach(one => { one.open = true; })")
    assert phone.evaluate(SCROLLS) == []
    table, narrow = phone.locator("table.stack:visible").first, heard(phone)
    assert narrow["columnheader"] == table.locator("thead th").count()
    assert narrow["cell"] == table.locator("td:not(:empty)").count() > 0
    phone.set_viewport_size({"width": WIDTHS["desktop"], "height": 800})
    assert heard(phone) == narrow | {"cell": table.locator("td").count()}


def test_the_history_of_an_instrument_fits_a_phone_in_the_visitor_s_unit(phone: Page, looked_at: Served):
    phone.goto(looked_at.url + VISIT)
    phone.locator("dl.facts a").first.click()
    phone.wait_for_url("**/instruments/*")
    history = phone.get_by_role("region", name="Every visit")
    assert (
        history.get_by_role("row").count() == 6
    )  # five visits and the head, as the example's story has them
    # A visit on which nothing had to be done has an empty cell, which a phone does not show.
    assert history.locator("td[role='cell']").count() == 5 * 8
    assert history.get_by_role("cell").count() >= 5 * 8 - 1
    phone.locator("details").evaluate_all("all => all.forEach(one => { one.open = true; })")
    assert phone.evaluate(SCROLLS) == []
    assert found_by_axe(phone) == []
    said = phone.locator("main").inner_text()
    assert "days after the last visit" in said  # what comes due
    assert " mm" not in said
    phone.goto(f"{looked_at.url}/example/search?q=Curlew")
    phone.locator("main a[href*='/instruments/']").first.click()
    phone.wait_for_url("**/instruments/*")
    said = phone.locator("main").inner_text()
    assert "then move it by" in said  # with the seasons
    assert " mm" not in said


@pytest.mark.parametrize("path", [f"{VISIT}/plan", f"{VISIT}/work", "/example/", "/example/shop/settings"])
def test_a_phones_frame_takes_a_third_of_the_290_px_it_took(path: str, phone: Page, looked_at: Served):
    """Header, search, banner and places: 290 px before the first word, measured before it was changed."""
    phone.goto(looked_at.url + path)
    first = phone.locator("main h1").bounding_box()
    assert first is not None and first["y"] <= 290 / 3
    for name in ("#find", ".ribbon .near"):
        assert phone.locator(f"header.top {name}").is_visible()
    places = phone.locator("nav.places a")
    for index in range(places.count()):
        places.nth(index).focus()  # each comes into sight by itself
        box = places.nth(index).bounding_box()
        assert box is not None and box["x"] >= 0 and box["x"] + box["width"] <= WIDTHS["phone"] + 2


def test_a_trip_on_a_phone_shows_drawing_amounts_and_what_it_then_reads_before_any_table(
    phone: Page, looked_at: Served
):
    phone.goto(f"{looked_at.url}{VISIT}/plan")
    order = phone.locator("main").evaluate(
        """main => [...main.querySelectorAll('.trip-drawing svg, ol.lines, ol.lines .under, table')]
          .map(one => one.tagName.toLowerCase())"""
    )
    assert order.index("svg") < order.index("ol") < order.index("p")
    assert "table" not in order[: len(order) - order[::-1].index("ol")]
    card = phone.locator("section.trip").first
    read = re.findall(r"\d\.\d+ ± \d\.\d+ in", card.inner_text())  # this phone reads inches
    assert len(read) >= card.locator("ol.lines > li").count() > 0
