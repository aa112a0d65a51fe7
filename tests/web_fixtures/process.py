"""The app in a process of its own, which can be killed and started again."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest

LONGEST_START_S = 180.0  # a minute is short where every core is busy and nothing is compiled yet


def free_port() -> int:
    with closing(socket.socket()) as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@dataclass
class Served:
    """A server in a process of its own, on a folder of its own; it can be killed and started again."""

    folder: Path
    words: tuple[str, ...] = ()
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[bytes] | None = None
    log: Path | None = None  # what the server says of troubles; None: where the test says it
    environment: dict[str, str] = field(default_factory=dict)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        environment = os.environ | {"BREAKANGLE_DATA": str(self.folder), "TZ": "UTC"} | self.environment
        environment.pop("BREAKANGLE_DATABASE_URL", None)
        words = [sys.executable, "-m", "breakangle.cli", "serve", "--port", str(self.port), *self.words]
        with (self.log or Path(os.devnull)).open("ab") as log:
            errors = None if self.log is None else log
            self.process = subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL, stderr=errors)
        self.wait()

    def wait(self) -> None:
        until = time.monotonic() + LONGEST_START_S
        while time.monotonic() < until and (self.process is None or self.process.poll() is None):
            try:
                with urllib.request.urlopen(f"{self.url}/app.webmanifest", timeout=5):
                    return
            except OSError:
                time.sleep(0.05)
        self.kill()
        pytest.fail("the server did not start")

    def kill(self) -> None:
        """End the process as a power cut would: no chance to tidy up."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()

    def stop(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()
            self.process.wait()
