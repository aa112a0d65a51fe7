"""Large type across the app, and 200 %: nothing cut off, all to press still there; voices of this device only."""

import json
from collections.abc import Iterator
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page

from web_fixtures.process import Served
from web_fixtures.rules import out_of_reach, small_targets, too_wide_px
from web_fixtures.voices import VOICES

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]
VISIT = "/example/visits/27"
PLACES = ("/example/", "/example/instruments", "/example/visits/new", "/example/visits/new?kind=bass-five",
          "/example/shop", VISIT, f"{VISIT}/work", f"{VISIT}/procedures/restring", f"{VISIT}/readings", f"{VISIT}/plan",
          f"{VISIT}/try", f"{VISIT}/lowest", f"{VISIT}/strings", f"{VISIT}/listen", f"{VISIT}/paper",
          f"{VISIT}/hand-back", f"{VISIT}/complaint")  # fmt: skip


@pytest.fixture
def phone(chromium: Browser, looked_at: Served) -> Iterator[Page]:
    context = chromium.new_context(viewport={"width": 360, "height": 740}, locale="en-GB")
    view = quote(json.dumps({"type": "large", "units": "inch", "spoken": "on"}))
    context.add_cookies([{"name": "bench-view", "value": view, "url": looked_at.url}])
    page = context.new_page()
    page.set_default_timeout(20_000)
    yield page
    context.close()


def test_large_type_loses_nothing_on_a_phone(phone: Page, looked_at: Served):
    lost = {}
    for place in PLACES:
        phone.goto(f"{looked_at.url}{place}", wait_until="load")
        size = phone.evaluate("parseFloat(getComputedStyle(document.documentElement).fontSize)")
        assert size == 22.0, "137.5 % of 16 px; chosen"
        found = (too_wide_px(phone), out_of_reach(phone), small_targets(phone))
        if found != (0, [], []):
            lost[place] = found
    assert lost == {}


def test_twice_as_large_loses_nothing_on_a_tablet(chromium: Browser, looked_at: Served):
    """A window of 820 px at 200 % is one of 410 px, as browsers zoom."""
    context = chromium.new_context(
        viewport={"width": 410, "height": 590}, device_scale_factor=2, locale="en-GB"
    )
    page = context.new_page()
    lost = {}
    for place in PLACES[:8]:
        page.goto(f"{looked_at.url}{place}", wait_until="load")
        if (found := (too_wide_px(page), out_of_reach(page))) != (0, []):
            lost[place] = found
    context.close()
    assert lost == {}


@pytest.mark.parametrize("local", [True, False])
def test_only_a_voice_of_this_device_speaks_the_next_step(phone: Page, looked_at: Served, local: bool):
    phone.add_init_script(f"({VOICES})([{json.dumps(local)}])")
    phone.goto(f"{looked_at.url}{VISIT}/procedures/unstring", wait_until="networkidle")
    said = phone.evaluate("window.spoken")
    words = phone.locator(".work-step .do").inner_text()
    assert [name for name, _ in said] == (["here"] if local else [])
    assert all(text.startswith(words) for _, text in said)


def test_nothing_is_spoken_unless_chosen(screen: Page, looked_at: Served):
    screen.add_init_script(f"({VOICES})([true])")
    screen.goto(f"{looked_at.url}{VISIT}/procedures/unstring", wait_until="networkidle")
    assert screen.evaluate("window.spoken") == []
