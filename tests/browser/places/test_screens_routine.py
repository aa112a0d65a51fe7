"""The routine most visits consist of, a change of strings, from take-in to ready by keyboard, every press counted."""

import re

from playwright.sync_api import Page, expect

from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import InstrumentRecord
from web_fixtures.process import Served
from web_fixtures.ready import press

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

MOST_PRESSES = 25
PROCEDURES = {
    "2": "Strings off",
    "3": "Clean, and oil bare wood",
    "5": "Strings on",
    "6": "Settle the strings",
}


class Keyboard:
    """A keyboard whose presses are counted; typing a name counts a press a letter."""

    def __init__(self, screen: Page) -> None:
        self.screen, self.presses = screen, 0

    def hit(self, key: str) -> None:
        self.presses += len(key.split("+"))  # keys pressed together count each
        press(self.screen, key)

    def leading_to(self, key: str, address: str) -> None:
        with self.screen.expect_navigation(url=re.compile(address)):
            self.hit(key)


def taken_in(screen: Page, keys: Keyboard) -> int:
    """Take in the instrument that is found by three letters, and return its sheet's number."""
    keys.leading_to("n", r"/visits/new$")
    expect(screen.locator("#q")).to_be_focused()  # nobody types before the page is there
    for letter in "wag":
        keys.hit(letter)
    expect(screen.locator("#known")).to_contain_text("Wagtail")
    keys.leading_to("Enter", r"/visits/new\?instrument=")
    keys.leading_to("Control+Enter", r"/visits/\d+$")
    return int(screen.url.rsplit("/", 1)[1])


def test_a_change_of_strings_takes_at_most_25_key_presses(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/")
    keys = Keyboard(screen)
    number = taken_in(screen, keys)
    keys.leading_to("w", r"/work$")
    for key, title in PROCEDURES.items():
        keys.hit(key)
        expect(screen.get_by_role("checkbox", name=re.compile(title))).to_be_checked()
    keys.leading_to("Control+Enter", r"/work$")
    expect(screen.get_by_text("finished")).to_have_count(len(PROCEDURES))
    keys.leading_to("g", r"/strings$")
    keys.hit("o")
    keys.leading_to("Enter", r"/strings$")
    keys.leading_to("v", rf"/visits/{number}$")
    keys.hit("d")
    keys.leading_to("Enter", rf"/visits/{number}")
    expect(screen.get_by_role("button", name="Ready")).to_have_attribute("aria-current", "true")
    print(f"{keys.presses} key presses from take-in to ready")
    assert keys.presses <= MOST_PRESSES
    shop = shop_at(served.folder / "example")
    visit = visit_numbered(shop, number)
    assert visit.state == "ready"
    assert [one.adjust for one in service_of(shop, visit.id).work] == ["restring"]
    record = shop.get(InstrumentRecord, visit.instrument_id)
    assert record.strings_changed_at is not None
    assert record.strings_changed_at > visit.opened_at
    shop.close()
