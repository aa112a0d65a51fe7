"""What the screens cost: the server's answers with a hundredfold example workshop, weight on the wire, start, dragging.

Peer: a page of the same framework that does nothing, in the same process and run.
"""

import gzip
import re
import statistics
import sys
import tempfile
import time
import urllib.request
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bench._dragging import drag_report
from bench._shop_times import multiply
from breakangle.services.example_workshop.workshop import example_folder, load_example
from web_fixtures.process import Served

TIMES, ASKED = 100, 40
PLACES = ("/", "/instruments", "/instruments/{instrument}", "/search?q=heron", "/visits/new", "/visits/27",
          "/visits/27/work", "/visits/27/readings", "/visits/27/listen", "/visits/27/plan", "/visits/27/try",
          "/visits/27/strings", "/visits/27/paper", "/shop")  # fmt: skip
BARE = "/app.webmanifest"


def _asked(address: str) -> tuple[float, int, bytes]:
    """Return the milliseconds an answer took, its bytes on the wire, and its text."""
    request = urllib.request.Request(address, headers={"accept-encoding": "gzip"})
    start = time.perf_counter()
    with urllib.request.urlopen(request, timeout=60) as answer:
        content = answer.read()
        zipped = answer.headers.get("content-encoding") == "gzip"
    taken = 1000.0 * (time.perf_counter() - start)
    return taken, len(content), gzip.decompress(content) if zipped else content


def _assets(served: Served, page: bytes) -> set[str]:
    """Return every built file that the page loads, those that its scripts import among them."""
    found = set(re.findall(r"/static/[\w.-]+", page.decode()))
    for script in [one for one in found if one.endswith(".js")]:
        parts = re.findall(r"\./(part-[\w-]+\.js)", _asked(served.url + script)[2].decode())
        found |= {f"/static/{one}" for one in parts}
    return found


def _row(served: Served, path: str, bare_ms: float, asked: int) -> str:
    address = f"{served.url}/example{path}"
    first_ms, size, text = _asked(address)
    taken = sorted(_asked(address)[0] for _ in range(asked))
    files = sum(_asked(served.url + one)[1] for one in _assets(served, text))
    median, late = statistics.median(taken), taken[int(0.95 * (len(taken) - 1))]
    return (
        f"{path:26s} {first_ms:9.0f} {median:9.1f} {late:8.1f} {median / bare_ms:8.1f} "
        f"{(size + files) / 1000:10.1f} {size / 1000:8.1f}"
    )


def report(quick: bool = False) -> str:
    """Return the table of pages: milliseconds, times a page that does nothing, kB first and after."""
    with tempfile.TemporaryDirectory(prefix="breakangle-bench-") as name:
        folder = Path(name)
        load_example(folder, datetime.now(UTC))
        rows = multiply(example_folder(folder) / "shop.db", 5 if quick else TIMES)
        served = Served(folder)
        start = time.perf_counter()
        served.start()
        started = time.perf_counter() - start
        try:
            found = _asked(f"{served.url}/example/instruments")[2].decode()
            instrument = found.split("/instruments/")[1].split('"')[0]
            bare_ms = statistics.median(_asked(served.url + BARE)[0] for _ in range(50))
            lines = [
                _row(served, one.format(instrument=instrument), bare_ms, 8 if quick else ASKED)
                for one in PLACES
            ]
            dragged = drag_report(served, "/example/visits/27/try")
        finally:
            served.stop()
    told = ", ".join(
        f"{count:,} {table}s" for table, count in rows.items() if table in ("instrument", "visit", "entry")
    )
    head = f"{'page':26s} {'first ms':>9s} {'median':>9s} {'p95':>8s} {'x bare':>8s} {'kB first':>10s} {'kB after':>8s}"
    return "\n".join(
        [f"{told}; started in {started:.2f} s; bare page {bare_ms:.1f} ms", head, *lines, dragged]
    )
