"""What holds of every page: the rule checker's findings, its width, the size of what can be pressed."""

from pathlib import Path
from typing import Any, Literal

from playwright.sync_api import Page

# Colours do not depend on the width: each is looked at in one of them.
THEMES: dict[str, Literal["light", "dark"]] = {"phone": "dark", "tablet": "light", "desktop": "light"}
WIDTHS = {"phone": 360, "tablet": 820, "desktop": 1440}
AXE = Path(__file__).parents[2] / "src/breakangle/web/frontend/node_modules/axe-core/axe.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
LEAST_TARGET_PX = 44


def found_by_axe(page: Page, colours: bool = True) -> list[str]:
    """Return what the rule checker finds on the page as it stands, one line each; `colours`: their contrast too."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.read_text(encoding="utf-8"))
    asked = {
        "runOnly": RULES,
        "resultTypes": ["violations"],
        "rules": {"color-contrast": {"enabled": colours}},
    }
    found: dict[str, Any] = page.evaluate("asked => axe.run(asked)", asked)
    return [
        f"{one['id']}: {one['help']}: {[node['html'][:120] for node in one['nodes'][:3]]}"
        for one in found["violations"]
    ]


def too_wide_px(page: Page) -> int:
    """Return by how many px the page is wider than its window."""
    return int(page.evaluate("document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"))


PRESSED = "a[href], button, input:not([type=hidden]), select, textarea, summary"
INSIDE_TEXT = "p, td, dd, figcaption, .unseen"
SMALL = """([least, pressed, inside]) => [...document.querySelectorAll(pressed)]
  .filter(one => one.offsetParent !== null && !one.closest(inside) && !one.classList.contains('skip'))
  .map(one => [one.closest('label') ?? one, one])
  .filter(([box]) => {
    const { height } = box.getBoundingClientRect();
    return height > 0 && height < least - 0.5;
  })
  .map(([, one]) => one.outerHTML.slice(0, 100))"""


def small_targets(page: Page) -> list[str]:
    """Return what can be pressed but is less than 44 px high; links inside running text are left out."""
    return list(page.evaluate(SMALL, [LEAST_TARGET_PX, PRESSED, INSIDE_TEXT]))


# What is shown to press and lies outside the window's width, where nothing scrolls to it.
OUT_OF_REACH = """() => [...document.querySelectorAll('main :is(button, input, select), .foot button')]
  .filter(one => one.offsetParent !== null && !one.closest('.wide, .choose'))
  .filter(one => { const box = one.getBoundingClientRect(); return box.left < -1 || box.right > innerWidth + 1; })
  .map(one => one.outerHTML.slice(0, 100))"""


def out_of_reach(page: Page) -> list[str]:
    """Return what can be pressed or filled in but lies outside the window's width."""
    return list(page.evaluate(OUT_OF_REACH))


# Words that their own box cuts off, where nothing scrolls to the rest and nothing says that there is more.
CUT_OFF = """() => [...document.querySelectorAll('main *, nav *, header *, footer *')]
  .filter(one => one.checkVisibility() && !one.closest('svg, .wide, select, textarea') && one.clientWidth > 1)
  .filter(one => [...one.childNodes].some(part => part.nodeType === 3 && part.textContent.trim()))
  .filter(one => { const { overflowX, overflowY } = getComputedStyle(one);
    return (overflowX !== 'visible' && one.scrollWidth > one.clientWidth + 1)
      || (overflowY !== 'visible' && one.scrollHeight > one.clientHeight + 1); })
  .map(one => `cut off: ${one.outerHTML.slice(0, 100)}`)"""
# Words of a drawing that lie on each other; those that the drawing itself turns or hides are left out.
OVERLAID = """() => [...document.querySelectorAll('main svg')].filter(one => one.checkVisibility()).flatMap(svg => {
  const words = [...svg.querySelectorAll('text')].filter(one => one.textContent.trim()
    && !one.closest('[transform*=rotate]') && getComputedStyle(one).visibility === 'visible');
  const boxes = words.map(one => one.getBoundingClientRect());
  const found = [];
  boxes.forEach((a, i) => boxes.slice(i + 1).forEach((b, k) => {
    const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    if (wide > 2 && high > 0.4 * Math.min(a.height, b.height))
      found.push(`on each other: ${words[i].textContent} and ${words[i + 1 + k].textContent}`);
  }));
  return found.slice(0, 3);
})"""


def cut_off(page: Page) -> list[str]:
    """Return the words that are cut off by their box, and those of a drawing that lie on each other."""
    return [*page.evaluate(CUT_OFF), *page.evaluate(OVERLAID)]
