"""The forms as they stand: what is stored is shown as it was typed, and all of it works without scripts."""

from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, expect

from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.opening import shop_at
from web_fixtures.process import Served
from web_fixtures.ready import follow

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

MARKUP = "<img src=x onerror=alert(1)><b>Dunlin</b>"


def test_stored_markup_is_shown_and_does_nothing(screen: Page, served: Served):
    alerts: list[str] = []
    screen.on("dialog", lambda one: (alerts.append(one.message), one.dismiss()))
    screen.goto(f"{served.url}/visits/new?kind=ukulele-tenor")
    screen.get_by_label("Name of the instrument").fill(MARKUP)
    for name in ("Owner", "What the owner says", "Condition"):
        screen.get_by_label(name).first.fill(f"<script>alert(2)</script>{MARKUP}")
    screen.get_by_role("button", name="Take in").first.click()
    screen.wait_for_url("**/visits/1")
    for place in ("", "/readings", "/plan", "/entries", "/drawing"):
        screen.goto(f"{served.url}/visits/1{place}")
        screen.wait_for_load_state("networkidle")
        expect(screen.locator(".places .what")).to_contain_text(MARKUP)
        assert screen.locator("main img, main b, main script").count() == 0
    screen.goto(f"{served.url}/visits/new")
    screen.get_by_label("Find it").fill("dunlin")
    expect(screen.locator("#known")).to_contain_text(MARKUP)
    assert alerts == []


def test_without_scripts_the_forms_do_the_same(chromium: Browser, served: Served, tmp_path: Path):
    done = work_count(served)
    context = chromium.new_context(java_script_enabled=False, locale="en-GB")
    page = context.new_page()
    page.goto(f"{served.url}/example/visits/27/readings")
    page.locator("#in-gap_6_12_h1").fill("2.27")
    page.locator("#in-gap_5_12_h1").fill("plenty")
    follow(page.get_by_role("button", name="Save", exact=True).first)
    assert "is not a length" in (page.locator("#told-gap_5_12_h1").text_content() or "")
    assert page.locator("#in-gap_5_12_h1").input_value() == "plenty"
    assert page.locator("#in-gap_6_12_h1").input_value() == "2.27"
    page.goto(f"{served.url}/example/visits/27/plan")
    follow(page.locator("#done"))
    assert "Nothing is ticked" in (page.locator("#message").text_content() or "")
    page.goto(f"{served.url}/example/visits/27/plan")
    page.locator("ol.lines input[type=checkbox]").first.check()
    follow(page.locator("#done"))
    page.goto(f"{served.url}/example/visits/27")
    picture = tmp_path / "nut.png"
    picture.write_bytes(small_png())
    page.locator("#photo").set_input_files(picture)
    follow(page.get_by_role("button", name="Add photos").first)
    assert page.locator(".photographs img").get_attribute("alt") == "nut.png"
    context.close()
    assert work_count(served) == done + 1


def work_count(served: Served) -> int:
    """Return how many adjustments sheet 27 of the example workshop holds."""
    shop = shop_at(served.folder / "example")
    try:
        return len(service_of(shop, visit_numbered(shop, 27).id).work)
    finally:
        shop.close()


def small_png() -> bytes:
    out = BytesIO()
    Image.new("RGB", (40, 30), (120, 80, 40)).save(out, "PNG")
    return out.getvalue()
