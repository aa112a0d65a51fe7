"""Every page, at every width: accessible by the rules, no sideways scrolling, targets for a thumb, all from here.

Every page at every width both light and dark, in mm and in inches: `python -m bench.page_rules`.
"""

import pytest
from playwright.sync_api import Browser

from web_fixtures.pages import PAGES, addressed
from web_fixtures.process import Served
from web_fixtures.ready import follow
from web_fixtures.rules import THEMES, WIDTHS, found_by_axe, small_targets, too_wide_px

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

REFUSED = {"/example/nowhere": 404}


@pytest.mark.parametrize("path", PAGES)
def test_a_page_keeps_the_rules_at_every_width(path: str, chromium: Browser, looked_at: Served):
    broken: dict[str, object] = {}
    context = chromium.new_context(viewport={"width": WIDTHS["desktop"], "height": 800}, locale="en-GB")
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    answer = page.goto(looked_at.url + addressed(looked_at.url, path))
    assert answer is not None and answer.status == REFUSED.get(path, 200)
    for name, width in WIDTHS.items():
        page.set_viewport_size({"width": width, "height": 800})
        page.emulate_media(color_scheme=THEMES[name])
        # Tablet and desktop have the same colours, and all that a tablet shows a desktop shows.
        if found := found_by_axe(page, colours=name != "tablet"):
            broken[f"{name}: rules"] = found
        if too_wide_px(page):
            broken[f"{name}: px too wide"] = too_wide_px(page)
        if small := small_targets(page):
            broken[f"{name}: small targets"] = small
    context.close()
    assert (
        asked and [one for one in asked if not one.startswith((f"{looked_at.url}/", "data:", "blob:"))] == []
    )
    assert broken == {}


def test_the_pages_that_are_reached_by_a_link_keep_the_rules(chromium: Browser, looked_at: Served):
    context = chromium.new_context(viewport={"width": WIDTHS["phone"], "height": 800}, locale="en-GB")
    page = context.new_page()
    page.goto(f"{looked_at.url}/example/instruments")
    follow(page.locator("main ul.rows a").first)
    assert (found_by_axe(page), too_wide_px(page), small_targets(page)) == ([], 0, [])
    page.goto(f"{looked_at.url}/example/visits/26/work")
    follow(page.get_by_role("link", name="Step by step Clean, and oil"))
    assert (found_by_axe(page), too_wide_px(page), small_targets(page)) == ([], 0, [])
    context.close()


@pytest.mark.parametrize("path", ["/example/", "/example/visits/27", "/example/visits/27/readings"])
def test_twice_as_large_text_still_fits(path: str, chromium: Browser, looked_at: Served):
    """WCAG 2.2, success criterion 1.4.4: text twice as large, nothing lost, no sideways scrolling."""
    context = chromium.new_context(viewport={"width": WIDTHS["tablet"], "height": 800}, locale="en-GB")
    page = context.new_page()
    page.goto(looked_at.url + path)
    page.evaluate("document.adoptedStyleSheets = [Object.assign(new CSSStyleSheet(), {})]")
    page.evaluate("document.adoptedStyleSheets[0].replaceSync(':root { font-size: 200% !important; }')")
    assert too_wide_px(page) == 0
    context.close()
