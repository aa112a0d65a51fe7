"""Half-open connections, huge photographs: how long the owner's page takes meanwhile, and the memory of it all."""

import http.client
import os
import re
import resource
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
import uuid
from contextlib import suppress
from io import BytesIO
from pathlib import Path

from PIL import Image

COUNT, QUICK_COUNT, PICTURES, QUICK_PICTURES = 5000, 600, 100, 6
HALF = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Long: "
WHOSE = {
    "this computer": lambda number: "127.0.0.1",
    "one stranger": lambda number: "127.0.0.9",
    "many strangers": lambda number: f"127.0.{1 + number // 200}.{1 + number % 200}",
}


def served(folder: Path) -> tuple[subprocess.Popen[bytes], int]:
    """Start a server on a folder of its own, and return it with its port, once it answers."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = int(one.getsockname()[1])
    words = [sys.executable, "-m", "breakangle.cli", "serve", "--port", str(port), "--network"]
    process = subprocess.Popen(
        words, env=os.environ | {"BREAKANGLE_DATA": str(folder)}, stdout=subprocess.DEVNULL
    )
    until = time.monotonic() + 60
    while time.monotonic() < until:
        with suppress(OSError):
            page_s(port)
            return process, port
        time.sleep(0.1)
    raise SystemExit("the server did not start")


def page_s(port: int) -> float:
    """Return how long one page took this computer's own browser."""
    began = time.monotonic()
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/shop", timeout=60) as page:
        page.read()
    return time.monotonic() - began


def half_open(port: int, whose: str, count: int) -> str:
    """Open so many connections that send half a head, and return how long pages took meanwhile."""
    lines, times = list[socket.socket](), list[float]()
    try:
        for number in range(count):
            source = (WHOSE[whose](number), 0)
            line = socket.create_connection(("127.0.0.1", port), timeout=30, source_address=source)
            with suppress(OSError):
                line.sendall(HALF)
            lines.append(line)
            if number % 50 == 49:
                times.append(page_s(port))
        times += [page_s(port) for _ in range(20)]
    finally:
        for line in lines:
            line.close()
    times.sort()
    return (
        f"{count} half-open from {whose}: page median {times[len(times) // 2]:.3f} s, worst {times[-1]:.3f} s"
    )


def processes_below(process: int) -> set[int]:
    """Return a process and all below it."""
    rows = subprocess.run(
        ["ps", "-e", "-o", "pid=,ppid="], capture_output=True, text=True, check=True
    ).stdout.split()
    parents = {int(pid): int(parent) for pid, parent in zip(rows[::2], rows[1::2], strict=True)}
    mine = {process}
    while below := {pid for pid, parent in parents.items() if parent in mine} - mine:
        mine |= below
    return mine


def memory_mb(process: subprocess.Popen[bytes]) -> float:
    """Return the memory of a process and of all below it now, each shared page counted once (PSS)."""
    total = 0.0
    for pid in processes_below(process.pid):
        with suppress(OSError):
            found = re.search(r"^Pss:\s+(\d+)", Path(f"/proc/{pid}/smaps_rollup").read_text(), re.MULTILINE)
            total += int(found[1]) / 1024 if found else 0.0
    return total


def large_picture(form: str) -> bytes:
    """Return a photograph of 80 megapixels as a file."""
    out = BytesIO()
    Image.new("RGB", (10_000, 8_000), (90, 60, 30)).save(out, form)
    return out.getvalue()


def pictures(process: subprocess.Popen[bytes], port: int, count: int) -> str:
    """Send so many photographs of 80 megapixels at once, and return what came of them, pages' times and memory."""
    bodies = {form: large_picture(form) for form in ("JPEG", "PNG")}
    answers, times, most = list[int](), list[float](), 0.0

    def send(number: int) -> None:
        form, edge = ("JPEG" if number % 2 else "PNG"), uuid.uuid4().hex
        name = f"p{number}.{'jpg' if form == 'JPEG' else 'png'}"
        head = f'--{edge}\r\nContent-Disposition: form-data; name="photographs"; filename="{name}"\r\n'
        body = (
            head.encode() + b"Content-Type: image/x\r\n\r\n" + bodies[form] + f"\r\n--{edge}--\r\n".encode()
        )
        for _ in range(90):
            line = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
            try:
                words = {"Content-Type": f"multipart/form-data; boundary={edge}"}
                line.request("POST", "/visits/1/photographs", body, words)
                answer = line.getresponse()
                answer.read()
            except OSError:
                answers.append(0)  # ended by the server
                continue
            finally:
                line.close()
            answers.append(answer.status)
            if answer.status != 503:
                return
            time.sleep(int(answer.getheader("retry-after", "1")))

    senders = [threading.Thread(target=send, args=(number,)) for number in range(count)]
    for sender in senders:
        sender.start()
    while any(sender.is_alive() for sender in senders):
        times.append(page_s(port))
        most = max(most, memory_mb(process))
        time.sleep(0.1)
    told = {status: answers.count(status) for status in sorted(set(answers))}
    return f"{count} photographs of 80 megapixels at once: answers {told}, page worst {max(times):.3f} s, {most:.0f} MB"


def more_files() -> None:
    """Let this process hold as many connections as are opened here."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, max(soft, 12_000)), hard))


def with_example(folder: Path) -> None:
    """Make a shop with one visit in a folder."""
    from bench.import_fuzz import ADA
    from breakangle.services.service_files.example import example_text
    from breakangle.services.visits.service_files import bring_in
    from breakangle.services.workshop.opening import shop_at

    shop = shop_at(folder)
    bring_in(shop, example_text().encode(), "a file", ADA)
    shop.close()


def report(quick: bool = False) -> str:
    """Return the times and the memory."""
    more_files()
    told = []
    with tempfile.TemporaryDirectory(prefix="breakangle-") as folder:
        with_example(Path(folder))
        process, port = served(Path(folder))
        try:
            told += [half_open(port, whose, QUICK_COUNT if quick else COUNT) for whose in WHOSE]
            told.append(pictures(process, port, QUICK_PICTURES if quick else PICTURES))
        finally:
            process.terminate()
            process.wait()
    return "\n".join(told)
