"""A fleet's run that things happen to: workers killed, items that kill, a run broken off, workers on their own.

    python -m bench fleet_faults                                   # small: 60 instruments
    python -m bench.prove fleet_faults                             # 600, and whether it holds
    python -m bench.fleet_faults --count 2000 --kill-every 10      # the table of docs/fleet.md; --only some of it

Instruments are those of `bench.fleet`. Every run's table is held against an undisturbed one's, byte for byte; what was
handed out is counted beside, so that work done twice shows although the table hides it.
"""

import argparse
import os
import random
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import psutil
import pyarrow.parquet as parquet

from bench.fleet import BATCH, made
from breakangle.fleet.engine import LOST, Engine, elsewhere, local
from breakangle.fleet.items import Item, in_order
from breakangle.fleet.keys import keys_in, make_keys
from breakangle.fleet.run import Outcome, run
from breakangle.fleet.table import Answer
from breakangle.fleet.work import work
from breakangle.model.errors import ChooseAnotherFileError

HAPPENINGS = ("killed", "poisoned", "broken", "separate")
SMALL, PROVED, KILL_EVERY_S, WORKERS = 60, 600, 10.0, 2
POISON, SPOILED = b"poison", b'{"format": "breakangle/service/1", "instrument": '
UP_S = 5.0  # what a worker must have been up for before it is killed: one that starts is not at work
ADDED = 3  # files of each bad sort among the good ones


def deadly(job: str, items: Sequence[Item], settings: Mapping[str, Any]) -> list[Answer]:
    """Do the job; die over a poisoned item, as a crash would."""
    if any(one.content == POISON for one in items):
        os.kill(os.getpid(), signal.SIGKILL)
    return work(job, items, settings)


