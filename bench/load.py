"""A large shop under load: requests by a fixed timetable, the rate at which it breaks, and readers without pause.

The example workshop 100 times over. `BREAKANGLE_BENCH_BESIDE` names the checkout of an earlier commit, which is
measured beside in the same run, on the same shop, brought in by its own import; the server, the clients and the
database share the computer, so that the ratio of the two says more than either figure. `BREAKANGLE_BENCH_ENGINE`
names one engine (`sqlite`, `postgresql`), `BREAKANGLE_BENCH_PARTS` some of `timetable rate pauseless`; else all.
"""

import asyncio
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bench._load_client import BUSY, PAGE, PLAN, WRITE, Answered, Load, by_timetable, without_pause
from bench._load_server import HERE, LoadServer

TIMES, FOR_S, BENCHES, WORDS = 100, 60.0, 20, ["Redwing", "buzz", "hard", "strings", "Siskin"]
RATES = {PAGE: 30.0, PLAN: 2.0, WRITE: 5.0}
MOST_S = {PAGE: 0.400, PLAN: 1.500, WRITE: 0.250}  # goals, of the 95th percentile
MOST_BUSY = {PAGE: 0.0, PLAN: 0.01, WRITE: 0.0}  # goals, as shares
STEPS, STEP_S, LEAST_RATIO = (0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 8.0), 15.0, 5.0
READERS, WRITERS, PAUSELESS_S = 50, 5, 30.0
BESIDE = "BREAKANGLE_BENCH_BESIDE"
ENGINE, PARTS = "BREAKANGLE_BENCH_ENGINE", "BREAKANGLE_BENCH_PARTS"
TIMETABLE, RATE, PAUSELESS = "timetable", "rate", "pauseless"


def p95_s(answers: list[Answered]) -> float:
    """Return the time after its due time within which 95 in 100 were answered."""
    return statistics.quantiles([one.after_s for one in answers], n=20, method="inclusive")[-1]


def failed(answers: list[Answered], kind: str) -> int:
    """Return how many were not answered as they should be; a share of plans may be told to come back."""
    busy = sum(one.status == BUSY for one in answers)
    other = sum(not 200 <= one.status < 400 for one in answers) - busy
    return other + (busy if busy > MOST_BUSY[kind] * len(answers) else 0)


def holds(answers: list[Answered]) -> bool:
    """Return whether every goal is reached."""
    kinds = {kind: [one for one in answers if one.kind == kind] for kind in MOST_S}
    return all(p95_s(mine) <= MOST_S[kind] and not failed(mine, kind) for kind, mine in kinds.items())


def lines(answers: list[Answered]) -> Iterator[str]:
    """Yield what came of each kind of request, beside its goal."""
    for kind, most_s in MOST_S.items():
        mine = [one for one in answers if one.kind == kind]
        times = sorted(one.after_s for one in mine)
        busy = sum(one.status == BUSY for one in mine)
        yield (
            f"  {kind:7}{len(mine):6}  median {statistics.median(times) * 1e3:6.0f} ms  "
            f"p95 {p95_s(mine) * 1e3:6.0f} ms (goal {most_s * 1e3:5.0f})  "
            f"worst {times[-1] * 1e3:6.0f} ms  failed {failed(mine, kind)}, busy {busy}"
        )


@contextmanager
def told_beside(server: LoadServer, into: list[str]) -> Iterator[None]:
    """Tell what the server took of the computer meanwhile."""
    cpu_s, began = server.cpu_s(), time.monotonic()
    yield
    took_s = time.monotonic() - began
    into.append(
        f"  server: {(server.cpu_s() - cpu_s) / took_s:.2f} cores for {took_s:.0f} s, {server.memory_mb():.0f} MB "
        f"with its workers; "
        f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
    )


