"""Keys pressed over and over, singly and held, from every place that can have the focus; and the database beside it."""

import hashlib
import sqlite3
import string
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Error, Page

MOVING = ("PageDown", "PageUp", "ArrowDown", "ArrowUp", "ArrowLeft", "ArrowRight", "Home", "End", "Tab", "Space",
          "Enter", "Escape")  # fmt: skip
LETTERS = tuple(string.ascii_lowercase)
DIGITS = tuple(string.digits)
FRESH = -1
LEADING_AWAY = ("context was destroyed", "interrupted by another", "ERR_ABORTED", "frame was detached")
# What can have the focus, but for boxes of text and for buttons that send a form by POST, which are labelled as
# storing; the two of the footer store in this browser alone and are pressed with the rest.
PLACES = """() => [...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]')]
  .filter(one => one.offsetParent !== null && !one.disabled)
  .filter(one => one.tagName !== 'TEXTAREA')
  .filter(one => one.tagName !== 'INPUT' || ['checkbox', 'radio', 'range', 'file'].includes(one.type))
  .filter(one => !one.matches('button:not([type=button])') || one.form?.method !== 'post'
    || one.form.matches('.views'))"""
KINDS = f"""() => ({PLACES})().map(one => [one.tagName, one.type ?? '', one.form?.method ?? '', one.className,
  Object.keys(one.dataset).join()].join('|'))"""
FOCUS = f"""index => {{ const one = ({PLACES})()[index]; one?.focus(); return document.activeElement === one; }}"""
HERE = "() => document.documentElement?.dataset?.pressedHere === 'yes'"
MARK = "() => { document.documentElement.dataset.pressedHere = 'yes'; }"


class Tables:
    """Every table of the databases under a folder, watched from outside the server."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.paths = sorted(folder.rglob("shop.db"))
        self.connections = [sqlite3.connect(f"file:{path}?mode=ro", uri=True) for path in self.paths]
        self.versions = self._versions()
        self.before = contents(folder)

    def _versions(self) -> list[int]:
        """Return SQLite's own marks of what others have committed since."""
        return [int(one.execute("PRAGMA data_version").fetchone()[0]) for one in self.connections]

    def changed(self, thorough: bool = False) -> list[str]:
        """Return the tables whose content has changed since the last look; read only where something was written."""
        now = self._versions()
        if now == self.versions and not thorough:
            return []
        after = contents(self.folder)
        found = sorted(
            name for name in self.before.keys() | after.keys() if self.before.get(name) != after.get(name)
        )
        self.versions, self.before = now, after
        return found

    def close(self) -> None:
        """Let go of the files."""
        for one in self.connections:
            one.close()


def contents(folder: Path) -> dict[str, str]:
    """Return a digest of every table's rows, by the table's name; one of an example workshop after `example/`."""
    found: dict[str, str] = {}
    for path in sorted(folder.rglob("shop.db")):
        with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as connection:
            names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
            for (name,) in names.fetchall():
                rows = sorted(map(repr, connection.execute(f'SELECT * FROM "{name}"')))
                digest = hashlib.sha256("\n".join(rows).encode()).hexdigest()
                found[f"{path.parent.relative_to(folder)}/{name}"] = digest
        connection.close()
    return found


@dataclass(frozen=True)
class Pressed:
    """One try: on which page, from which place (`FRESH`: as it was loaded), which key, held or singly."""

    path: str
    place: int
    key: str
    held: bool


def reckoned(page: Page, url: str) -> None:
    """Open what works something out of the records and keeps it: today's lists, and every open sheet's plan."""
    for root in ("/", "/example/"):
        page.goto(f"{url}{root}")
        sheets = page.locator("main a.whole").evaluate_all("all => all.map(one => one.href)")
        for sheet in dict.fromkeys(one for one in sheets if "/visits/" in one):
            page.request.get(f"{sheet}/plan")
        page.goto(f"{url}{root}")  # what comes due is reckoned again from what was learned


def places_of(page: Page, one_of_each: bool = False, links: bool = True) -> list[int]:
    """Return the places of the page as it stands; with `one_of_each` one of a kind, links among them or not."""
    kinds: list[str] = [one if links or not one.startswith("A|") else "" for one in page.evaluate(KINDS)]
    first = {kind: index for index, kind in reversed(list(enumerate(kinds)))}
    first.pop("", None)
    return sorted(first.values()) if one_of_each else list(range(len(kinds)))


def loaded(page: Page, address: str) -> None:
    """Load the page; where a key pressed before is still leading elsewhere, wait for that and load it then."""
    _again_while_it_loads(lambda: page.wait_for_load_state("load"))
    _again_while_it_loads(lambda: page.goto(address, wait_until="load"))


def opened(page: Page, address: str, place: int) -> None:
    """Stand on the page with the focus at the place, loading it only where it is not there as it was."""
    if page.url != address or not page.evaluate(HERE):
        page.goto(address, wait_until="load")
        page.evaluate(MARK)
    if place == FRESH:
        page.evaluate("() => document.activeElement?.blur?.()")
    else:
        page.evaluate(FOCUS, place)


def press(page: Page, key: str, times: int, held: bool) -> None:
    """Press a key so often, or hold it down for as many repeats."""
    if held:
        for _ in range(times):
            page.keyboard.down(key)
        page.keyboard.up(key)
        return
    for _ in range(times):
        page.keyboard.press(key)


def pressed_everywhere(
    page: Page,
    url: str,
    path: str,
    keys: Sequence[str],
    times: int,
    places: Sequence[int],
    ways: Sequence[bool] = (False, True),
) -> Iterator[Pressed]:
    """Press every key from every place, singly and held as `ways` say, and yield each try when it is done."""
    address = f"{url}{path}"
    for place in places:
        for key in keys:
            for held in ways:
                _again_while_it_loads(lambda place=place: opened(page, address, place))  # type: ignore[misc]
                _again_while_it_loads(lambda key=key, held=held: press(page, key, times, held), 1)  # type: ignore[misc]
                yield Pressed(path, place, key, held)


def _again_while_it_loads(act: Callable[[], None], most: int = 5) -> None:
    """Do it, and again where a key pressed before is still leading to another page meanwhile; once: let it go."""
    for left in reversed(range(most)):
        try:
            act()
        except Error as cause:
            leading_away = any(words in str(cause) for words in LEADING_AWAY)
            if not leading_away or (left == 0 and most > 1):
                raise
            time.sleep(0.2)
        else:
            return