def _batch(items: Sequence[Item]) -> int:
    return max(1, min(BATCH, len(items) // 8))


def undisturbed(items: Sequence[Item], folder: Path) -> Outcome:
    """Return a run that nothing happens to."""
    with local(WORKERS) as engine:
        return run("plan", items, folder, engine, batch=_batch(items))


@contextmanager
def killer(every_s: float, killed: list[int]) -> Iterator[None]:
    """Kill one worker of this process's every so many seconds, one that has been up for a while."""
    over, rng = threading.Event(), random.Random(0)

    def work_on() -> None:
        while not over.wait(every_s):
            workers = [one for one in psutil.Process().children(recursive=True) if _is_worker(one)]
            with suppress(psutil.NoSuchProcess, IndexError):
                one = rng.choice(workers)
                one.kill()
                killed.append(one.pid)

    thread = threading.Thread(target=work_on, daemon=True)
    thread.start()
    yield
    over.set()
    thread.join()


def _is_worker(one: psutil.Process) -> bool:
    with suppress(psutil.NoSuchProcess):
        return "spawn_main" in " ".join(one.cmdline()) and time.time() - one.create_time() > UP_S
    return False


def kills(items: Sequence[Item], folder: Path, right: bytes, every_s: float) -> str:
    """Return what a run comes to while workers are killed."""
    killed: list[int] = []
    with local(WORKERS) as engine:
        engine.workers()  # all begun
        with killer(every_s, killed):
            outcome = run("plan", items, folder, engine, batch=_batch(items))
    return (
        f"a worker killed every {every_s:g} s: {len(killed)} killed in {outcome.seconds:.0f} s, "
        f"{outcome.failed} failed, {_once(outcome, items)}, {_same(outcome, right)}"
    )


def _once(outcome: Outcome, items: Sequence[Item]) -> str:
    """Return how many items the table lacks, and how many it has more than once: a plan is one row."""
    rows = Counter(parquet.read_table(outcome.results, columns=["item"]).column("item").to_pylist())
    missing = sum(one.name not in rows for one in items)
    return f"{missing} lost, {sum(count - 1 for count in rows.values())} twice"


def _same(outcome: Outcome, right: bytes) -> str:
    return "same bytes" if outcome.results.read_bytes() == right else "OTHER BYTES"


def poisoned(items: Sequence[Item], folder: Path, right: bytes) -> str:
    """Return what a run comes to with files that are spoiled and files that kill whoever reads them."""
    bad = [Item(f"instrument {n:06d} spoiled", f"{n:064x}", SPOILED) for n in range(ADDED)]
    bad += [Item(f"instrument {n:06d} poisoned", f"{n + ADDED:064x}", POISON) for n in range(ADDED)]
    with local(WORKERS, deaths=1) as engine:
        outcome = run(
            "plan", in_order([*items, *bad]), folder, Engine(engine.connect, deadly), batch=_batch(items)
        )
    told = Counter(row["error"] for row in parquet.read_table(outcome.failures).to_pylist())
    return (
        f"{ADDED} spoiled files and {ADDED} that kill: {told[LOST]} told as deadly, "
        f"{sum(told.values()) - told[LOST]} as spoiled, {_once(outcome, items)}, {_same(outcome, right)}"
    )


def broken_off(items: Sequence[Item], source: Path, folder: Path, right: bytes) -> str:
    """Return what the command does again after it was killed half way, all its processes at once."""
    command = [sys.executable, "-m", "breakangle", "fleet", "plan", str(source), "--out", str(folder)]
    parts, broken = (
        folder / "parts",
        subprocess.Popen(
            command, start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ),
    )
    while broken.poll() is None and _listed(parts).total() < len(items) / 2:
        time.sleep(0.05)
    with suppress(ProcessLookupError):
        os.killpg(broken.pid, signal.SIGKILL)
    broken.wait()
    first = _listed(parts)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    second = _listed(parts) - first
    results = Outcome(
        len(items), sum(first.values()), 0, folder / "results.parquet", folder / "failures.parquet", 0.0
    )
    again = sum((first & second).values())
    return (
        f"killed half way, begun again: {sum(first.values())} done before, {sum(second.values())} after, {again} of "
        f"them again, {_once(results, items)}, {_same(results, right)}"
    )


def _listed(parts: Path) -> Counter[str]:
    """Return how often each item stands in the lists of what is done."""
    found: Counter[str] = Counter()
    for path in parts.glob("*.done.parquet"):
        found.update(parquet.read_table(path, columns=["item"]).column("item").to_pylist())
    return found


@contextmanager
def machines(keys: Path) -> Iterator[str]:
    """Give the address of a scheduler with workers that are processes of their own, over TLS."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tls://127.0.0.1:{free.getsockname()[1]}"
    verb = [sys.executable, "-m", "breakangle"]
    started = [subprocess.Popen([*verb, "fleet-scheduler", "--listen", address, "--keys", str(keys)],
                                stderr=subprocess.DEVNULL)]  # fmt: skip
    try:
        worker = [*verb, "fleet-worker", address, "--keys", str(keys)]
        started += [subprocess.Popen(worker, stderr=subprocess.DEVNULL) for _ in range(WORKERS)]
        _wait_for_workers(address, keys)
        yield address
    finally:
        for one in started[::-1]:
            one.send_signal(signal.SIGINT)
        for one in started:
            one.wait(30)


def _wait_for_workers(address: str, keys: Path, longest_s: float = 120.0) -> None:
    ends = time.monotonic() + longest_s
    while time.monotonic() < ends:
        with suppress(ChooseAnotherFileError), elsewhere(address, keys_in(keys), longest_s=5) as engine:
            if len(engine.client.nthreads()) == WORKERS:
                return
        time.sleep(0.2)
    raise TimeoutError(f"no {WORKERS} workers came")


def separate(items: Sequence[Item], folder: Path, right: bytes) -> str:
    """Return whether a scheduler with workers of their own writes the same bytes."""
    keys = folder / "keys"
    make_keys(keys)
    with machines(keys) as address, elsewhere(address, keys_in(keys)) as engine:
        outcome = run("plan", items, folder / "plans", engine, batch=_batch(items))
    return (
        f"a scheduler with {WORKERS} workers of their own, TLS: {outcome.failed} failed, {_once(outcome, items)}, "
        f"{_same(outcome, right)}"
    )


def lines(count: int, every_s: float, folder: Path, only: Sequence[str] = HAPPENINGS) -> Iterator[str]:
    """Give a line for each thing that happens to a run of `count` instruments."""
    folder.mkdir(parents=True, exist_ok=True)
    source = folder / f"set {count}.parquet"
    items = made(count, source)
    outcome = undisturbed(items, folder / f"undisturbed {count}")
    right = outcome.results.read_bytes()
    yield (
        f"{count} instruments, {WORKERS} workers; undisturbed {outcome.seconds:.0f} s "
        f"({outcome.before} done before), {outcome.failed} failed"
    )
    happens: dict[str, Callable[[Path], str]] = {
        "killed": lambda place: kills(items, place, right, every_s),
        "poisoned": lambda place: poisoned(items, place, right),
        "broken": lambda place: broken_off(items, source, place, right),
        "separate": lambda place: separate(items, place, right),
    }
    for name in only:
        with tempfile.TemporaryDirectory() as place:
            yield happens[name](Path(place))


def report(quick: bool = False) -> str:
    """Return the lines for a few instruments, workers killed every six seconds."""
    with tempfile.TemporaryDirectory() as folder:
        return "\n".join(lines(24 if quick else SMALL, 6.0, Path(folder)))


def prove(quick: bool = False) -> tuple[bool, str]:
    """Return whether nothing is lost, repeated or wrongly blamed whatever happens to a run, and what happened."""
    with tempfile.TemporaryDirectory() as folder:
        said = list(lines(24 if quick else PROVED, 6.0 if quick else KILL_EVERY_S, Path(folder)))
    whole = all("0 lost, 0 twice, same bytes" in line for line in said[1:])
    blamed = f": {ADDED} told as deadly, {ADDED} as spoiled" in said[2]
    happened = ": 0 killed in" not in said[1] and ": 0 done before, " not in said[3]
    return whole and blamed and happened and ", 0 of them again," in said[3], "\n".join(said)


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--count", type=int, default=2000)
    words.add_argument("--kill-every", type=float, default=KILL_EVERY_S, metavar="SECONDS")
    words.add_argument("--only", choices=HAPPENINGS, nargs="+", default=HAPPENINGS)
    words.add_argument("--folder", type=Path, help="where the undisturbed run is kept for the next time")
    given = words.parse_args()
    with tempfile.TemporaryDirectory() as place:
        for line in lines(given.count, given.kill_every, given.folder or Path(place), given.only):
            print(line, flush=True)
