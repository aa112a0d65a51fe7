"""Making in a real browser, five journeys: level a worn electric, reset a flat-top, make a nut, design a baritone,
make a kind of instrument."""

import re
from pathlib import Path

from playwright.sync_api import Page, expect

from breakangle.reference.families import family
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.service_written import write_service
from journeys.making.test_frets import read_by_dial
from journeys.making.test_shop_kinds import CITTERN
from web_fixtures.process import Served
from web_fixtures.ready import follow, press, press_in, type_in
from web_fixtures.rules import found_by_axe, small_targets, too_wide_px

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]


def taken_in(page: Page, url: str, file: Path) -> str:
    """Bring a service file in by its form; return the visit's address."""
    page.goto(f"{url}/example/visits/new")
    page.locator("#upload").set_input_files(file)
    page.locator('form[action$="/visits/new/import"] button').click()
    page.wait_for_url(re.compile(r"/visits/\d+$"))
    return page.url


def fits(page: Page) -> None:
    assert (found_by_axe(page), too_wide_px(page), small_targets(page)) == ([], 0, [])


def test_a_worn_electric_is_levelled(screen: Page, served: Served, tmp_path: Path):
    write_service(tmp_path / "worn.json", read_by_dial())
    here = taken_in(screen, served.url, tmp_path / "worn.json")
    screen.goto(f"{here}/plan")
    follow(screen.locator(f'a[href$="{here.rpartition("/")[2]}/frets"]').last)
    screen.locator("#frets-strength").select_option("light")
    screen.locator("#frets-low").fill("2.1")
    screen.locator("#frets-high").fill("1.8")
    screen.get_by_role("button", name="Work it out").click()
    expect(screen.get_by_role("heading", name="Fret map")).to_be_visible()
    expect(screen.locator("main")).to_contain_text("the lowest clean action is")
    expect(screen.locator("main")).to_contain_text("mask of class FFP2")
    fits(screen)
    screen.get_by_role("button", name="Levelled as the map says").click()
    expect(screen.locator("main")).to_contain_text("Levelled, and not verified yet")
    expect(screen.get_by_role("heading", name="To see that it worked")).to_be_visible()
    expect(screen.get_by_role("heading", name="Fret map")).to_have_count(0)
    fits(screen)


def test_a_flat_top_is_reset(screen: Page, served: Served, tmp_path: Path):
    write_service(tmp_path / "flat.json", empty_service(family("steel-acoustic-guitar"), "Wheatear"))
    here = taken_in(screen, served.url, tmp_path / "flat.json")
    screen.goto(f"{here}/make")
    follow(screen.locator('a[href$="/make/neck-angle"]'))
    screen.locator("#make-airspace_bass").fill("-2.8 mm")
    screen.locator("#make-airspace_treble").fill("-2.4 mm")
    screen.get_by_role("button", name="Work it out").click()
    expect(screen.locator("main")).to_contain_text("Reset: lean the neck back")
    expect(screen.locator("main")).to_contain_text("leave it to a specialist")
    paper = screen.get_by_role("link", name=re.compile("At true size")).get_attribute("href")
    assert screen.request.get(f"{served.url}{paper}").headers["content-type"] == "application/pdf"
    fits(screen)
    follow(screen.get_by_role("link", name="Steps"))
    expect(screen.locator("h1")).to_contain_text("Neck angle and reset")


