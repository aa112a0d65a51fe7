"""Every page, at every width: accessible by the rules, no sideways scrolling, targets for a thumb, light on the wire."""

import pytest
from playwright.sync_api import Browser

from web_fixtures.process import Served
from web_fixtures.rules import WIDTHS, found_by_axe, small_targets, too_wide_px

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

NEW_SHOP = ("/", "/pair")
EXAMPLE = ("/", "/instruments", "/shop", "/search?q=heron", "/visits/new")
VISIT = ("", "/readings", "/listen", "/plan", "/try", "/strings", "/paper")
PAGES = [*NEW_SHOP, *(f"/example{one}" for one in EXAMPLE), *(f"/example/visits/27{one}" for one in VISIT)]


@pytest.mark.parametrize("path", PAGES)
def test_a_page_keeps_the_rules_at_every_width(path: str, chromium: Browser, looked_at: Served):
    broken: dict[str, object] = {}
    for name, width in WIDTHS.items():
        context = chromium.new_context(viewport={"width": width, "height": 800}, locale="en-GB")
        page = context.new_page()
        answer = page.goto(looked_at.url + path)
        assert answer is not None and answer.status == 200
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            if found := found_by_axe(page):
                broken[f"{name} {theme}: rules"] = found
        if too_wide_px(page):
            broken[f"{name}: px too wide"] = too_wide_px(page)
        if small := small_targets(page):
            broken[f"{name}: small targets"] = small
        context.close()
    assert broken == {}
