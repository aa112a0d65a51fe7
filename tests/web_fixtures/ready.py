"""Keys, and reading a page once, only when the page is there whole and its scripts listen.

A form that is sent leads to a new page, whose words are seen while it still comes in: a key pressed then is lost, since
the scripts that listen run when the page is whole, and a count taken then is of half a page. So no browser test presses
keys past this module (`tests/house/test_browser_tests_wait.py`).
"""

import time

from playwright.sync_api import Locator, Page


def ready(page: Page) -> Page:
    """Return the page when it is whole: what leads elsewhere has arrived, and every script of it has run."""
    page.wait_for_load_state("load")
    return page


def press(page: Page, key: str, times: int = 1) -> None:
    """Press a key (`Enter`, `Control+z`) so many times, on what has the focus."""
    for _ in range(times):
        ready(page).keyboard.press(key)


def hold(page: Page, key: str, times: int = 20, every_s: float = 0.0) -> None:
    """Hold a key down for as many repeats as `times` says, `every_s` seconds apart, and let it go."""
    ready(page)
    for _ in range(times):
        page.keyboard.down(key)
        time.sleep(every_s)
    page.keyboard.up(key)


def type_in(page: Page, text: str) -> None:
    """Type a text into what has the focus."""
    ready(page).keyboard.type(text)


def press_in(place: Locator, key: str, times: int = 1) -> None:
    """Give the place the focus and press a key so many times."""
    for _ in range(times):
        ready(place.page)
        place.press(key)


def follow(place: Locator) -> Page:
    """Press a link or a button that leads to another page, and return the tab when that page is there whole."""
    with place.page.expect_navigation():
        place.click()
    return ready(place.page)