class Run:
    """One server measured: each figure is asked for by itself, so that those of two servers can take turns."""

    def __init__(self, name: str, server: LoadServer, seed: int = 7) -> None:
        """Keep what is measured; its shop is there and it is not running."""
        self.name, self.server, self.seed = name, server, seed

    async def _load(self, warm: bool = True) -> Load:
        targets, last = self.server.targets(BENCHES)
        load = Load(self.server.port, targets, last, WORDS, self.seed)
        if warm:  # what is due, and each page of the bench once: a server that has run since the morning
            await load.client.get("/due.ics")
            for one in targets:
                parts = ("", "/plan", "/readings", "/entries")
                for path in (
                    f"/instruments/{one.instrument}",
                    *(f"/visits/{one.number}{part}" for part in parts),
                ):
                    await load.client.get(path)
        return load

    def timetable(self, rates: dict[str, float], for_s: float) -> tuple[list[Answered], str]:
        """Return what came of a timetable, and what to tell of it."""

        async def run() -> list[Answered]:
            load = await self._load()
            with told_beside(self.server, told):
                answers = await by_timetable(load, rates, for_s)
            await load.client.aclose()
            return answers

        told = list[str]()
        answers = asyncio.run(run())
        rate = ", ".join(f"{rate:g} {kind}" for kind, rate in rates.items())
        return answers, "\n".join([f"{self.name}: {rate} a second, {for_s:.0f} s", *lines(answers), *told])

    def breaks_at(self, for_s: float, whole: bool) -> tuple[float, str]:
        """Return the highest share of the timetable's rates that holds every goal, and what to tell of it.

        `whole` says whether the timetable as it is held, so that it begins beyond it; else it begins below.
        """
        best, told = float(whole), [f"{self.name}: the rate raised until a goal breaks"]
        for step in (one for one in STEPS if (one > 1.0) == whole):
            answers, _ = self.timetable({kind: rate * step for kind, rate in RATES.items()}, for_s)
            p95 = {kind: p95_s([one for one in answers if one.kind == kind]) for kind in MOST_S}
            good = holds(answers)
            words = ", ".join(f"{kind} {seconds * 1e3:.0f}" for kind, seconds in p95.items())
            outcome = "holds" if good else "breaks"
            told.append(
                f"  x {step:<5g} p95 in ms: {words}; {outcome}; load average {os.getloadavg()[0]:.1f}"
            )
            if not good:
                break
            best = step
        return best, "\n".join(told)

    def pauseless(self, readers: int, writers: int, for_s: float) -> tuple[float, str]:
        """Return the answers a second to readers and writers without pause, and what to tell of it."""

        async def run() -> list[Answered]:
            load = await self._load()
            with told_beside(self.server, told):
                answers = await without_pause(load, readers, writers, for_s)
            await load.client.aclose()
            return answers

        told = list[str]()
        answers = asyncio.run(run())
        good = sum(200 <= one.status < 400 for one in answers)
        rate = good / for_s
        words = f"{self.name}: {readers} readers and {writers} writers without pause, {for_s:.0f} s"
        words += f": {rate:.1f} answers a second"
        return rate, "\n".join([words, *lines(answers), *told])


@contextmanager
def served(name: str, tree: Path, folder: Path, times: int, url: str | None = None) -> Iterator[Run]:
    """Give a server of a tree, running on a shop of its own; an earlier tree takes in what this one made."""
    server = LoadServer(tree, folder / name, url)
    server.folder.mkdir()
    if tree == HERE:
        server.fill(times)
    else:
        made = LoadServer(HERE, folder / f"made for {name}")
        made.folder.mkdir()
        made.fill(times)
        server.fill_from(made)
        made.remove()
    server.start()
    try:
        yield Run(name, server)
    finally:
        server.remove()


def engines(folder: Path, quick: bool) -> Iterator[tuple[str, str | None]]:
    """Yield each engine with the address of an empty database, SQLite's being none."""
    wanted = os.environ.get(ENGINE, "")
    if wanted in ("", "sqlite"):
        yield "sqlite", None
    sys.path.insert(0, str(HERE / "tests"))
    from shop_fixtures.server import Server, programs

    where = programs()
    if where is None or quick or wanted not in ("", "postgresql"):
        return
    folder.chmod(0o711)  # the server's own user must get to its data
    server = Server(where, careful=True, under=folder)
    try:
        yield "postgresql", server.new_database()
    finally:
        server.remove()


def report(quick: bool = False) -> str:
    """Return the figures beside their goals."""
    told, times = list[str](), 2 if quick else TIMES
    for_s, step_s, pauseless_s = (6.0, 3.0, 4.0) if quick else (FOR_S, STEP_S, PAUSELESS_S)
    beside = os.environ.get(BESIDE)
    with tempfile.TemporaryDirectory(prefix="breakangle-") as place:
        for engine, url in engines(Path(place), quick):
            with served(f"this tree on {engine}", HERE, Path(place), times, url) as mine:
                rate = told_of(mine, told, for_s, step_s, pauseless_s)
            if beside and url is None:
                with served(f"the commit beside on {engine}", Path(beside), Path(place), times) as theirs:
                    before = told_of(theirs, told, for_s, step_s, pauseless_s)
                if before:
                    told.append(f"answers a second: {rate / before:.1f} x (goal {LEAST_RATIO:g} x)")
    return "\n".join(told)


def told_of(run: Run, told: list[str], for_s: float, step_s: float, pauseless_s: float) -> float:
    """Measure one server, each figure told as soon as it is there; return its answers a second without pause."""
    parts, rate = os.environ.get(PARTS, f"{TIMETABLE} {RATE} {PAUSELESS}").split(), 0.0
    whole = True
    if TIMETABLE in parts:
        answers, words = run.timetable(RATES, for_s)
        whole = holds(answers)
        _say(words, told)
    if RATE in parts:
        _say(run.breaks_at(step_s, whole)[1], told)
    if PAUSELESS in parts:
        rate, words = run.pauseless(READERS, WRITERS, pauseless_s)
        _say(words, told)
    return rate


def _say(words: str, told: list[str]) -> None:
    """Keep what is told for the end, and show it at once: the whole takes a quarter of an hour."""
    told.append(words)
    print(words, file=sys.stderr, flush=True)
