"""How honest stated intervals are: 95 in 100 on instruments of another make than the estimator's, and buzz as said.

    python -m bench.intervals [--count 300] [--first 0] [--mistyped 0.04] [--save FILE] [--against FILE] [--workers 2]

The instruments, their strings, fingers, rods and slots stand in `bench/workshop/`; nothing there follows the
planner's physics. Each is read once (a quarter of them with pitches at frets 1 to 3 besides, a quarter with every
crown, a quarter with both), and every figure is stated as it stands (`now`), after a turn of the rod (`turned`),
after a set-up's work chosen blindly (`then`) and with other strings on (`swap`). A share's range is that of 95 in
100 bootstrap samples of whole instruments. With PYTHONPATH set to another checkout's `src` the same bench measures
that checkout; `--save` there and `--against` here tells widths and Brier scores as ratios.
"""

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from bench._interval_figures import Figures, Key, figures_of
from bench._studied import LOCAL, Each, add_engine, each_asked
from breakangle.cli.stdout import keep_stdout_clean

COUNT, QUICK_COUNT, MOST_SECONDS = 300, 12, 120
GROUPS: tuple[tuple[str, str | None], ...] = (
    ("electric-guitar", None),
    ("steel-acoustic-guitar", None),
    ("bass-four", None),
    ("nylon-acoustic-guitar", None),
    ("electric-guitar", "two-post"),
    ("electric-guitar-seven", None),
)
STATES = ("now", "turned", "then", "swap")
RESAMPLED, LEAST_FIGURES, LEAST_NOTES = 400, 1000, 1000
LOWEST, HIGHEST = 0.93, 0.98
BUZZ_EDGES = (0.0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.95, 0.98, 1.0)
Widths = dict[str, float]


