"""Many instruments at once: plans a second and core, flat cost and memory, one worker against two, and restarts.

    python -m bench fleet                              # small: 200 instruments
    python -m bench.fleet [--count 10000] [--folder F] # the table of docs/fleet.md; --runs some of it
    python -m bench.fleet --flat 1500                  # one process: what stays of each plan
    python -m bench.fleet --traffic 10000              # workers that answer at once: what stays of what is handed about

Instruments are those of `bench/_instruments.py` with a full set of readings, half electric sixes, the rest of five
families; seed n is instrument n. Rates are of whole runs: reading, sending, planning and keeping what came of it.
"""

import argparse
import gc
import multiprocessing
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import psutil
import pyarrow as pa
import pyarrow.parquet as parquet

from bench._instruments import arrival
from bench._maker import Bench
from breakangle.fleet.engine import Engine, local
from breakangle.fleet.items import Item, items_of
from breakangle.fleet.run import Outcome, Progress, run
from breakangle.fleet.table import Answer
from breakangle.fleet.work import work
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.planning.kinds.adjustments.tune import Tune

SIX = "electric-guitar"
KINDS = (SIX, "steel-acoustic-guitar", SIX, "bass-four", SIX, "nylon-acoustic-guitar", SIX, "ukulele-concert", SIX,
         "electric-guitar-seven")  # fmt: skip
SMALL, MEGABYTE, BATCH = 200, 1 << 20, 50
NIGHT_S = 8 * 3600


def _made(seed: int) -> tuple[str, str]:
    bench = Bench(arrival(KINDS[seed % len(KINDS)], seed), np.random.default_rng(seed))
    bench.do(Tune())
    service = Service(instrument=bench.one.instrument, readings=tuple(bench.full_set()))
    return f"instrument {seed:06d}", service_text(service)


def made(count: int, path: Path) -> list[Item]:
    """Write `count` instruments into a Parquet set, unless it is there, and return them."""
    if not path.exists():
        with multiprocessing.get_context("spawn").Pool(2) as pool:
            names, texts = zip(*pool.map(_made, range(count), chunksize=50), strict=True)
        parquet.write_table(pa.table({"item": list(names), "service": list(texts)}), path)
    return items_of([path])


def spent_s() -> float:
    """Return the processor's time that this process and its workers have taken, s: the same on a busy machine."""
    own, found = psutil.Process(), 0.0
    for one in (own, *own.children(recursive=True)):
        with suppress(psutil.NoSuchProcess):
            times = one.cpu_times()
            found += times.user + times.system
    return found


class Memory:
    """What the largest worker took, and this process with the scheduler in it, looked at after each batch."""

    def __init__(self) -> None:
        self.seen: list[tuple[float, float]] = []

    def look(self) -> None:
        own, sizes = psutil.Process(), [0.0]
        for child in own.children(recursive=True):
            with suppress(psutil.NoSuchProcess):
                sizes.append(child.memory_info().rss / MEGABYTE)
        self.seen.append((max(sizes), own.memory_info().rss / MEGABYTE))

    def line(self) -> str:
        """Return the largest worker's size at a tenth, half and the whole of the run, MB, and this process's."""
        at = [self.seen[int(share * (len(self.seen) - 1))] for share in (0.1, 0.5, 1.0)]
        return "  ".join("".join(f"{one[place]:6.0f}" for one in at) for place in (0, 1))


