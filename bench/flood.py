"""Everything at once: half-open connections, slow bodies, huge photographs, hour-long recordings; the owner's page."""

import http.client
import socket
import tempfile
import threading
import time
import uuid
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path

import numpy as np

from bench.half_open import HALF, WHOSE, large_picture, memory_mb, more_files, page_s, served, with_example

RATE_HZ, SLOW_S = 48_000, 2.0
SLOW_HEAD = b"POST /visits/1/photographs HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Length: 500000\r\n\r\n"
MOST_PAGE_S, MOST_MB = 1.0, 1000.0  # goals


@dataclass(frozen=True)
class Size:
    """How much comes at once."""

    half_open: int = 5000
    slow: int = 100
    pictures: int = 100
    recordings: int = 20
    recording_s: int = 3600
    tries: int = 40


QUICK = Size(half_open=300, slow=10, pictures=2, recordings=1, recording_s=30, tries=2)


@dataclass
class Flood:
    """What is sent to one port, and how it was answered, until `stop`."""

    port: int
    size: Size
    answers: dict[str, Counter[int]] = field(default_factory=dict)
    stop: threading.Event = field(default_factory=threading.Event)

    def threads(self) -> list[threading.Thread]:
        """Return all senders of files, which end by themselves."""
        picture, recording = large_picture("JPEG"), long_recording(self.size.recording_s)
        files = [("/visits/1/photographs", "photographs", "one.jpg", picture)] * self.size.pictures
        files += [("/visits/1/recordings", "recordings", "one.flac", recording)] * self.size.recordings
        return [threading.Thread(target=self._send, args=each) for each in files]

    def hold_lines(self) -> None:
        """Hold half-open connections, and such whose bodies come a byte at a time; open again what was ended."""
        lines = dict[int, socket.socket]()
        places = [*WHOSE.values()]
        while not self.stop.is_set():
            for number in range(self.size.half_open + self.size.slow):
                if self.stop.is_set():
                    break
                slow = number >= self.size.half_open
                if number in lines and slow:
                    with suppress(OSError):
                        lines[number].sendall(b"x")
                        continue
                if number in lines and (number + int(time.monotonic())) % 8:
                    continue
                if number in lines:
                    lines.pop(number).close()
                address = places[number % len(places)](number)
                with suppress(OSError):
                    line = socket.create_connection(
                        ("127.0.0.1", self.port), timeout=2, source_address=(address, 0)
                    )
                    line.sendall(SLOW_HEAD % self.port if slow else HALF)
                    lines[number] = line
            self.stop.wait(SLOW_S)
        for line in lines.values():
            line.close()

    def _send(self, path: str, name: str, file_name: str, content: bytes) -> None:
        edge = uuid.uuid4().hex
        head = (
            f'--{edge}\r\nContent-Disposition: form-data; name="{name}"; filename="{file_name}"\r\n'
            "Content-Type: application/octet-stream\r\n\r\n"
        )
        body = b"".join((head.encode(), content, f"\r\n--{edge}--\r\n".encode()))
        kinds = self.answers.setdefault(name, Counter())
        for _ in range(self.size.tries):
            line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=600)
            status, wait_s = 0, 1
            try:
                line.request("POST", path, body, {"Content-Type": f"multipart/form-data; boundary={edge}"})
                answer = line.getresponse()
                answer.read()
                status, wait_s = answer.status, int(answer.getheader("retry-after", "1"))
            except (OSError, http.client.HTTPException):
                pass  # ended by the server
            finally:
                line.close()
            kinds[status] += 1
            if status not in (0, 503) or self.stop.wait(wait_s):
                return


def long_recording(length_s: int) -> bytes:
    """Return a recording of quiet hiss as a FLAC file, written a minute at a time."""
    import soundfile

    out, chance = BytesIO(), np.random.default_rng(5)
    minute = (chance.standard_normal(RATE_HZ * 60) * 6e-5).astype("float32")
    with soundfile.SoundFile(out, "w", RATE_HZ, 1, format="FLAC") as file:
        for start in range(0, length_s, 60):
            file.write(minute[: RATE_HZ * min(60, length_s - start)])
    return out.getvalue()


def flooded(size: Size) -> tuple[str, float, float]:
    """Return what came of it in words, the owner's worst page in seconds, and the most memory in MB."""
    with tempfile.TemporaryDirectory(prefix="breakangle-") as folder:
        with_example(Path(folder))
        process, port = served(Path(folder))
        flood = Flood(port, size)
        senders, holder = flood.threads(), threading.Thread(target=flood.hold_lines)
        try:
            quiet_s, times, most_mb = max(page_s(port) for _ in range(5)), list[float](), 0.0
            for thread in (holder, *senders):
                thread.start()
            while any(sender.is_alive() for sender in senders) or len(times) < 20:
                times.append(page_s(port))
                most_mb = max(most_mb, memory_mb(process))
                time.sleep(0.1)
        finally:
            flood.stop.set()
            for thread in (*senders, holder):
                if thread.is_alive():
                    thread.join()
            process.terminate()
            process.wait()
    times.sort()
    answers = {name: dict(sorted(count.items())) for name, count in flood.answers.items()}
    words = (
        f"{size.half_open} half-open, {size.slow} slow bodies, {size.pictures} photographs of 80 megapixels and "
        f"{size.recordings} recordings of {size.recording_s} s at once: answers {answers}; {len(times)} pages: "
        f"median {times[len(times) // 2]:.3f} s, p99 {times[int(len(times) * 0.99)]:.3f} s, worst {times[-1]:.3f} s "
        f"(goal {MOST_PAGE_S:g} s; before: worst {quiet_s:.3f} s); at most {most_mb:.0f} MB (goal {MOST_MB:.0f} MB)"
    )
    return words, times[-1], most_mb


def report(quick: bool = False) -> str:
    """Return the times and the memory."""
    more_files()
    return flooded(QUICK if quick else Size())[0]