def _task(task: tuple[int, float, bool]) -> Figures:
    seed, mistyped_share, buzz = task
    kind, bridge_kind = GROUPS[(seed // 4) % len(GROUPS)]
    return figures_of(kind, bridge_kind, seed, mistyped_share, buzz)


def measured(
    count: int,
    first: int = 0,
    mistyped_share: float = 0.04,
    buzz: bool = True,
    workers: int = 1,
    each: Each = LOCAL,
) -> list[Figures]:
    """Return the figures of `count` instruments; in other processes where there are more workers than one."""
    tasks = [(seed, mistyped_share, buzz) for seed in range(first, first + count)]
    if workers == 1:
        return [_task(task) for task in tasks]
    found = each(_task, tasks, workers, MOST_SECONDS)
    return [one for one in found if one is not None]


def pooled(found: Sequence[Figures], keys: Sequence[Key]) -> tuple[float, float, float, int]:
    """Return the share inside, its range over whole instruments resampled, and how many figures there are."""
    inside = np.array([sum(sum(one.inside.get(key, ())) for key in keys) for one in found], dtype=float)
    total = np.array([sum(len(one.inside.get(key, ())) for key in keys) for one in found], dtype=float)
    if not total.sum():
        return float("nan"), float("nan"), float("nan"), 0
    rng = np.random.default_rng(0)
    drawn = rng.integers(0, len(found), (RESAMPLED, len(found)))
    shares = inside[drawn].sum(axis=1) / np.maximum(total[drawn].sum(axis=1), 1.0)
    low, high = np.quantile(shares, [0.025, 0.975])
    return float(inside.sum() / total.sum()), float(low), float(high), int(total.sum())


def width_of(found: Sequence[Figures], keys: Sequence[Key]) -> float:
    """Return the median width of the intervals of these cells, in mm or cents."""
    every = [width for one in found for key in keys for width in one.width.get(key, ())]
    return float(np.median(every)) if every else float("nan")


def _scale(found: Sequence[Figures], keys: Sequence[Key]) -> float:
    """Return the half width that holds 95 in 100, over the stated one: 1 where the statement is honest."""
    every = [abs(miss) for one in found for key in keys for miss in one.spreads.get(key, ())]
    return float(np.quantile(every, 0.95) / 1.959964) if every else float("nan")


def cells_of(found: Sequence[Figures]) -> list[Key]:
    """Return every cell there is, by kind, state and fret."""
    keys = {key for one in found for key in one.inside}
    return sorted(keys, key=lambda key: (key[0], STATES.index(key[2]), key[1]))


def _line(name: str, found: Sequence[Figures], keys: Sequence[Key], against: Widths) -> str:
    share, low, high, count = pooled(found, keys)
    width = width_of(found, keys)
    before = against.get(name)
    ratio = f"{width / before:6.2f}" if before else "     -"
    out = "  <-" if count >= LEAST_FIGURES and (high < LOWEST or low > HIGHEST) else ""
    return (
        f"{name:32s} {count:7d} {100 * share:6.1f} ({100 * low:5.1f} to {100 * high:5.1f}) {_scale(found, keys):6.2f} "
        f"{width:8.3f} {ratio}{out}"
    )


def _parts(found: Sequence[Figures]) -> Iterator[tuple[str, list[Figures], list[Key]]]:
    """Yield the lines of the table: pooled by kind and state, then every cell; pitch by what was read, besides."""
    every, cells = list(found), cells_of(found)
    for kind in sorted({key[0] for key in cells}):
        yield f"{kind}, all", every, [key for key in cells if key[0] == kind]
        for state in STATES:
            here = [key for key in cells if key[0] == kind and key[2] == state]
            if here:
                yield f"{kind}, {state}", every, here
    for low in (True, False):
        some = [one for one in every if ("low" in one.arm) == low]
        words = "low frets read" if low else "no low frets"
        for fret in (1, 2, 3, 4, 12):
            yield f"pitch {fret}, now, {words}", some, [("pitch", fret, "now")]
    for key in cells:
        yield f"{key[0]} {key[1]}, {key[2]}", every, [key]


def buzz_lines(found: Sequence[Figures], against: Widths, saved: Widths) -> Iterator[str]:
    """Yield said against touched in bins, and the Brier score, crowns read and unread."""
    for read in (True, False):
        rows = np.array([row for one in found if ("crowns" in one.arm) == read for row in one.buzz])
        name = "crowns read" if read else "crowns unread"
        if not len(rows):
            continue
        said, touches = rows[:, 0], rows[:, 1]
        brier = float(np.mean((said - touches) ** 2))
        saved[f"brier, {name}"] = brier
        before = against.get(f"brier, {name}")
        yield f"buzz, {name}: {len(rows)} notes, Brier {brier:.4f}" + (
            f" (before {before:.4f})" if before else ""
        )
        edges = np.array(BUZZ_EDGES)
        place = np.clip(np.searchsorted(edges, said, side="right") - 1, 0, len(edges) - 2)
        for at in range(len(edges) - 1):
            here = place == at
            if np.any(here):
                gap = 100 * (said[here].mean() - touches[here].mean())
                out = "  <-" if here.sum() >= LEAST_NOTES and abs(gap) > 5.0 else ""
                yield (
                    f"  said {100 * edges[at]:3.0f} to {100 * edges[at + 1]:3.0f} %: {here.sum():6d} notes, said "
                    f"{100 * said[here].mean():5.1f}, touched {100 * touches[here].mean():5.1f}{out}"
                )


def told(found: Sequence[Figures], against: Widths, saved: Widths) -> Iterator[str]:
    """Yield the table line by line; what is to be kept of it goes into `saved`."""
    yield f"{len(found)} instruments. Share inside (95 % range over instruments resampled), half width needed over"
    yield "stated, median width in mm or cents, and over the other checkout's; <- : the whole range outside 93 to 98 %."
    for name, some, keys in _parts(found):
        saved[name] = width_of(some, keys)
        yield _line(name, some, keys, against)
    yield from buzz_lines(found, against, saved)


def report(quick: bool = False) -> str:
    """Return the table."""
    return "\n".join(told(measured(QUICK_COUNT if quick else COUNT, workers=2), {}, {}))


def main(arguments: list[str]) -> int:
    """Print the table that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=COUNT)
    parser.add_argument("--first", type=int, default=0, help="the first instrument's number")
    parser.add_argument("--mistyped", type=float, default=0.04, help="share of figures written down wrong")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--no-buzz", action="store_true")
    parser.add_argument("--save", type=Path, help="where to keep widths and scores")
    add_engine(parser)
    parser.add_argument("--against", type=Path, help="what another checkout kept")
    asked = parser.parse_args(arguments)
    found = measured(
        asked.count, asked.first, asked.mistyped, not asked.no_buzz, asked.workers, each_asked(asked)
    )
    against = json.loads(asked.against.read_text()) if asked.against else {}
    saved: Widths = {}
    for line in told(found, against, saved):
        print(line, flush=True)
    if asked.save:
        asked.save.write_text(json.dumps(saved))
    return 0


if __name__ == "__main__":
    keep_stdout_clean()
    sys.exit(main(sys.argv[1:]))
