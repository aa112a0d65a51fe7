"""Next is not done: keys and pedal move and store nothing; what is stored is stored once, by its own control.

Compared in the database, not on the page. `python -m bench.keys` is the same on every page, 20 times each.
"""

import time
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from playwright.sync_api import Browser, Page, expect

from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.prices import FOOT_KEY, set_setting
from breakangle.storage.records.entries import entries_of
from breakangle.storage.schema.stamp import Stamp
from web_fixtures.pressed import (
    FRESH,
    LETTERS,
    MOVING,
    Tables,
    loaded,
    places_of,
    pressed_everywhere,
    reckoned,
)
from web_fixtures.process import Served
from web_fixtures.ready import hold, press

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

VISIT = "/example/visits/27"
PAGES = (VISIT, f"{VISIT}/work", f"{VISIT}/procedures/restring", f"{VISIT}/readings", f"{VISIT}/plan")
TIMES = 3
BOX = "#in-gap_5_12_h1"


@pytest.fixture(scope="module")
def tab(chromium: Browser, looked_at: Served) -> Iterator[Page]:
    """Return one tab for all pages; what pages work out of the records and keep is kept already."""
    context = chromium.new_context(viewport={"width": 1440, "height": 900}, locale="en-GB")
    page = context.new_page()
    reckoned(page, looked_at.url)
    yield page
    context.close()


@pytest.mark.parametrize("path", PAGES)
def test_no_key_stores_on_a_page_as_it_is_loaded(tab: Page, looked_at: Served, path: str):
    tables = Tables(looked_at.folder)
    for ways, keys in (((False, True), MOVING), ((False,), LETTERS)):
        for tried in pressed_everywhere(tab, looked_at.url, path, keys, TIMES, [FRESH], ways):
            assert tables.changed() == [], tried
    assert tables.changed(thorough=True) == []
    tables.close()


@pytest.mark.parametrize("path", [PAGES[2], PAGES[4]])
def test_no_moving_key_stores_from_any_kind_of_place(tab: Page, looked_at: Served, path: str):
    tables = Tables(looked_at.folder)
    loaded(tab, f"{looked_at.url}{path}")
    places = places_of(tab, one_of_each=True, links=False)
    assert len(places) >= 4
    for tried in pressed_everywhere(tab, looked_at.url, path, ("Space", "Enter"), 2, places):
        assert tables.changed() == [], tried
    tables.close()


def entries(served: Served) -> int:
    shop = shop_at(served.folder / "example")
    try:
        return len(entries_of(shop, visit_numbered(shop, 27).id))
    finally:
        shop.close()


def test_enter_in_a_box_stores_that_box_once_and_undo_takes_it_back(screen: Page, served: Served):
    before = entries(served)
    screen.goto(f"{served.url}{VISIT}/readings")
    was = screen.locator(BOX).input_value()
    now = f"{float(was) + 0.01:.2f}"  # the same figure typed again would not be stored again
    screen.locator(BOX).fill(now)
    hold(screen, "Enter")
    told = screen.locator("#told-gap_5_12_h1")
    expect(told).to_contain_text(f"{now} mm kept")
    assert entries(served) == before + 1
    told.get_by_role("button", name="Undo").click()
    expect(told).to_contain_text("taken back")
    expect(screen.locator(BOX)).to_have_value(was)
    told.get_by_role("button", name="Redo").click()
    expect(told).to_contain_text(f"{now} mm kept")
    expect(screen.locator(BOX)).to_have_value(now)
    assert entries(served) == before + 3
    screen.reload()
    expect(screen.locator(BOX)).to_have_value(now)
    # The other form of the page, by Enter in a box of text, however long it is held.
    screen.goto(f"{served.url}{VISIT}")
    screen.get_by_label("Owner's complaint").or_(screen.locator("#complaint")).first.fill("buzzes at the 3rd")
    with screen.expect_navigation():
        hold(screen, "Enter")
    shop = shop_at(served.folder / "example")
    visit = visit_numbered(shop, 27)
    shop.close()
    assert visit.complaint == "buzzes at the 3rd"


def test_a_line_is_ticked_and_stored_by_its_button_or_key_and_undone(screen: Page, served: Served):
    tables = Tables(served.folder)
    screen.goto(f"{served.url}{VISIT}/plan")
    first = screen.locator("ol.lines input[type=checkbox]").first
    title = first.get_attribute("data-about") or "?"
    before = work(served)
    with screen.expect_navigation():
        press(screen, "Control+Enter")
    assert work(served) == before + 1
    assert any("/entry" in one for one in tables.changed())  # what watches the tables sees what is stored
    expect(screen.locator(".stored form").first).to_contain_text(title)
    with screen.expect_navigation():
        screen.get_by_role("button", name="Undo").first.click()
    assert work(served) == before
    expect(screen.locator(".stored form").first).to_contain_text("taken back")
    with screen.expect_navigation():
        screen.get_by_role("button", name="Redo").first.click()
    assert work(served) == before + 1
    lines = screen.locator("section.trip").first.locator("ol.lines input[type=checkbox]")
    ticked = min(lines.count(), 3)
    for index in range(ticked):
        lines.nth(index).check()
    with screen.expect_navigation():
        screen.locator("#done").click()
    assert work(served) == before + 1 + ticked
    tables.close()


def work(served: Served) -> int:
    shop = shop_at(served.folder / "example")
    try:
        return len(service_of(shop, visit_numbered(shop, 27).id).work)
    finally:
        shop.close()


def test_a_pedals_second_key_shows_what_is_about_to_be_stored_and_stores_it_a_second_later(
    screen: Page, served: Served
):
    shop = shop_at(served.folder / "example")
    set_setting(shop, FOOT_KEY, "F9", Stamp("Ada", datetime.now(UTC)))
    shop.close()
    before = work(served)
    screen.goto(f"{served.url}{VISIT}/plan")
    about = screen.locator("#about-to")
    title = screen.locator("ol.lines input[type=checkbox]").first.get_attribute("data-about") or "?"
    hold(screen, "F9")
    expect(about).to_contain_text(title)
    hold(screen, "F9")  # at once: it begins again
    time.sleep(1.1)
    press(screen, "PageDown")  # any other key leaves it
    expect(about).to_be_empty()
    press(screen, "F9")
    time.sleep(0.5)
    press(screen, "F9")  # too soon
    hold(screen, "PageDown")
    assert work(served) == before
    press(screen, "F9")
    expect(about).to_contain_text("About to be stored")
    hold(screen, "F9", 12, every_s=0.1)  # for longer than the second: repeats count for nothing
    assert work(served) == before
    time.sleep(1.1)
    with screen.expect_navigation():
        press(screen, "F9")
    assert work(served) == before + 1
    # Elsewhere, and in a shop that chose none, the key does nothing.
    screen.goto(f"{served.url}{VISIT}/paper")
    for _ in range(2):
        press(screen, "F9")
        time.sleep(1.1)
    assert work(served) == before + 1
