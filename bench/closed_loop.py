"""Closed loop: workshop instruments serviced by the plan and by rules of thumb, side by side, judged by the truth.

    python -m bench.closed_loop [--count 24] [--group "bass four"] [--first 0] [--quick] [--bound] [--engine apart]

The instruments, the maker's rules, the minutes and the tolerances stand in `bench/workshop/`; nothing there follows the
planner's physics or its tables of targets. With PYTHONPATH set to another checkout's `src`, the same bench judges that
checkout's planner. Nothing is left out but what no perfect hand could mend within the adjusters' travel.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator

import numpy as np

from bench import knowing
from bench._served import GROUPS, LATE, Group, Inside, Served, serve
from bench._studied import LOCAL, Each, add_engine, each_asked
from bench.workshop import figures
from breakangle.cli.stdout import keep_stdout_clean

COUNT, QUICK_COUNT, WORKERS = 60, 4, 2
NAMES = (
    *("n", "not", "one", "1.3", "two", "later", "|", "n", "5 c 1", "5 c 2", "later", "|", "min", "thumb"),
    *("asked", "both", "checks", "rod/8", "trips", "|", "rounds", "out"),
)
HEAD = f"{'group':22s} " + " ".join(
    f"{name:>{1 if name == '|' else 4 if name in ('n', 'not') else 6}s}" for name in NAMES
)


def _task(task: tuple[Group, int]) -> Served:
    return serve(*task)


def served(
    group: Group, count: int, first: int = 0, workers: int = WORKERS, each: Each = LOCAL
) -> list[Served]:
    """Return the outcomes of `count` instruments of the group, those left out among them."""
    tasks = [(group, seed) for seed in range(first, first + count)]
    if workers == 1:
        return [_task(task) for task in tasks]
    return [LATE if one is None else one for one in each(_task, tasks, workers, figures.MOST_SECONDS)]


def _percent(flags: list[bool | None]) -> str:
    known = [flag for flag in flags if flag is not None]
    return f"{100 * np.mean(known):5.1f}%" if known else "     -"


def _insides(found: list[Inside]) -> list[str]:
    return [_percent([one.one for one in found]), _percent([one.two for one in found]),
            _percent([one.later for one in found])]  # fmt: skip


def line(name: str, rows: list[Served], wide: bool) -> str:
    """Return one group's line of the table."""
    counted = [row for row in rows if row.strict is not None]
    strict = _insides([row.strict for row in counted if row.strict is not None])
    again = [row.wide for row in rows if row.wide is not None] if wide else []
    near = _percent([bool(row.worst_one <= 1.3) for row in counted])
    one, two, later = strict
    first = [row.first for row in counted if row.first is not None]
    second = [row.second for row in counted if row.second is not None]
    thumb = [row.thumb for row in counted if row.thumb is not None]
    out = [bool(stand.out.max() > 1.0) for stand in thumb]
    return (
        f"{name:22s} {len(counted):4d} {len(rows) - len(counted):4d} {one} {near} {two} {later} | "
        f"{len(again):4d} {' '.join(_insides(again))} | {_median([s.minutes for s in first])} "
        f"{_median([s.minutes for s in thumb])} {_mean([s.asked for s in first])} {_mean([s.asked for s in second])} "
        f"{_mean([s.checks for s in first])} {_mean([s.eighths for s in first])} {_mean([s.trips for s in first])} | "
        f"{_median([row.thumb_rounds for row in counted if row.thumb is not None])} {_percent(list(out))}"
    )


def _median(values: list[float]) -> str:
    return f"{np.median(values):6.1f}" if values else "     -"


def _mean(values: list[int]) -> str:
    return f"{np.mean(values):6.1f}" if values else "     -"


def _left_out(name: str, rows: list[Served]) -> str:
    reasons = Counter(row.reason for row in rows if row.reason is not None)
    told = ", ".join(f"{reason} {count}" for reason, count in reasons.most_common()) or "none"
    late = sum(row is LATE for row in rows)
    return f"{name}: {told}" + (
        f"; counted as outside, no plan in time or none at all: {late}" if late else ""
    )


def told(
    groups: tuple[Group, ...], count: int, first: int = 0, workers: int = WORKERS, each: Each = LOCAL
) -> Iterator[str]:
    """Yield the table of these groups line by line, with what was left out and why."""
    yield from (
        "Wholly inside by the truth after one full set (within 1.3 tolerances), after two, and half a year later after",
        "one; the same at 5 cents where a saddle is one piece. Of the first service (one full set and what the plan",
        "then asks and does): median minutes, and those of rules of thumb; readings asked for on top (and over both",
        "sets), checks, eighths of the rod, trips: means. By rules of thumb: median rounds, and share left outside.",
        HEAD,
    )
    everything: list[Served] = []
    reasons = []
    for group in groups:
        rows = served(group, count, first, workers, each)
        everything += rows
        yield line(group.name, rows, group.wide)
        reasons.append(_left_out(group.name, rows))
    yield from (line("all", everything, True), "Left out, because no perfect hand could mend it:", *reasons)


def report(quick: bool = False) -> str:
    """Return the table of every group."""
    return "\n".join(told(GROUPS, QUICK_COUNT if quick else COUNT))


def main(arguments: list[str]) -> int:
    """Print the table that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=COUNT, help="instruments a group")
    parser.add_argument("--first", type=int, default=0, help="the first instrument's number")
    parser.add_argument("--group", action="append", help="a group's name; all without it")
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_COUNT} instruments a group")
    parser.add_argument("--bound", action="store_true", help="print what nobody can better beside it")
    add_engine(parser)
    parser.add_argument("--workers", type=int, default=WORKERS)
    asked = parser.parse_args(arguments)
    groups = tuple(one for one in GROUPS if asked.group is None or one.name in asked.group)
    count = QUICK_COUNT if asked.quick else asked.count
    for one in told(groups, count, asked.first, asked.workers, each_asked(asked)):
        print(one, flush=True)
    if asked.bound:
        print(
            "What nobody can better: a maker who sees all; one who reads, by the share that brings most inside."
        )
        print(knowing.HEAD)
        for group in groups:
            print(knowing.line(group, count, asked.first), flush=True)
    return 0


if __name__ == "__main__":
    keep_stdout_clean()
    sys.exit(main(sys.argv[1:]))