def timed(items: list[Item], folder: Path, workers: int) -> tuple[Outcome, Memory, float, float]:
    """Return a run's outcome, the memory it took, and what an item took from the first answer to the last, s.

    The latter by the clock, and of the processor in all processes together.
    """
    memory, marks = Memory(), []

    def told(progress: Progress) -> None:
        marks.append((time.monotonic(), spent_s(), progress.done))
        memory.look()

    with local(workers=workers) as engine:
        outcome = run("plan", items, folder, engine, batch=min(BATCH, max(1, len(items) // 8)), told=told)
    (begun, used, first), (ended, used_then, last) = marks[0], marks[-1]
    count = max(1, last - first)
    return outcome, memory, (ended - begun) / count, (used_then - used) / count


def runs_of(count: int) -> list[tuple[int, int]]:
    """Return the runs of the table, by instruments and workers: one worker does the size before the last."""
    sizes = sorted({min(count, size) for size in (100, 2000, count)})
    return [*((size, 2) for size in sizes), (sizes[-2] if len(sizes) > 2 else sizes[-1], 1)]


def table(count: int, folder: Path, runs: Sequence[tuple[int, int]] = ()) -> list[str]:
    """Return the lines of the table for runs of `count` instruments and fewer; or for those runs alone."""
    lines = [f"{'instruments':>11s} {'workers':>7s} {'whole s':>8s} {'ms each':>8s} {'a second':>8s} "
             f"{'and core':>8s} {'cpu ms':>8s} {'failed':>6s}  largest worker, own: MB at 0.1, 0.5, 1"]  # fmt: skip
    items = made(count, folder / f"set {count}.parquet")
    each = {}
    for size, workers in runs or runs_of(count):
        outcome, memory, apart_s, used_s = timed(items[:size], folder / f"plans {size} {workers}", workers)
        each[size, workers] = apart_s
        lines.append(
            f"{size:11d} {workers:7d} {outcome.seconds:8.1f} {1000 * apart_s:8.1f} {1 / apart_s:8.1f} "
            f"{1 / apart_s / workers:8.1f} {1000 * used_s:8.1f} {outcome.failed:6d} {memory.line()}"
        )
    lines += [
        f"2 workers over 1, {size} instruments: {each[size, 1] / each[size, 2]:.2f}"
        for size, workers in each
        if workers == 1 and (size, 2) in each
    ]
    size = max(size for size, _ in each)
    if (size, 2) in each:
        a_core = 1 / each[size, 2] / 2
        lines.append(f"on paper: a million in a night of 8 h needs {1e6 / NIGHT_S / a_core:.1f} cores")
        again = once_more(items[:size], folder / f"plans {size} 2")
        lines.append(
            f"the same once more: {again.before} of {again.total} done before, {again.seconds:.1f} s"
        )
    return lines


def flat(count: int, folder: Path) -> Iterator[str]:
    """Give lines on one process that makes `count` plans: its size, what a plan takes, and how many objects it holds.

    Time is the processor's, so that a busy machine tells the same.
    """
    items, step, process = made(count, folder / f"set {count}.parquet"), max(1, count // 10), psutil.Process()
    yield f"{'plans':>6s} {'MB':>6s} {'ms each':>8s} {'objects':>8s}"
    for at in range(0, count, step):
        began = time.process_time()
        for start in range(at, min(at + step, count), BATCH):
            work("plan", items[start : min(start + BATCH, at + step)], {})
        each_ms = 1000 * (time.process_time() - began) / step
        gc.collect()
        size = process.memory_info().rss / MEGABYTE
        yield f"{at + step:6d} {size:6.1f} {each_ms:8.2f} {len(gc.get_objects()):8d}"


def answered_at_once(job: str, items: Sequence[Item], settings: Mapping[str, Any]) -> list[Answer]:
    """Answer with a row as large as a plan's, without planning."""
    del job, settings
    row = {"verdict": "adjust", "minutes": 1.0, "trips": 1, "questions": 0, "findings": [], "steps": []}
    return [Answer(one.name, one.sha256, 0.0, ({**row, "plan": one.content.decode() * 4},)) for one in items]


def traffic(count: int, folder: Path) -> Iterator[str]:
    """Give lines on a run in which workers answer at once: what engine and workers hold of what is handed about."""
    items, seen = made(count, folder / f"set {count}.parquet"), Memory()
    marks: list[int] = []

    def told(progress: Progress) -> None:
        seen.look()
        marks.append(progress.done)

    with local(workers=2) as engine:
        run(
            "plan",
            items,
            folder / "traffic",
            Engine(engine.connect, answered_at_once),
            batch=BATCH,
            told=told,
        )
    yield f"{'instruments':>11s} {'largest worker, MB':>18s} {'own, MB':>8s}"
    for place in np.linspace(len(marks) // 10, len(marks) - 1, 10).astype(int):
        worker, own = seen.seen[place]
        yield f"{marks[place]:11d} {worker:18.0f} {own:8.0f}"


def once_more(items: list[Item], folder: Path) -> Outcome:
    """Return the outcome of a run that finds all done."""
    with local(workers=2) as engine:
        return run("plan", items, folder, engine)


def report(quick: bool = False) -> str:
    """Return the table for a few instruments."""
    with tempfile.TemporaryDirectory() as folder:
        return "\n".join(table(40 if quick else SMALL, Path(folder)))


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--count", type=int, default=10_000)
    words.add_argument("--folder", type=Path)
    words.add_argument(
        "--runs", nargs="+", metavar="N:WORKERS", help="only these runs of the table, such as 2000:1 2000:2"
    )
    words.add_argument(
        "--flat", type=int, metavar="N", help="only the table of one process that makes N plans"
    )
    words.add_argument("--traffic", type=int, metavar="N", help="only the table of N answered at once")
    given = words.parse_args()
    if given.flat or given.traffic:
        told = flat if given.flat else traffic
        with tempfile.TemporaryDirectory() as place:
            for line in told(given.flat or given.traffic, given.folder or Path(place)):
                print(line, flush=True)
    else:
        split = [one.partition(":") for one in given.runs or ()]
        runs = [(int(size), int(workers)) for size, _, workers in split]
        with tempfile.TemporaryDirectory() as place:
            where = given.folder or Path(place)
            where.mkdir(parents=True, exist_ok=True)
            print("\n".join(table(given.count, where, runs)), flush=True)
