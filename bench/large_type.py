"""Prove that large type and 200 % lose nothing, on every page: `python -m bench.large_type [--quick]`.

Large type is the app's own setting, in a phone's window; 200 % is a window of half the width at twice the pixels, as
browsers zoom, for each of the three widths.
"""

import json
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from breakangle.services.example_workshop.workshop import load_example
from web_fixtures.browser import CHROMIUM
from web_fixtures.pages import PAGES, addressed
from web_fixtures.process import Served
from web_fixtures.rules import WIDTHS, out_of_reach, small_targets, too_wide_px

QUICK_PAGES = 8
# What is set or how far it is zoomed, and the window in px; half of a phone's 360 px is less than WCAG 2.2 asks for
# (320 px, success criterion 1.4.10), so a phone is zoomed no narrower than that.
WAYS = (
    ("large type", "large", WIDTHS["phone"], 1),
    ("200 % of 640 px", "usual", 320, 2),
    ("200 % of a tablet", "usual", WIDTHS["tablet"] // 2, 2),
    ("200 % of a desktop", "usual", WIDTHS["desktop"] // 2, 2),
)


def lost_on(page: Page) -> list[str]:
    """Return what a page loses as it stands: its width, what lies out of reach, what is too small to press."""
    wide = too_wide_px(page)
    return [*([f"{wide} px too wide"] if wide else []), *out_of_reach(page), *small_targets(page)]


def prove(quick: bool = False) -> tuple[bool, str]:
    """Return whether nothing was lost, and what was, by way and page."""
    wanted = PAGES[:QUICK_PAGES] if quick else PAGES
    lines, whole = [], True
    with tempfile.TemporaryDirectory(prefix="breakangle-large-") as name, sync_playwright() as play:
        load_example(Path(name), datetime.now(UTC))
        served = Served(Path(name))
        served.start()
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        try:
            for way in WAYS:
                lost = _lost(browser, served, wanted, way)
                whole = whole and not lost
                lines += [f"{way[0]:20s} {len(wanted)} pages, {len(lost)} lose something", *lost]
        finally:
            browser.close()
            served.stop()
    return whole, "\n".join(lines)


def _lost(browser: Browser, served: Served, pages: list[str], way: tuple[str, str, int, int]) -> list[str]:
    _, size, width, scale = way
    context = browser.new_context(
        viewport={"width": width, "height": 740}, device_scale_factor=scale, locale="en-GB"
    )
    view = quote(json.dumps({"type": size, "units": "inch"}))
    context.add_cookies([{"name": "bench-view", "value": view, "url": served.url}])
    page, found = context.new_page(), []
    for path in pages:
        page.goto(f"{served.url}{addressed(served.url, path)}", wait_until="load")
        if lost := lost_on(page):
            found.append(f"  {path}: {'; '.join(lost)}")
    context.close()
    return found


if __name__ == "__main__":
    good, told = prove(quick="--quick" in sys.argv[1:])
    print(told)
    sys.exit(0 if good else 1)
