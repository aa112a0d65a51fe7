"""What estimate and plan cost, over strings and frets, beside a dense numpy solve of the same size."""

import time

import numpy as np

from bench._instruments import arrival
from bench._maker import Bench
from breakangle.model.service import Service
from breakangle.planning.adjustments.tune import Tune
from breakangle.planning.estimate import estimate
from breakangle.planning.plan import plan

KINDS = ("ukulele-concert", "bass-four", "electric-guitar", "electric-guitar-eight", "twelve-string-guitar")


def _median_ms(run, times: int) -> float:  # type: ignore[no-untyped-def]
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append(1000 * (time.perf_counter() - start))
    return float(np.median(found))


def _service(kind: str, seed: int) -> Service:
    bench = Bench(arrival(kind, seed), np.random.default_rng(seed))
    bench.do(Tune())
    return Service(instrument=bench.one.instrument, readings=tuple(bench.full_set()))


def report(quick: bool = False) -> str:
    """Return the table: milliseconds, median over several instruments and runs, in a warm process."""
    seeds = range(2 if quick else 24)
    rng = np.random.default_rng(0)
    lines = [
        f"{'kind':24s} {'strings':>7s} {'frets':>5s} {'state':>5s} {'estimate':>9s} {'plan':>8s} {'x solve':>8s}"
    ]
    for kind in KINDS:
        services = [_service(kind, seed) for seed in seeds]
        states = [estimate(one) for one in services]
        for one, now in zip(services, states, strict=True):
            plan(one, now)
        reading = float(np.median([_median_ms(lambda o=o: estimate(o), 5) for o in services]))
        planning = float(
            np.median(
                [_median_ms(lambda o=o, n=n: plan(o, n), 5) for o, n in zip(services, states, strict=True)]
            )
        )
        size, board = states[0].picture.layout.size, states[0].board
        matrix = rng.normal(size=(size, size)) + size * np.eye(size)
        solve = _median_ms(lambda m=matrix: np.linalg.solve(m, m), 21)
        lines.append(
            f"{kind:24s} {board.string_count:7d} {board.fret_count:5d} {size:5d} {reading:7.1f}ms {planning:6.1f}ms "
            f"{(reading + planning) / solve:7.0f}x"
        )
    lines.append(
        "x solve: estimate and plan together, over one dense numpy solve of the state's size in the same run."
    )
    return "\n".join(lines)
