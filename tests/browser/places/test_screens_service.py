"""A service as a person does it on the screens: from take-in to ready, by keyboard alone and by touch."""

import re

import numpy as np
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from breakangle.model.service import Service
from breakangle.reference.families import family
from breakangle.services.example_workshop.simulated_instrument import MadeUpInstrument
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.reading_places import place_keyed
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import Visit
from web_fixtures.process import Served
from web_fixtures.ready import press, press_in, ready, type_in
from web_fixtures.rules import WIDTHS
from web_fixtures.widths import widths_px

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

SEED, MOST_MOVES = 11, 120
BOXES = (
    2 + 5 * 4
)  # relief at the outer strings; action, first-fret gap, open, first- and 12th-fret pitch of each


def shop_visit(served: Served, number: int, folder: str = "") -> tuple[Visit, Service]:
    """Return the visit as the records have it, seen from outside the server."""
    shop = shop_at(served.folder / folder if folder else served.folder)
    try:
        visit = visit_numbered(shop, number)
        return visit, service_of(shop, visit.id)
    finally:
        shop.close()


def invented() -> MadeUpInstrument:
    return MadeUpInstrument(usual_instrument(family("bass-four"), "Dunlin"), np.random.default_rng(SEED))


def reads(one: MadeUpInstrument, key: str) -> str:
    """Return what the gauge shows at the place of a box, as a person types it."""
    shown = one.read(place_keyed(key).blank())
    return f"{shown['mm']:.2f}" if "mm" in shown else f"{shown['cents']:+.1f}"


def box_with_focus(page: Page) -> str | None:
    """Return the place of the box that has the focus; None where no reading box has it and none is empty."""
    for _ in range(200):
        found = page.evaluate("document.activeElement?.dataset?.reading ?? null")
        if found is not None:
            return str(found)
        if page.locator("[data-reading]").evaluate_all("all => all.every(one => one.value !== '')"):
            return None
        page.wait_for_timeout(50)
    raise AssertionError("there is an empty box, and none has the focus")


def take_in_by_keyboard(page: Page, served: Served) -> None:
    """Take in a new instrument with keys alone, and stand on its sheet."""
    page.goto(f"{served.url}/visits/new")
    press(page, "Tab")  # past the search, to what it is
    type_in(page, "bass guitar, fo")
    for key in ("Tab", "Enter"):
        press(page, key)
    page.wait_for_url("**/visits/new?kind=bass-four")
    for words in ("Ida Marlow", "ida@example.org", "Dunlin", "buzzes low down"):
        type_in(page, words)
        press(page, "Enter")
    for name in (
        "complaint_what",
        "complaint_strings",
        "complaint_frets",
        "complaint_played",
        "came_in_on",
        "promised_on",
        "hand",
        "price",
    ):
        assert page.evaluate("document.activeElement.name") == name
        press(page, "Enter")  # passed by: not said
    for words in ("21", "44", "6"):
        type_in(page, words)
        press(page, "Enter")
    # Sizes and strings are folded: after the last box the button is in view, and one more Enter stores nothing.
    press(page, "Enter")
    assert page.evaluate("document.activeElement.matches('input')")
    expect(page.locator("button[data-after]")).to_be_in_viewport()
    press(page, "Control+Enter")
    page.wait_for_url("**/visits/1")
    assert "Dunlin" in (page.locator("h1").text_content() or "")


def read_everything(page: Page, served: Served, one: MadeUpInstrument) -> dict[str, str]:
    """Type a reading into every box, the server killed and started again on the way; return what was typed."""
    typed: dict[str, str] = {}
    alive = True
    while (key := box_with_focus(page)) is not None:
        if len(typed) == 6 and alive:
            alive = False
            served.kill()
        if len(typed) == 9 and not alive:
            expect(page.locator(f"#told-{list(typed)[-1]}")).to_contain_text("kept on this device")
            expect(page.locator("#queued")).to_contain_text("readings are kept on this device")
            page.reload()  # as it was last seen, with what this device has kept
            for place, text in list(typed.items())[6:]:
                expect(page.locator(f"#in-{place}")).to_have_value(text)
                expect(page.locator(f"#told-{place}")).to_contain_text("kept on this device")
            served.start()
            alive = True
            key = box_with_focus(page) or ""
        # The page as last seen may lack what was stored since: the same figure typed again is not stored again.
        typed[key] = typed.get(key) or reads(one, key)
        type_in(page, typed[key])
        press(page, "Enter")
        assert len(typed) < MOST_MOVES
    return typed