def test_a_nut_is_made(screen: Page, served: Served, tmp_path: Path):
    write_service(tmp_path / "nut.json", empty_service(family("electric-guitar"), "Dunlin"))
    here = taken_in(screen, served.url, tmp_path / "nut.json")
    screen.goto(f"{here}/make")
    follow(screen.locator('a[href$="/make/nut"]'))
    screen.locator("#make-seat").fill("6 mm")
    screen.locator("#make-moved").select_option("yes")
    screen.get_by_role("button", name="Work it out").click()
    expect(screen.locator("main")).to_contain_text("on the worst string a note is then typically")
    expect(screen.locator("table")).to_contain_text("front edge toward the bridge")
    paper = screen.get_by_role("link", name=re.compile("At true size: nut blank")).get_attribute("href")
    assert "seat=6.0000" in paper
    assert screen.request.get(f"{served.url}{paper}").headers["content-type"] == "application/pdf"
    fits(screen)
    follow(screen.get_by_role("link", name="Steps"))
    expect(screen.locator("h1")).to_contain_text("Make a nut")


def test_a_baritone_is_designed_and_taken_in(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/new")
    follow(screen.get_by_role("link", name="Design", exact=True))
    screen.locator("#design-kind").select_option("electric-guitar")
    for name, text in (
        ("name", "Bittern"),
        ("scale", "686 mm"),
        ("tuning", "B3,F#3,D3,A2,E2,B1"),
        ("low", "1.6 mm"),
    ):
        screen.locator(f"#design-{name}").fill(text)
    screen.get_by_role("button", name="Work it out").click()
    expect(screen.locator("main")).to_contain_text("Neck angle")
    expect(screen.get_by_role("heading", name="Tolerance budget of the action")).to_be_visible()
    fits(screen)
    drawing = screen.get_by_role("link", name="DXF").get_attribute("href")
    assert screen.request.get(f"{served.url}{drawing}").ok
    screen.get_by_role("button", name="Take it in as a new instrument").click()
    screen.wait_for_url(re.compile(r"/visits/\d+$"))
    expect(screen.locator("h1")).to_contain_text("Bittern")


def test_a_kind_of_instrument_is_made_and_taken_in(screen: Page, served: Served):
    """A ten-string cittern from the mandolin: the next one comes in as it, and its plan borrows nothing."""
    screen.goto(f"{served.url}/example/shop/kinds")
    screen.locator("#copy").select_option("mandolin")
    screen.get_by_role("button", name="Copy it").click()
    expect(screen.locator("#f-strings")).to_have_value(re.compile(r"E5 .*plain-steel"))
    fits(screen)
    screen.locator("#f-words").fill("Cittern, ten strings")
    screen.locator("#f-scale_mm").fill("480 mm")
    screen.locator("#f-spread_nut_mm").fill("38 mm")
    screen.locator("#f-spread_bridge_mm").fill("58 mm")
    *first, last = CITTERN["strings"].splitlines()
    screen.locator("#f-strings").fill("\n".join(first))
    press_in(screen.locator("#f-strings"), "Control+End")
    press(screen, "Enter")
    type_in(screen, last)
    expect(screen.locator("#f-strings")).to_have_value(CITTERN["strings"])
    screen.locator("#f-medium_action_low_mm").fill("0.080")
    screen.get_by_role("button", name="Save the kind").click()
    expect(screen.locator("p.message")).to_contain_text("action, lowest string, medium hand")
    screen.locator("#f-medium_action_low_mm").fill("2.1 mm")
    screen.get_by_role("button", name="Save the kind").click()
    expect(screen.get_by_role("link", name="Cittern, ten strings")).to_be_visible()
    fits(screen)
    screen.goto(f"{served.url}/example/visits/new")
    screen.locator("#kind").select_option(label="Cittern, ten strings")
    screen.locator('form[action$="/visits/new"] button').first.click()
    screen.locator("#f-name").fill("Ouzel")
    screen.get_by_role("button", name="Take in").first.click()
    screen.wait_for_url(re.compile(r"/visits/\d+$"))
    expect(screen.locator("main")).to_contain_text("Cittern, ten strings")
    here = screen.url
    screen.goto(f"{here}/plan")
    expect(screen.locator("main")).not_to_contain_text("borrowed")
    screen.goto(f"{here}/make/nut")
    expect(screen.locator("main tbody tr")).to_have_count(10)
    fits(screen)
