"""What one figure typed into a box goes through: files of the package, reads of its entries, readings of its service.

The app is held in this process, as tests hold it; every call into the package is counted, in all its threads, while the
box is stored and answered, and then while the plan is worked out and shown. Templates count as files. Goals: at most 60
files to the plan's step, entries read once, the service parsed once. A figure is typed whose place was not read before.
"""

import sys
import tempfile
import threading
import warnings
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

from breakangle.services.service_files.example import example_text

BOX, TYPED = "gap_3_7_h1-17", "0.31"
PARSED, READ = ("model/service_file.py", "parse_service"), ("storage/records/entries.py", "all_entries")


class Crossed:
    """Calls into the package by file and function, counted while `counting`."""

    def __init__(self) -> None:
        self.calls: Counter[tuple[str, str]] = Counter()
        self.counting = False

    def seen(self, frame: FrameType, event: str, argument: Any) -> None:
        """Count one call; what `threading.setprofile` asks for."""
        del argument
        place = frame.f_code.co_filename.replace("\\", "/").rpartition("/breakangle/")[2]
        if self.counting and event == "call" and place != frame.f_code.co_filename:
            self.calls[(place, frame.f_code.co_name)] += 1

    def during(self, work: Callable[[], Any]) -> Counter[tuple[str, str]]:
        """Return the calls that a piece of work made."""
        self.calls, self.counting = Counter(), True
        answer = work()
        self.counting = False
        assert answer.status_code == 200, answer.status_code
        return self.calls


def report(quick: bool = False) -> str:
    """Return a table of the box, the plan's page and both."""
    del quick
    from starlette.testclient import TestClient

    from breakangle.web.app import make_app
    from breakangle.web.options import Options

    crossed = Crossed()
    threading.setprofile(crossed.seen)  # before the app has its threads
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        app = make_app(Options(Path(folder), port=8320))
        with TestClient(app, base_url="http://127.0.0.1:8320", client=("127.0.0.1", 5000)) as client:
            sent = {"file": ("heron.json", example_text().encode())}
            client.post("/visits/new/import", files=sent)
            client.get("/visits/1/readings")
            typed = {"box": BOX, "text": TYPED, "key": "one-box-typed"}
            box = crossed.during(lambda: client.post("/visits/1/readings/one", data=typed))
            plan = crossed.during(lambda: client.get("/visits/1/plan"))
    threading.setprofile(None)
    lines = [f"{'':24s}{'files':>8s}{'parsed':>8s}{'entries read':>14s}"]
    for name, calls in (("box stored and answered", box), ("plan shown", plan), ("both", box + plan)):
        files = len({place for place, _ in calls})
        lines.append(f"{name:24s}{files:8d}{calls[PARSED]:8d}{calls[READ]:14d}")
    lines.append(f"{'goal, both':24s}{60:8d}{1:8d}{1:14d}")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(report() + "\n")