def follow_the_plan(page: Page, served: Served, one: MadeUpInstrument) -> int:
    """Do what the plan says and read what it asks for, with keys alone; return how many steps were done."""
    done = 0
    for _ in range(MOST_MOVES):
        key = box_with_focus(page)
        if key is not None and page.evaluate("document.activeElement.value") == "":
            type_in(page, reads(one, key))
            press(page, "Enter")
            expect(page.locator(f"#told-{key}")).to_contain_text("kept")
            continue
        expect(page.locator("#verdict")).to_be_visible()
        if page.locator("#done").count() == 0:
            return done
        page.evaluate("document.activeElement.blur()")
        with page.expect_navigation():
            press(page, "Control+Enter")
        _, service = shop_visit(served, 1)
        done += 1
        assert len(service.work) == done
        one.adjust(service.work[-1])
    raise AssertionError("the plan does not end")


@pytest.mark.parametrize("width", widths_px("phone"))
def test_a_routine_service_by_keyboard_alone_with_the_server_killed_on_the_way(
    screen: Page, served: Served, width: int
):
    screen.set_viewport_size({"width": width, "height": 900})
    one = invented()
    take_in_by_keyboard(screen, served)
    for key in ("b", "Enter"):
        press(screen, key)
    expect(screen.get_by_role("button", name="On the bench")).to_have_attribute("aria-current", "true")
    press(screen, "PageDown")
    screen.wait_for_url("**/visits/1/readings")
    typed = read_everything(screen, served, one)
    assert len(typed) == BOXES
    expect(screen.locator("#queued")).to_be_empty(timeout=30_000)
    expect(screen.locator("#readings .tag.bad")).to_have_count(0)
    screen.reload()
    for key, text in typed.items():
        shown = screen.locator(f"#in-{key}").input_value().replace("\N{MINUS SIGN}", "-")
        assert float(shown) == pytest.approx(float(text), abs=0.005), key
    _, service = shop_visit(served, 1)
    assert len(service.readings) == len(typed)  # nothing lost, nothing twice
    screen.locator("[data-after]").focus()
    press(screen, "Enter")
    screen.wait_for_url("**/visits/1/plan")
    done = follow_the_plan(screen, served, one)
    told = screen.locator("#plan").text_content() or ""
    assert done > 0, told
    assert "Leave it: nothing needs work." in told
    press(screen, "v")
    screen.wait_for_url("**/visits/1")
    for key in ("d", "Enter"):
        press(screen, key)
    expect(screen.get_by_role("button", name="Ready")).to_have_attribute("aria-current", "true")
    assert shop_visit(served, 1)[0].state == "ready"


def skip_one_and_do_one(page: Page) -> None:
    """Leave the first line of the plan out, which stays so, and store the next as done."""
    page.get_by_text("Otherwise than planned").first.tap()
    page.get_by_role("button", name="Skip").first.tap()
    expect(page.get_by_role("heading", name="Left out")).to_be_visible()
    left = ready(page).locator("h2:has-text('Left out') + ul li span").first.text_content()
    page.reload()
    assert page.locator("h2:has-text('Left out') + ul li span").first.text_content() == left
    page.locator("ol.lines input[type=checkbox]").first.check()
    page.locator("#done").tap()
    expect(page.locator(".stored form").first).to_contain_text("stored")


@pytest.mark.parametrize("width", widths_px("tablet"))
def test_a_returning_instrument_by_touch(chromium: Browser, served: Served, width: int):
    context = chromium.new_context(
        viewport={"width": width, "height": 740},
        has_touch=True,
        is_mobile=width < WIDTHS["desktop"],
        locale="en-GB",
    )
    page = context.new_page()
    page.goto(f"{served.url}/example/")
    page.get_by_role("link", name="Take in an instrument").tap()
    expect(page.locator("html.scripted")).to_have_count(1)
    page.get_by_label("Find it").fill("wagt")
    page.get_by_role("link", name="Wagtail").tap()
    page.get_by_role("button", name="Take in", exact=True).tap()
    page.wait_for_url(re.compile(r"/example/visits/\d+$"))
    number = int(page.url.rsplit("/", 1)[1])
    page.get_by_role("button", name="On the bench").tap()
    page.get_by_role("navigation").get_by_role("link", name="Readings", exact=True).tap()
    for key, text in (("gap_6_8_h1-17", "11 thou"), ("gap_6_12_h1", "5/64"), ("gap_1_12_h1", "1,5")):
        page.locator(f"#in-{key}").fill(text)
        press_in(page.locator(f"#in-{key}"), "Enter")
        expect(page.locator(f"#told-{key} .good")).to_be_visible()
    expect(page.locator("#told-gap_6_12_h1")).to_contain_text("1.98 mm kept")
    page.get_by_role("link", name="To the plan").tap()
    skip_one_and_do_one(page)
    page.get_by_role("link", name="Sheet", exact=True).tap()
    page.get_by_role("button", name="Ready").tap()
    expect(page.get_by_role("button", name="Ready")).to_have_attribute("aria-current", "true")
    visit, service = shop_visit(served, number, "example")
    context.close()
    assert visit.state == "ready"
    assert (len(service.readings), len(service.work)) == (3, 1)
    assert [round(getattr(one, "mm", 0.0), 4) for one in service.readings] == [0.2794, 1.9844, 1.5]


