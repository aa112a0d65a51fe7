"""Every page by the rules, in all that can be chosen: `python -m bench.page_rules [--part=1/4] [--pictures=DIR]`.

At 360, 820 and 1440 px, light and dark, in mm and in inches: what the rule checker (axe) finds, whether the page is
wider than its window, what is too small for a thumb, what lies out of reach, words that are cut off or lie on each
other, and what the browser complains of. `--pictures` writes each page as it was looked at; `--pages=plan,work` takes
those whose address ends so; `--quick` two ways of each.
"""

import json
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import product
from pathlib import Path
from typing import Literal
from urllib.parse import quote

from playwright.sync_api import Browser, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bench.keys import wanted_pages
from breakangle.services.example_workshop.workshop import load_example
from web_fixtures.browser import CHROMIUM
from web_fixtures.pages import addressed
from web_fixtures.process import Served
from web_fixtures.rules import WIDTHS, cut_off, found_by_axe, out_of_reach, small_targets, too_wide_px

Theme = Literal["light", "dark"]
THEMES: tuple[Theme, ...] = ("light", "dark")
UNITS = ("mm", "inch")
REFUSED = "404 (Not Found)"  # the address of no page is among the pages
Way = tuple[str, Theme, str]


def broken_on(
    browser: Browser, served: Served, paths: list[str], way: Way, pictures: Path | None
) -> Iterator[str]:
    """Yield what breaks a rule in one width, theme and unit, page by page."""
    width, theme, units = way
    context = browser.new_context(
        viewport={"width": WIDTHS[width], "height": 800},
        color_scheme=theme,
        locale="en-GB",
    )
    view = quote(json.dumps({"units": units}))
    context.add_cookies([{"name": "bench-view", "value": view, "url": served.url}])
    page, said = context.new_page(), list[str]()
    page.on("console", lambda told: said.append(told.text) if told.type == "error" else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    for number, path in enumerate(paths):
        said.clear()
        page.goto(f"{served.url}{addressed(served.url, path)}", wait_until="load")
        wide = too_wide_px(page)
        found = [*found_by_axe(page), *([f"{wide} px too wide"] if wide else []), *small_targets(page),
                 *out_of_reach(page), *cut_off(page), *(one for one in said if REFUSED not in one)]  # fmt: skip
        if pictures is not None:
            name = path.removeprefix("/example").replace("/", "_").partition("?")[0]
            page.screenshot(path=pictures / f"{number:02d}{name}.{width}-{theme}-{units}.png", full_page=True)
        if found:
            yield f"{path} {width} {theme} {units}: {'; '.join(found)}"
    context.close()


def prove(
    quick: bool = False, paths: list[str] | None = None, pictures: Path | None = None
) -> tuple[bool, str]:
    """Return whether no rule is broken, and what was looked at."""
    wanted = wanted_pages([]) if paths is None else paths
    ways: list[Way] = list(product(WIDTHS, THEMES, UNITS))
    if quick:
        ways = [("phone", "dark", "inch"), ("desktop", "light", "mm")]
    with tempfile.TemporaryDirectory(prefix="breakangle-rules-") as name, sync_playwright() as play:
        load_example(Path(name), datetime.now(UTC))
        served = Served(Path(name))
        served.start()
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        try:
            found = [one for way in ways for one in broken_on(browser, served, wanted, way, pictures)]
        finally:
            browser.close()
            served.stop()
    looked = (
        f"{len(wanted)} pages in {len(ways)} ways, {len(found)} of {len(wanted) * len(ways)} break a rule"
    )
    return not found, "\n".join([looked, *found])


def main(arguments: list[str]) -> int:
    """Run it and return 1 where a rule is broken."""
    folder = next((Path(one.partition("=")[2]) for one in arguments if one.startswith("--pictures=")), None)
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
    good, told = prove("--quick" in arguments, wanted_pages(arguments), folder)
    print(told)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
