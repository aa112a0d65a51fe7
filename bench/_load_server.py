"""A server under load: a tree of this program of its own, on a copy of a large shop, with its processor time."""

import json
import os
import random
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import create_engine, text
from sqlalchemy.engine import URL

from bench._load_client import Target
from bench.half_open import memory_mb, processes_below

HERE, DRAWN = Path(__file__).parents[1], 7
FILL = (
    "import sys; from pathlib import Path; from bench._example_many import many_examples; "
    "print(many_examples(Path(sys.argv[1]), int(sys.argv[2]), *sys.argv[3:]))"
)
ON_THE_BENCH = """
SELECT visit.number, visit.instrument_id, entry.id, entry.body FROM visit
JOIN entry ON entry.visit_id = visit.id
WHERE visit.state IN ('on the bench', 'settling', 'ready') AND entry.kind = 'reading' AND entry.body LIKE '%"mm"%'
AND NOT EXISTS (SELECT 1 FROM entry AS later WHERE later.supersedes = entry.id)
ORDER BY visit.number, entry.place
"""


@dataclass
class LoadServer:
    """One server of one tree, on a shop of its own; `url` where its records lie on a database server."""

    tree: Path
    folder: Path
    url: str | None = None
    port: int = 0
    process: subprocess.Popen[bytes] | None = None

    def environment(self) -> dict[str, str]:
        """Return what its programs are told."""
        told = os.environ | {
            "PYTHONPATH": f"{self.tree / 'src'}{os.pathsep}{HERE}",
            "BREAKANGLE_DATA": str(self.folder / "shop"),
        }
        told.pop("BREAKANGLE_DATABASE_URL", None)
        return told | ({"BREAKANGLE_DATABASE_URL": self.url} if self.url else {})

    def fill(self, times: int) -> int:
        """Make the shop by its own tree's program, and return how many entries it has."""
        words = [sys.executable, "-c", FILL, str(self.folder), str(times), *([self.url] if self.url else [])]
        environment = self.environment()
        done = subprocess.run(words, env=environment, cwd=HERE, check=True, capture_output=True, text=True)
        return int(done.stdout.split()[-1])

    def fill_from(self, made: "LoadServer") -> None:
        """Fill the shop with what another tree made, by this tree's own import: an earlier one knows other rooms."""
        whole = self.folder / "whole.zip"
        for one, words in ((made, "export"), (self, "import")):
            program = [sys.executable, "-m", "breakangle.cli", words, str(whole)]
            subprocess.run(
                program, env=one.environment(), cwd=one.folder, check=True, stdout=subprocess.DEVNULL
            )
        whole.unlink()

    def start(self) -> None:
        """Start it and wait until it answers."""
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        words = [sys.executable, "-m", "breakangle.cli", "serve", "--port", str(self.port)]
        self.process = subprocess.Popen(
            words, env=self.environment(), cwd=self.folder, stdout=subprocess.DEVNULL
        )
        until = time.monotonic() + 120
        while time.monotonic() < until:
            with (
                suppress(OSError),
                urllib.request.urlopen(f"http://127.0.0.1:{self.port}/shop", timeout=60),
            ):
                return
            time.sleep(0.2)
        raise SystemExit("the server did not start")

    def stop(self) -> None:
        """End it."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait()
            self.process = None

    def remove(self) -> None:
        """End it and remove its shop."""
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def cpu_s(self) -> float:
        """Return the processor time that it and all below it have taken so far."""
        return sum(map(_cpu_s, processes_below(self.process.pid))) if self.process else 0.0

    def memory_mb(self) -> float:
        """Return its memory and that of all below it."""
        return memory_mb(self.process) if self.process else 0.0

    def targets(self, most: int) -> tuple[list[Target], int]:
        """Return so many visits on the bench with one reading each, drawn from all, and the last sheet's number."""
        place = self.url or URL.create("sqlite", database=str(self.folder / "shop" / "shop.db"))
        engine = create_engine(place)
        with engine.connect() as connection:
            rows = connection.execute(text(ON_THE_BENCH)).fetchall()
            last = int(connection.execute(text("SELECT max(number) FROM visit")).scalar_one())
        engine.dispose()
        latest = {number: (instrument, key, json.loads(body)) for number, instrument, key, body in rows}
        # Drawn, not every so many-th: the shop is one workshop over and over, and even steps would meet one sheet.
        numbers = random.Random(DRAWN).sample(sorted(latest), min(most, len(latest)))
        return [_target(number, *latest[number]) for number in numbers], last


def _target(number: int, instrument: str, key: str, body: dict[str, object]) -> Target:
    held, harmonic = body.get("held") or (), body.get("harmonic")
    box = f"{body['quantity']}_{body['string']}_{body['fret']}"
    box += f"_h{'-'.join(map(str, held))}" if held else ""  # type: ignore[call-overload]
    box += f"_n{harmonic}" if harmonic else ""
    return Target(number, instrument, box, float(str(body["mm"])), key)


def _cpu_s(process: int) -> float:
    with suppress(OSError):
        words = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()
        # Of itself, and of its children that have ended (proc(5): utime, stime, cutime, cstime).
        return sum(map(int, words[11:15])) / os.sysconf("SC_CLK_TCK")
    return 0.0
