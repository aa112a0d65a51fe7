"""Prove that moving stores nothing: every key, from every place, on every page, and the database compared.

`python -m bench.keys` presses each of Page Up and Down, arrows, Home, End, Tab, Space, Enter, Escape and every letter
20 times singly and 20 times held, from a page as it is loaded and from every place that can have the focus but a box of
text or a button that stores. `--pages plan,work` takes those whose address ends so; `--kinds` one place of each kind;
`--quick` the moving keys alone, 3 times, one place of each kind.
"""

import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from breakangle.desk.shop_example import load_example
from web_fixtures.browser import CHROMIUM
from web_fixtures.pages import PAGES
from web_fixtures.pressed import (
    FRESH,
    LETTERS,
    MOVING,
    Tables,
    loaded,
    places_of,
    pressed_everywhere,
    reckoned,
)
from web_fixtures.process import Served

TIMES = 20


def pressed_on(page: Page, served: Served, path: str, quick: bool, kinds: bool) -> tuple[int, int, list[str]]:
    """Return how many places and tries there were on a page, and what was stored by which."""
    loaded(page, f"{served.url}{path}")
    page.wait_for_timeout(500)
    places = [FRESH, *places_of(page, one_of_each=kinds or quick)]
    keys, times = (MOVING, 3) if quick else ((*MOVING, *LETTERS), TIMES)
    tables, tries, stored = Tables(served.folder), 0, []
    for tried in pressed_everywhere(page, served.url, path, keys, times, places):
        tries += 1
        stored += [f"{tried}: {', '.join(found)}" for found in [tables.changed()] if found]
    stored += [f"{path}: {name}" for name in tables.changed(thorough=True)]
    tables.close()
    return len(places), tries, stored


def prove(quick: bool = False, pages: tuple[str, ...] = (), kinds: bool = False) -> tuple[bool, str]:
    """Return whether nothing was stored, and the table of pages."""
    wanted = [one for one in PAGES if not pages or one.endswith(pages)]
    lines, all_stored = [f"{'page':58s} {'places':>7s} {'tries':>7s} {'s':>7s}  stored"], []
    with tempfile.TemporaryDirectory(prefix="breakangle-keys-") as name, sync_playwright() as play:
        load_example(Path(name), datetime.now(UTC))
        served = Served(Path(name))
        served.start()
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        page = browser.new_context(viewport={"width": 1440, "height": 900}, locale="en-GB").new_page()
        try:
            reckoned(page, served.url)
            for path in wanted:
                start = time.perf_counter()
                places, tries, stored = pressed_on(page, served, path, quick, kinds)
                taken = time.perf_counter() - start
                line = f"{path:58s} {places:7d} {tries:7d} {taken:7.0f}  {len(stored)}"
                print(line, *stored, sep="\n  ", flush=True)
                lines.append(line)
                all_stored += stored
        finally:
            browser.close()
            served.stop()
    return not all_stored, "\n".join([*lines, *all_stored])


def main(arguments: list[str]) -> int:
    """Run it and return 1 where anything was stored."""
    named = [word.partition("=")[2] for word in arguments if word.startswith("--pages=")]
    pages = tuple(one for word in named for one in word.split(","))
    good, told = prove("--quick" in arguments, pages, "--kinds" in arguments)
    print(told)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
