"""Listening, recordings, devices, pairing, the certificate and the page of last resort: the rules at every width."""

from collections.abc import Iterator
from pathlib import Path

import pytest
import soundfile
from playwright.sync_api import Browser, Page, expect

from listening_fixtures.six_strings import BY_STRING
from listening_fixtures.six_strings import played as sound_of
from web_fixtures.devices import two_free_ports
from web_fixtures.played import RATE, Played, on_the_bench
from web_fixtures.process import Served
from web_fixtures.ready import follow, ready
from web_fixtures.rules import THEMES, WIDTHS, found_by_axe, small_targets, too_wide_px

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser", "web_fixtures.ears"]


@pytest.fixture(scope="module")
def secure(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Return the app served to the network with a certificate, an instrument on the bench."""
    one = Served(tmp_path_factory.mktemp("doors"), ("--network", "--secure"), two_free_ports())
    one.start()
    on_the_bench(one.folder)
    yield one
    one.stop()


@pytest.fixture
def tab(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context(locale="en-GB")
    yield context.new_page()
    context.close()


def broken_rules(page: Page) -> dict[str, object]:
    """Return what breaks a rule at every width; and what is too wide with text twice as large."""
    broken: dict[str, object] = {}
    for name, width in WIDTHS.items():
        page.set_viewport_size({"width": width, "height": 800})
        page.emulate_media(color_scheme=THEMES[name])
        broken[f"{name}: rules"] = found_by_axe(page)
        broken[f"{name}: px too wide"] = too_wide_px(page)
        broken[f"{name}: small targets"] = small_targets(page)
    page.set_viewport_size({"width": WIDTHS["tablet"], "height": 800})
    page.evaluate(
        "new CSSStyleSheet().replace(':root { font-size: 200%; }').then((one) => document.adoptedStyleSheets.push(one))"
    )
    broken["twice the text: px too wide"] = too_wide_px(page)
    return {where: what for where, what in broken.items() if what}


@pytest.mark.parametrize("path", ["/pair", "/authority", "/offline", "/shop/devices", "/visits/1/listen"])
def test_a_page_keeps_the_rules(path: str, secure: Served, tab: Page):
    tab.goto(secure.url + path)
    assert broken_rules(tab) == {}


def test_the_devices_with_a_fresh_code_keep_the_rules(secure: Served, tab: Page):
    tab.goto(f"{secure.url}/shop/devices")
    follow(tab.get_by_role("button", name="Make a pairing code"))
    expect(tab.locator("figure.scan svg")).to_be_visible()
    assert broken_rules(tab) == {}


def test_the_page_keeps_the_rules_while_it_listens(sheet: str, played: Played):
    page = played(sound_of(BY_STRING[:2], RATE))
    page.goto(sheet)
    page.get_by_role("button", name="Start listening").click()
    expect(page.locator("#told")).to_contain_text("Stored.", timeout=15_000)
    assert broken_rules(page) == {}


def test_a_heard_recording_keeps_the_rules(sheet: str, tab: Page, tmp_path: Path):
    path = tmp_path / "low string.wav"
    soundfile.write(path, sound_of(BY_STRING[:3], 44_100), 44_100)
    tab.goto(sheet)
    tab.get_by_label("Add a recording").set_input_files(path)
    tab.get_by_role("button", name="Hear it").click()
    expect(tab.get_by_role("heading", name="Takes: 3")).to_be_visible()
    ready(tab)
    for one in tab.locator("summary").all():
        one.click()
    assert broken_rules(tab) == {}
