"""Strings, climate and procedures in a real browser: sizes found, a pack put on, a procedure made one's own."""

import re

from playwright.sync_api import Page, expect

from breakangle.services.procedures.at_visit import procedure
from breakangle.services.strings.stock import strings_on_shelf
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.opening import shop_at
from web_fixtures.process import Served
from web_fixtures.ready import follow, press, ready

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

SHEET = "/example/visits/27"


def test_a_weighed_string_stands_in_the_table(screen: Page, served: Served):
    screen.goto(f"{served.url}{SHEET}/strings")
    row = screen.locator("#figures tbody tr").first  # from the lowest string, as everywhere
    expect(row).to_contain_text("from its size")
    screen.get_by_text("Weigh a string").click()
    screen.locator("#grams-6").fill("6.71")
    screen.locator("#length-6").fill("1000 mm")
    screen.get_by_role("button", name="Show with these").click()
    expect(row).to_contain_text("6.710")  # 6.71 g on a metre, by the meaning of grams per metre
    expect(row).to_contain_text("weighed")


def test_sizes_that_were_found_fill_the_boxes_and_are_tried(screen: Page, served: Served):
    screen.goto(f"{served.url}{SHEET}/strings")
    screen.get_by_text("Find sizes for the pull you want").click()
    screen.locator("#wish-1").fill("60")
    screen.get_by_role("button", name="Find sizes").click()
    found = screen.locator("table.sizes tbody tr").first
    expect(found).to_contain_text("60.0 N")
    nearest = found.locator("td").nth(0).inner_text().split(" mm")[0]
    expect(screen.locator("#d1")).to_have_value(f"{nearest} mm")
    assert (
        float(nearest) < 0.254
    )  # a smaller pull at the same note needs a thinner string than the one that is on
    screen.get_by_role("button", name="What would it do?").last.click()
    expect(screen.locator("#swap")).to_contain_text(f"0.254 mm → {nearest} mm")


def test_a_pack_from_the_shelf_goes_on_and_is_counted(screen: Page, served: Served):
    shop = shop_at(served.folder / "example")
    before = {one.record.words: one.record.held_count for one in strings_on_shelf(shop)}
    shop.close()
    screen.goto(f"{served.url}{SHEET}/strings")
    screen.get_by_text("A pack from the shelf").click()
    expect(screen.get_by_role("link", name=re.compile("runs low"))).to_be_visible()
    words = screen.locator("#pack option").first.inner_text().split(" (")[0]
    screen.locator("#packs").get_by_role("button", name="What would it do?").click()
    expect(screen.locator("#swap")).to_contain_text(f"1 × {words}")
    with screen.expect_navigation():
        screen.get_by_role("button", name="They are on now").click()
    shop = shop_at(served.folder / "example")
    after = {one.record.words: one.record.held_count for one in strings_on_shelf(shop)}
    work = service_of(shop, visit_numbered(shop, 27).id).work
    shop.close()
    assert {name: before[name] - count for name, count in after.items() if count != before[name]} == {
        words: 1
    }
    assert work[-1].adjust == "restring"


def test_the_sheet_tells_what_the_air_does_when_it_is_asked(screen: Page, served: Served):
    screen.goto(f"{served.url}{SHEET}")
    screen.get_by_text("What the air does").click()
    expect(screen.locator("#air")).to_contain_text("Set up in")
    screen.locator("#air").get_by_text("Another air").click()
    screen.locator("#air-temperature").fill("24")
    screen.locator("#air-humidity").fill("dry")
    screen.locator("#air").get_by_role("button", name="Show").click()
    expect(screen.locator("#air")).to_contain_text('the humidity is "dry"')
    screen.locator("#air-humidity").fill("30")
    screen.locator("#air").get_by_role("button", name="Show").click()
    expect(screen.locator("#air")).to_contain_text("drier than before")
    screen.locator("#air").get_by_text("What is not known").click()
    expect(screen.locator("#air")).to_contain_text("The board's wood is not named")