def expected(page: Page, key: str) -> str:
    """Return the figure that the page expects in the box."""
    return re.findall(r"\d\.\d\d", page.locator(f"#exp-{key}").text_content() or "")[0]


@pytest.mark.parametrize("width", widths_px("desktop"))
def test_two_tabs_on_one_sheet_lose_nothing_of_each_other(
    context: BrowserContext, served: Served, width: int
):
    sheet = f"{served.url}/example/visits/27"
    here, there = context.new_page(), context.new_page()
    for page in (here, there):
        page.set_viewport_size({"width": width, "height": 900})
    here.goto(sheet)
    there.goto(sheet)
    for page, words in ((here, "a crack by the heel"), (there, "two frets are worn")):
        page.get_by_label("Notes and condition").fill(words)
    here.locator("form[action$='/words'] button").click()
    here.wait_for_load_state()
    there.locator("form[action$='/words'] button").click()
    expect(there.get_by_role("heading", name="Changed meanwhile")).to_be_visible()
    expect(there.locator("#theirs-notes")).to_have_value("a crack by the heel")
    expect(there.locator("#yours-notes")).to_have_value("two frets are worn")
    there.locator("#yours-notes").fill("a crack by the heel; two frets are worn")
    there.get_by_role("button", name="Put mine").click()
    there.wait_for_url(sheet)
    expect(there.get_by_label("Notes and condition")).to_have_value("a crack by the heel; two frets are worn")
    for page in (here, there):
        page.goto(f"{sheet}/readings")
    box, told = "#in-gap_6_12_h1", "#told-gap_6_12_h1"
    stands = here.locator(box).input_value()
    near = float(expected(here, "gap_6_12_h1"))
    # The same figure typed again is not stored again: both differ from what stands there.
    mine, yours = [text for by in (0.01, 0.02, 0.03) if (text := f"{near + by:.2f}") != stands][:2]
    for page, text in ((here, mine), (there, yours)):
        page.locator(box).fill(text)
        press_in(page.locator(box), "Enter")
        expect(page.locator(told)).to_contain_text(f"{mine} mm")
    expect(there.locator(told)).to_contain_text(f"{mine} mm stands here meanwhile")
    there.get_by_role("button", name=f"Put {yours}").click()
    expect(there.locator(told)).to_contain_text(f"{yours} mm kept")
    here.goto(f"{sheet}/entries")
    for text in (f"{mine} mm", f"{yours} mm", "read again"):
        expect(here.locator("main")).to_contain_text(text)


def test_a_box_says_what_is_expected_and_asks_for_what_surprises(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/27/readings")
    box, told = screen.locator("#in-gap_5_12_h1"), screen.locator("#told-gap_5_12_h1")
    expects = screen.locator("#exp-gap_5_12_h1")
    expect(expects).to_contain_text(re.compile(r"expected \d\.\d\d ± 0\.0\d"))
    near = expected(screen, "gap_5_12_h1")
    for text, answer in (
        ("2.60", "2.60 mm kept"),
        ("59", "is out of range"),
        (near, f"{near} mm kept"),
    ):
        box.fill(text)
        press_in(box, "Enter")
        expect(told).to_contain_text(answer)
        expect(told.get_by_text("read it again?")).to_have_count(1 if text == "2.60" else 0)
    screen.locator("#in-pitch_6_0").fill("82.4")
    press_in(screen.locator("#in-pitch_6_0"), "Enter")
    expect(screen.locator("#told-pitch_6_0")).to_contain_text("could be 82.4 Hz or 82.4 cents")
    expect(screen.locator("#in-pitch_6_0")).to_be_focused()
