"""What estimate and plan cost, over strings and frets, beside a dense numpy solve of the same size.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m bench planning

Processor time is told beside the clock's: a busy machine changes it little. With more threads than one it holds what
all of them spend, so both variables belong before the command.
"""

import time

import numpy as np

from bench._instruments import arrival
from bench._maker import Bench
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.plan import plan

KINDS = (
    "ukulele-concert",
    "bass-four",
    "electric-guitar",
    "steel-acoustic-guitar",
    "electric-guitar-eight",
    "twelve-string-guitar",
)
WORKED_ON = ("electric-guitar", "steel-acoustic-guitar")
RUNS = 5  # of each instrument


def _times_ms(service: Service) -> tuple[float, float, float]:
    """Return processor time of an estimate and of a plan made from it, and the clock's of both, in ms."""
    clock, begun = time.perf_counter(), time.process_time()
    now = estimate(service)
    between = time.process_time()
    plan(service, now)
    ended = time.process_time()
    return 1000 * (between - begun), 1000 * (ended - between), 1000 * (time.perf_counter() - clock)


def _solve_ms(size: int) -> float:
    """Return the median processor time of one dense solve of this size, in ms."""
    rng, found = np.random.default_rng(0), []
    matrix = rng.normal(size=(size, size)) + size * np.eye(size)
    for _ in range(21):
        begun = time.process_time()
        np.linalg.solve(matrix, matrix)
        found.append(1000 * (time.process_time() - begun))
    return float(np.median(found))


def _service(kind: str, seed: int) -> Service:
    bench = Bench(arrival(kind, seed), np.random.default_rng(seed))
    bench.do(Tune())
    return Service(instrument=bench.one.instrument, readings=tuple(bench.full_set()))


def _worked_on(kind: str, seed: int) -> Service:
    """Return a service of two full sets, with all that was planned on the first of them done between the two."""
    bench = Bench(arrival(kind, seed), np.random.default_rng(seed))
    bench.do(Tune())
    first = Service(instrument=bench.one.instrument, readings=tuple(bench.full_set()))
    work = tuple(step.adjustment for step in plan(first, estimate(first)).steps)
    for one in work:
        bench.do(one)
    later = tuple(one.model_copy(update={"after": len(work)}) for one in bench.full_set())
    return first.model_copy(update={"work": work, "readings": first.readings + later})


def _line(name: str, services: list[Service]) -> str:
    """Return one line of the table."""
    now = estimate(services[0])
    for one in services:
        _times_ms(one)
    times = np.array([_times_ms(one) for one in services for _ in range(RUNS)])
    both, size = times[:, 0] + times[:, 1], now.picture.layout.size
    reading, planning, clock = np.median(times, axis=0)
    return (
        f"{name:32s} {now.board.string_count:7d} {now.board.fret_count:5d} {size:5d} {reading:7.1f}ms "
        f"{planning:6.1f}ms {np.median(both):6.1f}ms {both.min():6.1f}ms {clock:7.1f}ms "
        f"{np.median(both) / _solve_ms(size):7.0f}x"
    )


def report(quick: bool = False) -> str:
    """Return the table: milliseconds over several instruments and runs, in a warm process."""
    seeds = range(2 if quick else 24)
    lines = [
        f"{'kind':32s} {'strings':>7s} {'frets':>5s} {'state':>5s} {'estimate':>9s} {'plan':>8s} {'both':>8s} "
        f"{'least':>8s} {'by clock':>9s} {'x solve':>8s}"
    ]
    for kind, made, name in (
        *((kind, _service, kind) for kind in KINDS),
        *((kind, _worked_on, f"{kind}, worked on") for kind in WORKED_ON),
    ):
        lines.append(_line(name, [made(kind, seed) for seed in seeds]))
    lines += [
        "estimate, plan, both: processor time, median over all instruments and runs; least: the least of both.",
        "by clock: both by the clock, median. x solve: both over one dense numpy solve of the state's size, same run.",
    ]
    return "\n".join(lines)
