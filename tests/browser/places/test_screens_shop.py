"""The shop's own pages as a person uses them: the first run, lists, backups, taking along, search, keys."""

import re
from pathlib import Path

from playwright.sync_api import Page, expect

from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import Owner, Price
from web_fixtures.pressed import Tables
from web_fixtures.process import Served
from web_fixtures.ready import follow, press, type_in

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]


def test_a_new_shop_offers_three_ways_to_begin(screen: Page, served: Served):
    screen.goto(served.url)
    for words in ("Start with an empty shop", "Look around the example workshop", "Restore a backup"):
        expect(screen.get_by_role("heading", name=words)).to_be_visible()
    screen.get_by_role("button", name="Look around the example workshop").click()
    expect(screen).to_have_url(f"{served.url}/example/")
    expect(screen.get_by_text("Everything here is made up")).to_be_visible()
    screen.goto(f"{served.url}/example/shop")
    screen.get_by_role("button", name="Remove the example workshop").click()
    expect(screen).to_have_url(f"{served.url}/")
    assert not (served.folder / "example").exists()


def test_prices_are_kept_edited_and_never_silently_overwritten(screen: Page, served: Served):
    there = f"{served.url}/shop/lists/price"
    screen.goto(there)
    screen.get_by_label("What it is").fill("set-up <b>full</b>")
    screen.get_by_label("Price", exact=True).fill("65,50")
    screen.get_by_role("button", name="Add").click()
    row = screen.get_by_role("form", name="set-up <b>full</b>")
    expect(row.get_by_label("Price", exact=True)).to_have_value("65.50")
    other = screen.context.new_page()
    other.goto(there)
    row.get_by_label("Price", exact=True).fill("70")
    row.get_by_role("button", name="Save").click()
    expect(screen.get_by_role("form").get_by_label("Price", exact=True).last).to_have_value("70")
    late = other.get_by_role("form", name="set-up <b>full</b>")
    late.get_by_label("Price", exact=True).fill("99")
    late.get_by_role("button", name="Save").click()
    expect(other.get_by_role("alert")).to_contain_text("was changed by")
    shop = shop_at(served.folder)
    assert [str(one.amount) for one in shop.every(Price)] == ["70"]
    shop.close()


def test_a_backup_is_made_and_put_back(screen: Page, served: Served):
    screen.goto(f"{served.url}/shop/lists/owner")
    screen.get_by_label("Name", exact=True).fill("Ilse Farn")
    screen.get_by_role("button", name="Add").click()
    screen.goto(f"{served.url}/shop/backups")
    screen.get_by_role("button", name="Make a backup now").click()
    screen.goto(f"{served.url}/shop/lists/owner")
    screen.get_by_role("button", name="Delete").click()
    expect(screen.get_by_text("Nothing here yet.")).to_be_visible()
    screen.goto(f"{served.url}/shop/backups")
    screen.get_by_text("Put this one back").click()
    screen.get_by_role("button", name="Put it back").click()
    screen.goto(f"{served.url}/shop/lists/owner")
    expect(screen.get_by_role("form", name="Ilse Farn")).to_be_visible()


def test_a_whole_shop_is_taken_along_and_brought_into_another(screen: Page, served: Served, tmp_path: Path):
    screen.goto(f"{served.url}/example/shop")
    with screen.expect_download() as coming:
        screen.get_by_role("link", name="The whole shop as one file").click()
    path = tmp_path / "taken.zip"
    coming.value.save_as(path)
    screen.goto(served.url)
    screen.get_by_label("Backup or export file").set_input_files(path)
    screen.get_by_role("button", name="Restore a backup").click()
    expect(screen.get_by_role("heading", name="Added")).to_be_visible()
    own, example = shop_at(served.folder), shop_at(served.folder / "example")
    assert {one.name for one in own.every(Owner)} == {one.name for one in example.every(Owner)} != set()
    own.close()
    example.close()
    screen.goto(served.url)
    expect(screen.get_by_role("heading", name="Today", exact=True)).to_be_visible()


def test_a_file_that_is_no_shop_is_refused_in_one_sentence(screen: Page, served: Served, tmp_path: Path):
    path = tmp_path / "odd.zip"
    path.write_bytes(b"not a zip")
    screen.goto(served.url)
    screen.get_by_label("Backup or export file").set_input_files(path)
    screen.get_by_role("button", name="Restore a backup").click()
    expect(screen.get_by_role("alert")).to_contain_text(re.compile("zip|export", re.IGNORECASE))


def test_search_finds_an_instrument_by_its_owner(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/")
    press(screen, "/")
    type_in(screen, "ase lindq")
    press(screen, "Enter")
    follow(screen.get_by_role("link", name=re.compile("Wagtail")))
    expect(screen.get_by_role("heading", name=re.compile("Wagtail"))).to_be_visible()
    expect(screen.get_by_role("region", name="Every visit").get_by_role("row")).not_to_have_count(1)


def test_the_keys_of_a_page_are_listed_and_work(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/")
    press(screen, "?")
    expect(screen.get_by_role("dialog")).to_contain_text("Take in an instrument")
    press(screen, "Escape")
    press(screen, "i")
    expect(screen).to_have_url(f"{served.url}/example/instruments")


def test_inches_dark_and_the_readers_own_number_form_are_remembered(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/27/strings")
    expect(screen.get_by_role("region", name="What is on, at pitch")).to_contain_text("0.254 mm")
    screen.get_by_role("button", name="Show inches").click()
    expect(screen.get_by_role("region", name="What is on, at pitch")).to_contain_text("0.0100 in")
    screen.get_by_role("button", name="Show dark").click()
    expect(screen.locator("html")).to_have_attribute("data-theme", "dark")
    screen.reload()
    expect(screen.locator("html")).to_have_attribute("data-theme", "dark")
    german = screen.context.browser.new_context(locale="de-DE") if screen.context.browser else None
    assert german is not None
    page = german.new_page()
    page.goto(f"{served.url}/example/visits/27/strings")
    expect(page.get_by_role("region", name="What is on, at pitch")).to_contain_text("0,254 mm")
    german.close()


def test_enter_goes_through_the_boxes_and_stores_nothing_and_its_own_key_stores(screen: Page, served: Served):
    """Enter, however often, stops in the last box: what stores is pressed by Ctrl and Enter, or by itself."""
    screen.goto(f"{served.url}/shop/targets/electric-guitar")
    tables = Tables(served.folder)  # the shop's file is there when a page was
    press(screen, "Enter", times=20)
    expect(screen.locator("[data-box]").last).to_be_focused()
    assert tables.changed(thorough=True) == []
    screen.locator("#relief_mm").fill("0.25")
    with screen.expect_navigation():
        press(screen, "Control+Enter")
    expect(screen.locator("tr", has_text="electric guitar, six strings")).to_contain_text("0.25")
    tables.close()