def test_a_procedure_becomes_the_shops_own_and_ours_stands_again(screen: Page, served: Served):
    screen.goto(f"{served.url}/shop/procedures")
    follow(screen.get_by_role("link", name="Settle the strings"))
    screen.get_by_text("Change it").click()
    box = screen.locator("#text")
    ours = box.input_value()
    box.fill(
        ours.replace('title = "Settle the strings"', 'title = "Let them settle"').replace(
            "minutes = 3", "minutes = -3", 1
        )
    )
    screen.get_by_role("button", name="Save").click()
    at = ours.split("\n").index('id = "repeat"')  # lines count from 1, and its [[steps]] stands one before it
    expect(screen.locator("#wrong")).to_contain_text(f"step 5, line {at}: minutes is -3")
    ready(screen)
    assert "Let them settle" in box.input_value()
    box.fill(box.input_value().replace("minutes = -3", "minutes = = 3"))
    screen.get_by_role("button", name="Save").click()
    expect(screen.locator("#wrong")).to_contain_text("is not TOML")
    ready(screen)
    box.fill(box.input_value().replace("minutes = = 3", "minutes = 8"))
    screen.get_by_role("button", name="Save").click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("Let them settle")
    shop = shop_at(served.folder)
    assert procedure("settle", shop).title == "Let them settle"
    screen.get_by_role("button", name="the usual one stands again").click()
    expect(screen.get_by_role("link", name="Settle the strings")).to_be_visible()
    assert procedure("settle", shop).title == "Settle the strings"
    shop.close()


def test_two_who_change_one_procedure_lose_nothing(screen: Page, served: Served):
    other = screen.context.new_page()
    for tab, words in ((screen, "One"), (other, "Two")):
        tab.goto(f"{served.url}/shop/procedures/unstring")
        tab.get_by_text("Change it").click()
        box = tab.locator("#text")
        box.fill(re.sub('title = ".*"', f'title = "{words}"', box.input_value(), count=1))
    screen.get_by_role("button", name="Save").click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("One")
    other.get_by_role("button", name="Save").click()
    expect(other.locator("#wrong")).to_contain_text("changed it while this page was open")
    ready(other)
    assert 'title = "Two"' in other.locator("#text").input_value()
    other.get_by_role("button", name="Save mine").click()
    expect(other.get_by_role("heading", level=1)).to_contain_text("Two")


def test_a_visit_still_tells_of_a_procedure_that_was_dropped(screen: Page, served: Served):
    root = f"{served.url}/example"
    screen.goto(f"{root}/shop/new-procedure")
    screen.get_by_role("button", name="Save").click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("The house's wipe-down")
    screen.goto(f"{root}/visits/27/work")
    screen.get_by_role("link", name="Step by step The house's wipe-down").click()
    expect(screen.get_by_text("Wipe strings and board with a dry cloth.").first).to_be_visible()
    with screen.expect_navigation(url=re.compile(r"/steps/\w+$")):
        press(screen, "Control+Enter")
    step = screen.url
    screen.goto(f"{root}/shop/procedures/house-wipe")
    screen.get_by_role("button", name="Drop it").click()
    expect(screen.get_by_text("The house's wipe-down")).to_have_count(0)
    screen.goto(f"{root}/visits/27/work")
    expect(screen.get_by_role("heading", level=1)).to_contain_text("Work")
    screen.goto(step)
    expect(screen.get_by_text("Wipe strings and board with a dry cloth.").first).to_be_visible()


def test_settling_leads_to_the_watch_on_the_listen_page(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/26/work")
    screen.get_by_role("link", name="Step by step Settle the strings").click()
    screen.get_by_text("All steps").click()
    screen.get_by_role("link", name=re.compile("Stretch it by hand")).click()
    screen.get_by_role("link", name="Listen while they settle").click()
    expect(screen).to_have_url(re.compile(r"/visits/26/listen\?job=settle$"))
