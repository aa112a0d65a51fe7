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
