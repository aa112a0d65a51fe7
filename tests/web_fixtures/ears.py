"""Fixtures for listening: a browser whose microphone plays a recording, and an instrument on the bench to listen to."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from playwright.sync_api import Browser, Page

from web_fixtures.browser import CHROMIUM
from web_fixtures.played import RATE, Played, on_the_bench
from web_fixtures.process import Served

FAKE = ("--no-sandbox", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream")
# The browser plays the recording from the moment it opens the microphone, before the page listens to it: on a busy
# machine a first note with no quiet before it was lost. Nobody plucks in the moment of pressing the button.
QUIET_S = 2.0


@pytest.fixture
def played(chromium: Browser, tmp_path: Path) -> Iterator[Played]:
    """Return what opens a tab of a browser whose microphone plays a recording, once or over and over."""
    opened: list[Browser] = []

    def tab(sound: NDArray[np.float64], over_and_over: bool = False) -> Page:
        path = tmp_path / f"played-{len(opened)}.wav"
        quiet = 1e-4 * np.random.default_rng(1).standard_normal(round(QUIET_S * RATE))
        soundfile.write(path, np.concatenate([quiet, sound]), RATE, subtype="PCM_16")
        words = [*FAKE, f"--use-file-for-fake-audio-capture={path}{'' if over_and_over else '%noloop'}"]
        opened.append(chromium.browser_type.launch(executable_path=str(CHROMIUM), args=words))
        return opened[-1].new_context(locale="en-GB").new_page()

    yield tab
    for one in opened:
        one.close()


@pytest.fixture(scope="session")
def listening_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Return one app for all tests of listening that leave it running."""
    one = Served(tmp_path_factory.mktemp("listening"))
    one.start()
    yield one
    one.stop()


@pytest.fixture
def sheet(listening_bench: Served) -> str:
    """Return the address of the Listen page of an instrument that has just been taken in."""
    return f"{listening_bench.url}/visits/{on_the_bench(listening_bench.folder)}/listen"
