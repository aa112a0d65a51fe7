"""Prove that moving stores nothing: every key, from every place, on every page, and the database compared.

`python -m bench.keys` presses each of Page Up and Down, arrows, Home, End, Tab, Space, Enter, Escape and every letter
20 times singly and 20 times held, from a page as it is loaded (loaded again for each key) and from every place that can
have the focus but a box of text or a button that stores, in what is folded too. After each try every database is asked
whether anything was committed, and after each page every table is compared. A press that leads to another page has it
fetched and stays here (`_key_tab.py`); what keys do there is that page's own try. `--pages plan,work` takes those whose
address ends so; `--part=2/14` the second of fourteen hands that the pages are dealt to; `--kinds` one place of each
kind; `--quick` the moving keys alone, 3 times, one place of each kind.
"""

import asyncio
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import AsyncIterator
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bench._key_tab import Driven, Tab
from breakangle.services.example_workshop.workshop import load_example
from web_fixtures.browser import CHROMIUM
from web_fixtures.pages import PAGES, addressed
from web_fixtures.pressed import FRESH, KINDS, LETTERS, MOVING, PLACES, Pressed, Tables
from web_fixtures.process import Served

TIMES = 20
# What would open beside the page is opened in its place, where its answer lets the page stay: a tab for every press
# would be left behind else.
MARK = f"""(() => {{ for (const one of document.querySelectorAll("[target=_blank]")) one.target = "_self";
  document.documentElement.dataset.pressedHere = location.href;
  ({PLACES})().forEach((one, index) => {{ one.dataset.pressedPlace = index; }}); }})()"""
FOCUS = """((index, address) => {
  if (document.documentElement?.dataset.pressedHere !== address || location.href !== address) return "away";
  const one = document.querySelector(`[data-pressed-place="${index}"]`);
  if (!one) return "gone";
  for (const each of document.querySelectorAll("dialog[open]")) each.close();
  for (let box = one.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
  one.focus();
  return document.activeElement === one ? "there" : "refused";
})(%d, "%s")"""


async def stood(tab: Tab, address: str, place: int) -> bool:
    """Return whether the focus is at the place, the page loaded again where it is not there as it was."""
    if place != FRESH:
        found = await tab.run(FOCUS % (place, address))
        if found in ("there", "refused"):
            return bool(found == "there")
    await tab.load(address)
    await tab.run(MARK)
    return place == FRESH or await tab.run(FOCUS % (place, address)) == "there"


async def tries(
    tab: Tab, url: str, path: str, keys: tuple[str, ...], times: int, places: list[int]
) -> AsyncIterator[tuple[Pressed, list[str]]]:
    """Press every key from every place, singly and held; yield each try and what it sent to be stored.

    A place that takes no focus, such as a picture's own, is left out.
    """
    for place in places:
        for key in keys:
            for held in (False, True):
                if not await stood(tab, f"{url}{path}", place):
                    continue
                await tab.press(key, times, held)
                yield Pressed(path, place, key, held), list(tab.sent)
                if tab.sent:
                    await tab.forget()
                    await tab.load("about:blank")


async def pressed_on(
    tab: Tab, served: Served, path: str, quick: bool, kinds: bool
) -> tuple[int, int, list[str]]:
    """Return how many places and tries there were on a page, and what was stored by which."""
    await tab.load(f"{served.url}{addressed(served.url, path)}")
    path = str(await tab.run("location.pathname + location.search"))  # an address may lead on to another page
    kind_of: list[str] = await tab.run(f"({KINDS})()")
    first = {kind: index for index, kind in reversed(list(enumerate(kind_of)))}
    places = [FRESH, *(sorted(first.values()) if kinds or quick else range(len(kind_of)))]
    keys, times = (MOVING, 3) if quick else ((*MOVING, *LETTERS), TIMES)
    tables, done, stored = Tables(served.folder), set[int](), []
    count = 0
    async for tried, sent in tries(tab, served.url, path, keys, times, places):
        count += 1
        done.add(tried.place)
        if found := tables.changed():
            tab.remembered.clear()
            stored.append(f"{tried} sent {sent or 'nothing'}: {', '.join(found)}")
    stored += [f"{path}: {name}" for name in tables.changed(thorough=True)]
    tables.close()
    return len(done), count, stored


def reckoned(url: str) -> None:
    """Open every page twice, and open sheets' plans: what pages work out and keep is kept before it begins."""
    for path in [*PAGES, *(f"/example/visits/{number}/plan" for number in range(20, 28)), *PAGES]:
        try:
            urllib.request.urlopen(f"{url}{addressed(url, path)}", timeout=120).read()
        except urllib.error.HTTPError as refusal:
            refusal.close()  # the address of no page is among them


async def watched(served: Served) -> bool:
    """Return whether what a button stores is seen: Enter on the plan's own, which is none of the places pressed."""
    tables = Tables(served.folder)
    async with Driven(CHROMIUM, f"127.0.0.1:{served.port}") as tab:
        await tab.load(f"{served.url}/example/visits/27/plan")
        await tab.run("document.querySelector('ol.lines input[type=checkbox]').checked = true")
        await tab.run("document.querySelector('#done').focus()")
        await tab.press("Enter", 1, held=False)
        seen = bool(tab.sent) and any("/entry" in name for name in tables.changed())
    tables.close()
    return seen


async def proved(served: Served, wanted: list[str], quick: bool, kinds: bool) -> tuple[list[str], list[str]]:
    """Return the table's lines and what was stored."""
    lines, all_stored = [f"{'page':72s} {'places':>7s} {'tries':>7s} {'s':>7s}  stored"], list[str]()
    for path in wanted:
        async with Driven(CHROMIUM, f"127.0.0.1:{served.port}") as tab:
            start = time.perf_counter()
            places, count, stored = await pressed_on(tab, served, path, quick, kinds)
            taken = time.perf_counter() - start
        line = f"{path:72s} {places:7d} {count:7d} {taken:7.0f}  {len(stored)}"
        print(line, *stored, sep="\n  ", flush=True)
        lines.append(line)
        all_stored += stored
    if not await watched(served):
        all_stored.append("what a button stores was not seen, so what keys store may not have been either")
    return lines, all_stored


def wanted_pages(arguments: list[str]) -> list[str]:
    """Return the pages that `--pages=` and `--part=` leave, every one where neither is given."""
    pages, part, parts = tuple[str, ...](), 1, 1
    for word in arguments:
        if word.startswith("--pages="):
            pages += tuple(word.partition("=")[2].split(","))
        elif word.startswith("--part="):
            part, parts = map(int, word.partition("=")[2].split("/"))
    return [one for one in PAGES if not pages or one.endswith(pages)][part - 1 :: parts]


def prove(quick: bool = False, pages: list[str] | None = None, kinds: bool = False) -> tuple[bool, str]:
    """Return whether nothing was stored, and the table of pages; None: every page."""
    wanted = PAGES if pages is None else pages
    with tempfile.TemporaryDirectory(prefix="breakangle-keys-") as name:
        load_example(Path(name), datetime.now(UTC))
        served = Served(Path(name))
        served.start()
        try:
            reckoned(served.url)
            lines, stored = asyncio.run(proved(served, wanted, quick, kinds))
        finally:
            served.stop()
    return not stored, "\n".join([*lines, *stored])


def main(arguments: list[str]) -> int:
    """Run it and return 1 where anything was stored."""
    good, told = prove("--quick" in arguments, wanted_pages(arguments), "--kinds" in arguments)
    print(told)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
