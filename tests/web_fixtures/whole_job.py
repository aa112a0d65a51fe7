"""A whole job on the screens, from the complaint to the signed sheet, by touch, by keys or by a pedal.

The instrument is made up: its hidden state is read with a gauge and moved by what the records say was done, so that
what is read after work is true of what was done, not of what was planned.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Literal

import numpy as np
from playwright.sync_api import Browser, Locator, Page, expect

from breakangle.model.service import Service
from breakangle.reference.families import family
from breakangle.services.example_workshop.simulated_instrument import MadeUpInstrument
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.reading_places import place_keyed
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.prices import FOOT_KEY, set_setting
from breakangle.storage.records.records import Visit
from breakangle.storage.schema.stamp import Stamp
from web_fixtures.process import Served
from web_fixtures.ready import press, type_in
from web_fixtures.rules import WIDTHS, too_wide_px

Hand = Literal["touch", "pedal", "keys"]
HANDS: dict[str, Hand] = {"phone": "touch", "tablet": "pedal", "desktop": "keys"}
MOST_MOVES = 40
ASKED_AGAIN = "status of 422"  # what the browser says of a form that came back with its questions
FOOT, SIGNED = "F9", "Ada Reed"


@dataclass
class Owner:
    """Who brings it, what they call it and what they say of it, as it is written down."""

    name: str
    instrument: str
    says: str
    what: str
    strings: str = ""
    frets: str = ""
    when: tuple[str, ...] = ()
    strength: str = "medium"
    price: str = "85"


@dataclass
class Job:
    """One visit as one hand does it: `truth` is the instrument that nobody has read yet."""

    page: Page
    served: Served
    hand: Hand
    owner: Owner
    truth: MadeUpInstrument
    number: int = 1
    typed: dict[str, list[str]] = field(default_factory=dict)
    form: str = ""
    adjusted: int = 0
    by_foot: bool = False
    part_way: str = ""

    @property
    def here(self) -> str:
        """Return the address of the visit."""
        return f"{self.served.url}/visits/{self.number}"

    def records(self) -> tuple[Visit, Service]:
        """Return the visit and its service as the records have them, seen from outside the server."""
        shop = shop_at(self.served.folder)
        try:
            visit = visit_numbered(shop, self.number)
            return visit, service_of(shop, visit.id)
        finally:
            shop.close()

    def press(self, what: Locator) -> None:
        """Press a button or a link the way this hand does: a pedal presses nothing, so that hand taps."""
        if self.hand == "keys":
            what.focus()
            press(self.page, "Enter")
        elif self.hand == "touch":
            what.tap()
        else:
            what.click()

    def go(self, place: str) -> None:
        """Go to a place of the visit by the row of places."""
        link = self.page.locator("nav.places").get_by_role("link", name=place, exact=True)
        with self.page.expect_navigation():
            self.press(link)
        self.fits(place)

    def on(self) -> None:
        """Go on to the next box or page; nothing is stored but the box that is left."""
        press(self.page, "PageDown" if self.hand == "pedal" else "Enter")

    def fits(self, place: str) -> None:
        """See that the page is no wider than the screen."""
        assert too_wide_px(self.page) == 0, place

    def take_in(self, button: str = "Take in", only: tuple[str, ...] = ()) -> None:
        """Write down whose it is, what it is, what is wrong with it, what it costs, and when it is promised."""
        page, owner = self.page, self.owner
        page.goto(f"{self.served.url}/visits/new")
        page.locator("#kind").select_option(self.truth.instrument.kind)
        with page.expect_navigation():
            self.press(page.get_by_role("button", name="Go on"))
        self.fits("take in")
        self.form = page.locator("main").text_content() or ""  # what is folded is asked too
        promised = (date.today() + timedelta(days=7)).isoformat()
        boxes = {"owner": owner.name, "contact": "0700 000 001", "name": owner.instrument,
                 "playing_hours_per_week": "6", "complaint": owner.says, "complaint_strings": owner.strings,
                 "complaint_frets": owner.frets, "promised_on": promised, "price": owner.price,
                 "temperature_c": "20", "humidity_percent": "45"}  # fmt: skip
        for name, text in boxes.items():
            if text and (not only or name in only):
                page.locator(f"[name={name}]").fill(text)
        page.locator("[name=complaint_what]").select_option(owner.what)
        if owner.strength != "medium":
            page.locator("[name=hand]").select_option(owner.strength)
        for one in owner.when:
            page.locator(f"[name=complaint_when-{one}]").check()
        with page.expect_navigation():
            self.press(page.get_by_role("button", name=button).first)
        assert page.url.startswith(self.here), page.locator("[role=alert]").all_inner_texts()
        self.fits("taken in")

    def open_on_the_bench(self) -> None:
        """Put it on the bench; the price that was agreed stands on its sheet."""
        page = self.page
        with page.expect_navigation():
            self.press(page.get_by_role("button", name="On the bench"))
        expect(page.get_by_role("button", name="On the bench")).to_have_attribute("aria-current", "true")
        expect(page.locator("table", has_text="Agreed price")).to_contain_text(f"{self.owner.price}.00")

    def tick_as_done(self, *names: str) -> None:
        """Tick procedures that were done the usual way, away from the screen, and store them."""
        self.go("Work")
        for name in names:
            self.page.locator(f"input[name=name][value={name}]").check()
        self.store(self.page.locator("[data-do]"))

    def done(self, procedure: str, most: int = MOST_MOVES) -> int:
        """Do a procedure step by step, each step stored by its button or key; return how many steps it had."""
        page = self.page
        page.goto(f"{self.here}/procedures/{procedure}")
        self.fits(procedure)
        for count in range(most):
            if page.locator("form.moves").count() == 0:
                return count
            self.store(page.locator("form.moves button.big"))
            anyway = page.get_by_role("button", name="Done", exact=True)
            if page.locator("#timer").count() and anyway.count():
                with page.expect_navigation():
                    self.press(anyway)
        raise AssertionError(f"{procedure} does not end")

    def put_on(self, notes: dict[int, str], sizes: dict[int, str]) -> None:
        """Choose new strings and another tuning, see what they would do, and put them on."""
        page = self.page
        self.go("Strings")
        for string, note in notes.items():
            page.locator(f"#n{string}").fill(note)
        for string, size in sizes.items():
            page.locator(f"#d{string}").fill(size)
        self.press(page.locator("#swap-form button.main"))
        on_now = page.locator("#swap form button.main")
        expect(on_now).to_be_visible()
        self.fits("strings")
        with page.expect_navigation():
            self.press(on_now)
        self.catch_up()
        assert {one.string: one.note for one in self.truth.instrument.strings} == notes

    def store(self, button: Locator) -> None:
        """Press what stores, by its key where the hand is on the keys, by the pedal's second key where it has one."""
        page = self.page
        with page.expect_navigation():
            if self.hand == "keys":
                page.evaluate("document.activeElement?.blur?.()")
                press(page, "Control+Enter")
            else:
                self.press(button)

    def read_everything(self) -> None:
        """Read relief, heights, and each string open and at its octave, in the order of the hand.

        The pitch of the first fretted note, which a routine leaves out, stays empty: the sheet may not tell of it.
        """
        if not self.page.url.endswith("/readings"):
            self.go("Readings")
        boxes = self.page.locator("[data-reading]")
        first = {one.string: one.nut_at_fret + 1 for one in self.truth.instrument.strings}
        for key in boxes.evaluate_all("all => all.filter(one => !one.value).map(one => one.dataset.reading)"):
            place = place_keyed(key)
            if not (place.quantity == "pitch" and place.fret == first[place.string]):
                self.read(key)
        expect(self.page.locator("#readings .tag.bad")).to_have_count(0)

    def read(self, key: str) -> None:
        """Read one place and go on, which stores it."""
        shown = self.truth.read(place_keyed(key).blank())
        text = f"{shown['mm']:.2f}" if "mm" in shown else f"{shown['cents']:+.1f}"
        box = self.page.locator(f"#in-{key}")
        box.focus()
        type_in(self.page, text)
        with self.page.expect_response(lambda one: one.url.endswith("/readings/one")):
            self.on()
        self.typed.setdefault(key, []).append(text)

    def read_what_is_asked(self) -> int:
        """Read what the plan asks for until it asks no more; return how many readings that took."""
        page, count = self.page, 0
        while True:
            asked = page.locator("#readings [data-reading]").evaluate_all(
                "all => all.filter(one => !one.value).map(one => one.dataset.reading)"
            )
            if not asked:
                return count
            for key in asked:
                self.read(key)
                count += 1
            assert count < MOST_MOVES
            page.goto(f"{self.here}/plan")

    def catch_up(self) -> None:
        """Let the instrument become what the records say was done to it."""
        work = self.records()[1].work
        for one in work[self.adjusted :]:
            self.truth.adjust(one)
        self.adjusted = len(work)


@contextmanager
def job(
    chromium: Browser, served: Served, width: str, kind: str, owner: Owner, seed: int, alike: float = 0.6
) -> Iterator[Job]:
    """Open the app as the hand of that width does, with an instrument of the kind; a script's error ends it."""
    touch = HANDS[width] != "keys"
    if HANDS[width] == "pedal":
        shop = shop_at(served.folder)
        set_setting(shop, FOOT_KEY, FOOT, Stamp("Ada", datetime.now(UTC)))
        shop.close()
    context = chromium.new_context(
        viewport={"width": WIDTHS[width], "height": 740 if touch else 900},
        has_touch=touch,
        is_mobile=width == "phone",
        locale="en-GB",
    )
    page = context.new_page()
    troubles: list[str] = []
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.on("console", lambda told: troubles.append(told.text) if told.type == "error" else None)
    truth = MadeUpInstrument(
        usual_instrument(family(kind), owner.instrument), np.random.default_rng(seed), alike
    )
    yield Job(page, served, HANDS[width], owner, truth)
    context.close()
    assert [one for one in troubles if ASKED_AGAIN not in one] == []
