"""Fixtures: Debian's chromium by playwright; `phone`, `tablet`, `desktop` widths."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from web_fixtures.rules import WIDTHS

CHROMIUM = Path(os.environ.get("CHROMIUM", "/usr/bin/chromium"))


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Return the browser of the whole run."""
    if not CHROMIUM.exists():
        if os.environ.get("CI") == "true":
            pytest.fail("chromium is not installed: apt-get install chromium")
        pytest.skip("SKIPPED ALOUD: chromium is not installed: apt-get install chromium")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    """Return one person's browser: a desktop's, unless the test sets another width."""
    made = chromium.new_context(viewport={"width": WIDTHS["desktop"], "height": 900}, locale="en-GB")
    yield made
    made.close()


@pytest.fixture
def screen(context: BrowserContext) -> Iterator[Page]:
    """Return one tab; a script's error or a refused resource fails the test when it ends."""
    page = context.new_page()
    troubles: list[str] = []
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.on("console", lambda told: troubles.append(told.text) if "Content Security" in told.text else None)
    yield page
    assert troubles == []
