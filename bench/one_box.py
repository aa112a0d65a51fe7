"""What one figure typed into a box goes through: files of the package, reads of its entries, readings of its service.

The app is held in this process, as tests hold it; every call into the package is looked at, in all its threads, while
the box is stored and answered, and then while the plan is worked out and shown. Templates count as files. A figure is
typed whose place was not read before, on a page that was open.

`way` is the straight way of the figure, that a person opens who wants to follow it: every file of `web/` that runs (but
for the macros of templates, which say how a thing is drawn), and of the inner rooms every file that stands on the call
stack when the figure is understood, stored, parsed into its service, weighed in the state, turned into an amount, laid
into a trip, and said (`LANDMARKS`). `run` is every file of which anything runs, the physics and every kind included.
`read`: the rows of the entries fetched from the database; a look at their number and the last one is no read.
Goals: at most 60 files on the way to the plan's step; for a posted box, entries read once and the service parsed once.
"""

import sys
import tempfile
import threading
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any

from breakangle.services.service_files.example import example_text

BOX, TYPED = "gap_3_7_h1-17", "0.31"
PARSED, READ = ("model/service_file.py", "parse_service"), ("storage/records/entries.py", "_entries_read")
LANDMARKS = {
    ("model/measure.py", "parse_length"),
    ("storage/records/entries.py", "_insert"),
    PARSED,
    ("planning/estimate/batch.py", "fit"),
    ("planning/solve/programme/stages.py", "_stage_amounts"),
    ("planning/trips/course.py", "_step"),
    ("services/plans/plan_page.py", "_step"),
    ("web/pages/readings/_reading_told.html", "root"),
    ("web/pages/plan/_plan.html", "root"),
}
MOST_FILES = 60


def place(frame: FrameType) -> str:
    """Return the file of the package that a call is in; empty where it is in none."""
    name = frame.f_code.co_filename.replace("\\", "/")
    inside = name.rpartition("/breakangle/")[2]
    return "" if inside == name else inside


def stack(frame: FrameType | None) -> Iterator[str]:
    """Yield the files of the package that a call is made through, its own first."""
    while frame is not None:
        if file := place(frame):
            yield file
        frame = frame.f_back


class Crossed:
    """Calls into the package by file and function, and the files on the figure's way, counted while `counting`."""

    def __init__(self) -> None:
        self.calls: Counter[tuple[str, str]] = Counter()
        self.way: set[str] = set()
        self.counting = False

    def seen(self, frame: FrameType, event: str, argument: Any) -> None:
        """Count one call; what `threading.setprofile` asks for."""
        del argument
        if not self.counting or event != "call" or not (file := place(frame)):
            return
        called = (file, frame.f_code.co_name)
        self.calls[called] += 1
        if called in LANDMARKS:
            self.way.update(stack(frame))
        elif file.startswith("web/") and not Path(file).name.endswith(("_macros.html", ".svg")):
            self.way.add(file)

    def during(self, work: Callable[[], Any]) -> tuple[Counter[tuple[str, str]], set[str]]:
        """Return the calls that a piece of work made, and the files on the way."""
        self.calls, self.way, self.counting = Counter(), set(), True
        answer = work()
        self.counting = False
        assert answer.status_code == 200, answer.status_code
        return self.calls, self.way


def trace() -> dict[str, tuple[Counter[tuple[str, str]], set[str]]]:
    """Return the calls and the way of the box, of the plan's page and of both."""
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
    missed = LANDMARKS - (box[0] + plan[0]).keys()
    assert not missed, f"not on the way any more, name what took their place: {sorted(missed)}"
    both = box[0] + plan[0], box[1] | plan[1]
    return {"box stored and answered": box, "plan shown": plan, "both": both}


def report(quick: bool = False) -> str:
    """Return a table of the box, the plan's page and both, and the files on the way."""
    del quick
    lines = [f"{'':24s}{'way':>8s}{'run':>8s}{'parsed':>8s}{'entries read':>14s}"]
    traced = trace()
    for name, (calls, way) in traced.items():
        run = len({file for file, _ in calls})
        lines.append(f"{name:24s}{len(way):8d}{run:8d}{calls[PARSED]:8d}{calls[READ]:14d}")
    lines.append(f"{'goal':24s}{MOST_FILES:8d}{'':8s}{'1 a box':>8s}{'1 a box':>14s}")
    lines += ["on the way:", *sorted(traced["both"][1])]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(report() + "\n")
