"""Drawings on the screens: read out by pointer and key, as wide as there is room, and how low a neck can go."""

import re

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.opening import shop_at
from web_fixtures.process import Served
from web_fixtures.ready import follow, press, press_in
from web_fixtures.rules import WIDTHS, found_by_axe, small_targets, too_wide_px

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]
LEAST_TEXT_PX = 11.0
SMALLEST = """svg => { const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
  const sizes = [...svg.querySelectorAll('text')].map(one => parseFloat(getComputedStyle(one).fontSize));
  return scale * Math.min(...sizes); }"""


def open_heron(page: Page, served: Served) -> Locator:
    """Go to the instrument's page, wait until its chart has the width there is, and return the chart."""
    page.goto(f"{served.url}/example/instruments")
    page.get_by_role("link", name=re.compile("Heron")).click()
    chart = page.locator("svg[data-points]")
    expect(chart).to_have_count(1)
    expect(page.locator("html.scripted")).to_have_count(1)
    page.wait_for_function(
        """() => { const svg = document.querySelector('svg[data-points]'), box = svg.getBoundingClientRect();
          return Math.abs(box.width / svg.viewBox.baseVal.width - 1) < 0.1; }"""
    )
    return chart


def newest(page: Page) -> list[str]:
    """Return day, sheet, relief and humidity of the newest visit, as the page's table has them."""
    row = page.get_by_role("region", name="Every visit").locator("tbody tr").first.locator("td")
    return [row.nth(column).inner_text() for column in (0, 1, 3, 6)]


def test_a_chart_is_read_out_by_key(screen: Page, looked_at: Served):
    chart = open_heron(screen, looked_at)
    told = screen.locator("[data-readout]")
    expect(told).to_have_attribute("aria-live", "polite")
    day, sheet, relief, humidity = newest(screen)
    found = relief.split(" → ")[0]
    chart.focus()
    press(screen, "End")
    for words in (f"{day}, sheet {sheet}:", f"relief {found} mm, as found", f"humidity {humidity}"):
        expect(told).to_contain_text(words)
    last = told.text_content()
    press(screen, "ArrowLeft")
    expect(told).not_to_have_text(last or "")
    expect(chart.locator(".dr-readout circle").first).to_be_visible()
    press(screen, "ArrowRight")
    press(screen, "ArrowRight")
    expect(told).to_have_text(last or "")
    press(screen, "Home")
    expect(told).to_contain_text("sheet 1:")


def test_a_chart_is_read_out_under_the_pointer_and_the_finger(chromium: Browser, looked_at: Served):
    context = chromium.new_context(viewport={"width": 360, "height": 740}, locale="en-GB", has_touch=True)
    page = context.new_page()
    chart, told = open_heron(page, looked_at), page.locator("[data-readout]")
    _, sheet, _, _ = newest(page)
    chart.scroll_into_view_if_needed()
    box = chart.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] - 12, box["y"] + 60)
    expect(told).to_contain_text(f"sheet {sheet}:")
    page.touchscreen.tap(box["x"] + 45, box["y"] + 90)
    expect(told).to_contain_text("sheet 1:")
    marked = chart.locator(".dr-readout circle").first.bounding_box()
    assert marked is not None
    assert abs(marked["x"] - box["x"] - 45) < 44
    context.close()


def test_a_chart_speaks_the_readers_own_numbers_and_days(chromium: Browser, looked_at: Served):
    context = chromium.new_context(locale="de-DE")
    page = context.new_page()
    press_in(open_heron(page, looked_at), "End")
    told = page.locator("[data-readout]")
    expect(told).to_contain_text(re.compile(r"^\d{2}\.\d{2}\.\d{4}, sheet 27: relief \d,\d\d mm"))
    assert re.search(r"\d\.\d\d mm", told.text_content() or "") is None
    context.close()


