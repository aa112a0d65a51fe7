"""The line that a browser's microphone comes in by: who may open it, what it takes, and how it ends."""

import json
from contextlib import ExitStack

import numpy as np
import pytest
from starlette.requests import HTTPConnection
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from breakangle.web.pages.listening.listen_words import Speaker
from listening_fixtures.plucks import Pluck, render
from listening_fixtures.six_strings import OPEN_HZ
from web_fixtures.process import Served

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser", "web_fixtures.ears"]


def live(sheet: str) -> str:
    return sheet.replace("http:", "ws:") + "/live"


def test_a_page_of_another_place_gets_no_line(listening_bench: Served, sheet: str):
    with pytest.raises(InvalidStatus) as refused, connect(live(sheet), origin="http://elsewhere.example"):
        pass
    assert refused.value.response.status_code == 403
    wrong_host = {"Host": f"elsewhere.example:{listening_bench.port}"}
    with pytest.raises(InvalidStatus), connect(live(sheet), additional_headers=wrong_host):
        pass


@pytest.mark.parametrize(
    "first",
    [
        "",
        "no",
        "[]",
        "{}",
        '{"rate_hz": 0}',
        '{"rate_hz": 1e999}',
        '{"rate_hz": "48000"}',
        '{"rate_hz": 44100, "job": "all"}',
        '{"rate_hz": 44100, "since": "yesterday"}',
        '{"rate_hz": 44100, "order": "sideways"}',
        '{"rate_hz": 44100, "job": "settle", "heard_hz": [0]}',
        '{"rate_hz": 44100, "job": "settle", "string": 9}',
        '{"rate_hz": 44100, "more": 1}',
        b"no words",
    ],
)
def test_a_hello_that_does_not_fit_ends_the_line_with_a_sentence(sheet: str, first: str | bytes):
    with connect(live(sheet)) as line:
        line.send(first)
        assert json.loads(line.recv(timeout=5))["event"] == "closed"
        with pytest.raises(ConnectionClosed):
            line.recv(timeout=5)


@pytest.mark.parametrize(
    "block",
    [
        b"",
        b"abc",
        np.full(8, np.nan, "<f4").tobytes(),
        np.full(8, 1e9, "<f4").tobytes(),
        b"\0" * (2**18 + 4),
        '{"do": "fly"}',
    ],
)
def test_what_is_no_sound_ends_the_line_with_a_sentence(sheet: str, block: str | bytes):
    with connect(live(sheet)) as line:
        line.send('{"rate_hz": 44100}')
        assert json.loads(line.recv(timeout=5))["event"] == "asks"
        line.send(block)
        assert json.loads(line.recv(timeout=5))["event"] == "closed"


def test_more_lines_than_a_bench_needs_are_told_to_wait(sheet: str):
    with ExitStack() as held:
        lines = [held.enter_context(connect(live(sheet))) for _ in range(6)]
        for one in lines:
            one.send('{"rate_hz": 44100}')
            assert json.loads(one.recv(timeout=5))["event"] == "asks"
        with connect(live(sheet)) as last:
            assert json.loads(last.recv(timeout=5))["words"].startswith("Too many pages listen")
    with connect(live(sheet)) as line:
        line.send('{"rate_hz": 44100}')
        assert json.loads(line.recv(timeout=5))["event"] == "asks"


@pytest.mark.parametrize(
    ("cents", "uncertainty", "words"),
    [
        (3.24, 0.11, "3.2 cents sharp, sure to 0.2"),
        (-3.24, 0.04, "3.2 cents flat, sure to 0.1"),
        (0.15, 0.1, "right on the note, sure to 0.2"),
        (-7.4, 2.6, "7 cents flat, sure to 5"),
        (0.4, 7.0, "near the note, sure to 14"),
        (0.0, 0.0, "right on the note, sure to 0.1"),
    ],
)
def test_no_figure_is_finer_than_it_is_sure_and_none_is_surer_than_a_tenth(
    cents: float, uncertainty: float, words: str
):
    speaker = Speaker(HTTPConnection({"type": "http", "headers": [(b"accept-language", b"en")], "state": {}}))
    assert speaker.figure(cents, uncertainty) == words


def test_another_string_than_the_one_watched_is_not_counted(sheet: str):
    with connect(live(sheet)) as line:
        line.send('{"rate_hz": 44100, "job": "settle", "string": 5}')
        assert json.loads(line.recv(timeout=5))["heard_hz"] == []
        sound = np.concatenate([np.zeros(22_050), render(Pluck(OPEN_HZ[1], duration_s=2.5), 1)])
        for at in range(0, len(sound), 4096):
            line.send(sound[at : at + 4096].astype("<f4").tobytes())
        said = [json.loads(line.recv(timeout=5)) for _ in range(3)]
        assert said[-1]["event"] == "take"
        assert said[-1]["outcome"] == "again"
