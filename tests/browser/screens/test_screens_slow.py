"""A bench that takes long to answer: what it says is waited for; an old page is shown only if it says nothing."""

import http.client
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import Page, expect

from web_fixtures.process import Served

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]
PATIENCE, SHORT = "1e4", "400"  # ms, as the built worker has it and as it is here
LATE_S = 2.0
READY = (
    "async () => { await navigator.serviceWorker.ready; return Boolean(navigator.serviceWorker.controller); }"
)
AGED = """async (path) => {
    const pages = await caches.open("pages");
    await pages.put(path, new Response("<h1>old</h1>", {headers: {"content-type": "text/html"}}));
}"""
UNPASSED = ("transfer-encoding", "connection", "content-length", "date", "server")


class Way(ThreadingHTTPServer):
    """The way to a bench, on which the answers of one path are slow, or nothing comes through."""

    daemon_threads = True

    def __init__(self, served: Served) -> None:
        super().__init__(("127.0.0.1", 0), _Passed)
        self.served, self.slow_path, self.silent = served, "", threading.Event()
        self.asked: list[str] = []
        self.url = f"http://127.0.0.1:{self.server_address[1]}"


class _Passed(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        way = self.server
        assert isinstance(way, Way)
        way.asked.append(self.path)
        if way.silent.is_set():
            time.sleep(30 * LATE_S)
            return
        if self.path == way.slow_path:
            time.sleep(LATE_S)
        with closing(http.client.HTTPConnection("127.0.0.1", way.served.port, timeout=20)) as line:
            line.request("GET", self.path, headers={"Accept-Language": "en-GB"})
            answer = line.getresponse()
            content = answer.read()
        if self.path == "/sw.js":
            assert content.count(f"={PATIENCE},".encode()) == 1
            content = content.replace(f"={PATIENCE},".encode(), f"={SHORT},".encode())
        self.send_response(answer.status)
        for name, value in answer.getheaders():
            if name.lower() not in UNPASSED:
                self.send_header(name, value)
        self.send_header("content-length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, format: str, *given: object) -> None:
        del format, given


@pytest.fixture
def way(looked_at: Served) -> Iterator[Way]:
    with Way(looked_at) as one:
        threading.Thread(target=one.serve_forever, daemon=True).start()
        yield one
        one.shutdown()


@pytest.fixture
def kept_old(screen: Page, way: Way) -> Page:
    """Return a tab whose page of today is kept, an old one in the place of the true one."""
    screen.goto(f"{way.url}/example/")
    screen.wait_for_function(READY)
    screen.evaluate(AGED, "/example/")
    return screen


def test_a_slow_answer_is_waited_for_while_the_bench_answers(kept_old: Page, way: Way):
    way.slow_path = "/example/"
    begun, pings = time.monotonic(), way.asked.count("/ping")
    kept_old.reload()
    assert time.monotonic() - begun > LATE_S
    expect(kept_old.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    assert way.asked.count("/ping") > pings


def test_what_is_kept_is_shown_when_the_bench_says_nothing_at_all(kept_old: Page, way: Way):
    way.silent.set()
    begun = time.monotonic()
    kept_old.reload(wait_until="commit")
    expect(kept_old.get_by_role("heading", name="old")).to_be_visible()
    assert time.monotonic() - begun < 5 * LATE_S
