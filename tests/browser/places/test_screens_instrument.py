"""An instrument's page in a real browser: opened, corrected, and by the rules with its form open."""

import pytest
from playwright.sync_api import Browser, Page, expect

from web_fixtures.process import Served
from web_fixtures.ready import follow
from web_fixtures.rules import THEMES, WIDTHS, found_by_axe, small_targets, too_wide_px

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]


def open_form(page: Page, url: str) -> None:
    page.goto(f"{url}/example/instruments")
    follow(page.locator("main ul.rows a").first)
    page.get_by_text("Correct what is known of it").click()


@pytest.mark.parametrize("name", WIDTHS)
def test_the_open_form_keeps_the_rules(name: str, chromium: Browser, looked_at: Served):
    context = chromium.new_context(viewport={"width": WIDTHS[name], "height": 800}, color_scheme=THEMES[name])
    page = context.new_page()
    open_form(page, looked_at.url)
    assert (found_by_axe(page), too_wide_px(page), small_targets(page)) == ([], 0, [])
    page.goto(f"{looked_at.url}/example/visits/27/strings/swap?note-1=B4&diameter-1=.012")
    expect(page.locator("#swap-cautions")).to_contain_text("Not this string at this note")
    assert (found_by_axe(page), too_wide_px(page), small_targets(page)) == ([], 0, [])
    context.close()


def test_a_wrong_scale_is_put_right_on_the_page(screen: Page, served: Served):
    open_form(screen, served.url)
    screen.locator("#f-scale_mm").fill("34 - 32 in")
    screen.get_by_role("button", name="Save").click()
    expect(screen.locator("dl.facts").first).to_contain_text(
        "863.6 mm at string 4, in equal steps to 812.8 mm"
    )
    screen.get_by_text("Correct what is known of it").click()
    expect(screen.locator("#f-scale_mm")).to_have_value("863.60 – 812.80 mm")
    screen.locator("#f-scale_mm").fill("long")
    screen.get_by_role("button", name="Save").click()
    expect(screen.get_by_role("alert").filter(has_text="'long' is not a length")).to_be_visible()
    expect(screen.locator("#f-scale_mm")).to_have_value("long")


def test_a_string_that_is_right_as_it_is_is_said_so_on_the_plan(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/27")
    follow(screen.locator('main a[href*="/instruments/"]').first)
    screen.get_by_text("Correct what is known of it").click()
    screen.locator("#f-gauge_3").fill("0.24 mm")
    screen.get_by_role("button", name="Save").click()
    expect(screen.locator("dl.facts").first).to_be_visible()
    screen.goto(f"{served.url}/example/visits/27/plan")
    screen.get_by_role("button", name="String 3 is right as it is").click()
    expect(screen.get_by_role("button", name="String 3 is right as it is")).to_have_count(0)
    expect(screen.locator("main")).not_to_contain_text("String 3 at")


def test_a_window_of_another_width_draws_the_chart_anew_and_nothing_else(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/instruments")
    follow(screen.locator("main ul.rows a").first)
    with screen.expect_response(lambda one: "wide=" in one.url):
        screen.set_viewport_size({"width": 500, "height": 900})
    screen.wait_for_timeout(300)
    assert screen.locator("h1").count() == 1
    assert screen.locator("[data-sized] svg").count() == 1