@pytest.mark.parametrize(
    ("path", "wanted"),
    [("/try", 2), ("/plan", 2), ("/readings", 1), ("/drawing?plan=yes", 1), ("/lowest", 1)],
)
def test_drawings_take_the_width_there_is_and_stay_legible(
    path: str, wanted: int, chromium: Browser, looked_at: Served
):
    context = chromium.new_context(viewport={"width": WIDTHS["phone"], "height": 740}, locale="en-GB")
    page = context.new_page()
    page.goto(f"{looked_at.url}/example/visits/27{path}")
    drawn = page.locator("figure svg.drawing:visible")
    expect(drawn).to_have_count(wanted, timeout=20_000)
    page.wait_for_function(
        "() => [...document.querySelectorAll('svg.drawing')].every(one => one.viewBox.baseVal.width < 360)"
    )
    for one in drawn.all():
        assert one.evaluate(SMALLEST) >= LEAST_TEXT_PX
    assert too_wide_px(page) == 0
    context.close()


def test_the_side_view_beside_the_plan_can_be_seen_whole(screen: Page, looked_at: Served):
    for place in ("plan", "readings"):
        screen.goto(f"{looked_at.url}/example/visits/27/{place}")
        box = screen.locator(".at-hand")
        expect(box.locator("svg.drawing")).to_have_count(1)
        whole = """one => { const svg = one.querySelector('svg').getBoundingClientRect();
          const box = one.getBoundingClientRect();
          return svg.top >= box.top && svg.bottom <= box.bottom && svg.right <= box.right + 1; }"""
        assert box.evaluate(whole)
        for end in ("start", "end"):
            seen = f"""svg => {{ svg.scrollIntoView({{block: '{end}'}}); const at = svg.getBoundingClientRect();
              return Math.round('{end}' === 'start' ? at.top : innerHeight - at.bottom); }}"""
            assert -1 <= box.locator("svg").evaluate(seen) < 900


def test_what_is_tried_out_is_called_so(screen: Page, looked_at: Served):
    screen.goto(f"{looked_at.url}/example/visits/27/try")
    expect(screen.locator("#answer svg").first).to_contain_text("string as tried out")
    assert "after the plan" not in (screen.locator("#answer").text_content() or "").lower()


def test_how_low_it_can_go_is_told_and_made_the_target(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/27/try")
    screen.get_by_role("link", name="How low can it go?").click()
    light = screen.get_by_role("region", name="Light play")
    expect(light).to_be_visible(timeout=20_000)
    expect(screen.get_by_role("region", name="Heavy play")).to_be_visible()
    assert found_by_axe(screen) == []
    assert small_targets(screen) == []
    actions = [
        float(screen.get_by_role("region", name=name).locator("dd").nth(1).inner_text().split()[0])
        for name in ("Light play", "Medium play", "Heavy play")
    ]
    assert actions == sorted(actions)
    expect(light).to_contain_text("Held up by the usual height, not by a note: strings 1 to 6.")
    expect(light).not_to_contain_text("Any lower, it is heard here first")
    expect(screen.get_by_role("region", name="Heavy play")).to_contain_text(
        "Any lower, it is heard here first"
    )
    expect(light).to_contain_text(re.compile("[Ll]evelling would gain"))
    screen.locator("svg[data-points]").focus()
    press(screen, "Home")
    expect(screen.locator("[data-readout]")).to_contain_text("light play: relief 0.00 mm, action")
    light.get_by_role("button", name="Make this the target").click()
    expect(screen).to_have_url(f"{served.url}/example/visits/27/plan")
    shop = shop_at(served.folder / "example")
    try:
        kept = service_of(shop, visit_numbered(shop, 27).id).targets
    finally:
        shop.close()
    assert kept is not None
    wanted = {one.string: one.mm for one in kept.wanted if one.quantity == "gap" and one.fret == 12}  # type: ignore[attr-defined]
    assert wanted[6] == pytest.approx(actions[0], abs=0.011)


def test_how_low_it_can_go_without_scripts(chromium: Browser, looked_at: Served):
    context = chromium.new_context(java_script_enabled=False, locale="en-GB")
    page = context.new_page()
    page.goto(f"{looked_at.url}/example/visits/26/lowest")
    follow(page.get_by_role("link", name="Calculate it"))
    assert page.locator("section.card").count() == 3
    assert page.locator("svg[data-points]").count() == 1
    context.close()
