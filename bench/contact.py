"""Contact: time of screen, decision, severity and lowest set-up, against machine peak and plain numpy."""

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "tests"))

from breakangle.physics.contact.collide import Grid
from breakangle.physics.contact.kernel import library
from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.modes import Notes, Pluck
from breakangle.physics.contact.screen import cleared, reach_bound
from breakangle.physics.contact.severity import severity
from breakangle.planning.buzz.lowest import lowest
from breakangle.planning.estimate.estimate import estimate
from breakangle.reference.strength import playing
from contact_setups import LOSSES, Array, random_notes, service, steel_board

PICK = Pluck(130.0)
HEIGHTS = np.array([0.3, 0.5, 1.0])
PERIODS = 8.0


def best_of(count: int, work: Callable[[], Any]) -> tuple[float, float]:
    """Shortest wall time, and shortest processor time over both cores, s."""
    wall, busy = [], []
    for _ in range(count):
        start, used = time.perf_counter(), time.process_time()
        work()
        wall.append(time.perf_counter() - start)
        busy.append(time.process_time() - used)
    return min(wall), min(busy)


def screened(board: Notes) -> Any:
    return cleared(board.gap_mm, reach_bound(board, PICK, LOSSES, PERIODS), HEIGHTS)


def decided(board: Notes, **form: bool) -> Any:
    open_ = ~np.all(screened(board), axis=1)
    return reach(board.take(open_), PICK, LOSSES, HEIGHTS, PERIODS, **form)


def touching(board: Notes) -> tuple[Any, Array]:
    note, level = np.nonzero(reach(board, PICK, LOSSES, HEIGHTS).first_crown >= 0)
    return note, HEIGHTS[level]


def report(quick: bool = False) -> str:
    rounds = 3 if quick else 9
    usual, low = steel_board(1.5, 1.25, 0.25), steel_board(0.8, 0.8, 0.1)
    lines = [f"6 strings x 22 stops x 3 strengths, {os.cpu_count()} cores, kernel: {library() is not None}"]
    lines += ["best of several: wall s, both cores' s, target s"]
    screen = best_of(5 * rounds, lambda: screened(usual))
    lines.append(f"screen                        {screen[0]:8.5f} {screen[1]:8.5f}   0.001")
    for name, board in (("1.5/1.25/0.25", usual), ("0.8 everywhere", low)):
        took = best_of(rounds, lambda board=board: decided(board))
        lines.append(f"decided map, {name:<15}  {took[0]:8.3f} {took[1]:8.3f}   0.2")
    for name, board in (("1.5/1.25/0.25", usual), ("0.8 everywhere", low)):
        note, height = touching(board)
        took = best_of(rounds, lambda b=board, n=note, h=height: severity(b, n, h, PICK, LOSSES, Grid()))
        lines.append(
            f"severity map, {name:<15} {took[0]:8.3f} {took[1]:8.3f}   0.25, {len(note)} notes touch"
        )
    lines += (
        lowest_lines(rounds) + compared(low, quick) + scaling(low, rounds) + convergence(usual, low, quick)
    )
    return "\n".join(lines + screen_lines(quick))


def lowest_lines(rounds: int) -> list[str]:
    picture, hand = estimate(service()).picture, playing("electric-guitar")
    lowest(picture, hand, "medium")
    took = best_of(rounds, lambda: lowest(picture, hand, "medium"))
    return [f"lowest set-up                 {took[0]:8.3f} {took[1]:8.3f}   0.05"]


def compared(low: Notes, quick: bool) -> list[str]:
    """The kernel against the same steps in numpy."""
    note, height = touching(low)
    out = []
    short = Grid(400, 2048, 0.5 if quick else 1.0)
    some = slice(None, None, 4)
    plain = best_of(1, lambda: severity(low, note[some], height[some], PICK, LOSSES, short, compiled=False))
    fast = best_of(3, lambda: severity(low, note[some], height[some], PICK, LOSSES, short))
    out.append(
        f"  {plain[0] / fast[0]:.0f} times as fast as plain numpy (numpy {plain[0]:.2f} s, {fast[0]:.3f} s)"
    )
    swing = [
        best_of(3, lambda form=form: reach(low, PICK, LOSSES, HEIGHTS, compiled=form))
        for form in (False, True)
    ]
    out.append(f"decision: {swing[0][0] / swing[1][0]:.1f} times as fast as numpy's matrix product")
    return out


def scaling(low: Notes, rounds: int) -> list[str]:
    """Cost of severity over strings, frets, strengths and modes."""
    out = ["severity, cost over size (both cores' s):"]
    string, stop = np.divmod(np.arange(low.count), 22)
    every = np.arange(low.count)

    def cost(chosen: Any, heights: Array, modes: int = 600) -> float:
        note = np.repeat(chosen, len(heights))
        height = np.tile(heights, len(chosen))
        grid = Grid(mode_count=modes, steps_per_period_count=round(8192 / 600 * modes))
        return best_of(max(rounds // 3, 2), lambda: severity(low, note, height, PICK, LOSSES, grid))[1]

    one = HEIGHTS[1:2]
    out.append(
        "  strings 1 2 4 6:        " + " ".join(f"{cost(every[string < n], one):.3f}" for n in (1, 2, 4, 6))
    )
    out.append(
        "  stops 5 11 22:          " + " ".join(f"{cost(every[stop < n], one):.3f}" for n in (5, 11, 22))
    )
    out.append("  strengths 1 2 3:        " + " ".join(f"{cost(every, HEIGHTS[:n]):.3f}" for n in (1, 2, 3)))
    modes = " ".join(f"{cost(every, one, n):.3f}" for n in (150, 300, 600))
    return [*out, f"  modes 150 300 600:      {modes}  (steps in proportion)"]


def convergence(usual: Notes, low: Notes, quick: bool) -> list[str]:
    """Change of impulse over the notes that touch: median, 90 %, most."""
    out = ["impulse, change per note in % of 800 modes at 8192 steps (median, nine in ten, most):"]
    for name, board in (("1.5/1.25/0.25", usual), ("0.8 everywhere", low)):
        note, height = touching(board)
        every = slice(None, None, 8 if quick else 1)

        def impulse(
            modes: int, steps: int, board: Notes = board, n: Any = note[every], h: Any = height[every]
        ) -> Array:
            return severity(board, n, h, PICK, LOSSES, Grid(modes, steps)).impulse_ratio

        best = impulse(800, 8192)
        for words, one in (
            ("as used against the reference", impulse(Grid().mode_count, 8192)),
            ("400 modes, 2048 steps (no compiler)", impulse(400, 2048)),
            ("400 modes, 4096 steps", impulse(400, 4096)),
            ("400 modes, 8192 steps", impulse(400, 8192)),
            ("800 modes, 16384 steps", impulse(800, 16384)),
        ):
            off = 100 * np.quantile(np.abs(one / best - 1.0), [0.5, 0.9, 1.0])
            out.append(f"  {name:<15} {words:<41} {off[0]:5.2f} {off[1]:6.2f} {off[2]:6.2f}")
    return out


def screen_lines(quick: bool) -> list[str]:
    """False clearings of the screen over random notes, and how many of the clear notes it clears."""
    random = np.random.default_rng(11)
    total = wrong = clear = really = 0
    slack = np.inf
    for pluck_mm in random.uniform(40.0, 200.0, 20 if quick else 200):
        notes, height = random_notes(random, 50)
        pluck = Pluck(float(pluck_mm))
        bound = reach_bound(notes, pluck, LOSSES, PERIODS)
        found = reach(notes, pluck, LOSSES, np.zeros(0), PERIODS, mode_count=240, times_per_period_count=1024)
        touches = np.any(height[:, None] * np.nan_to_num(found.depth) > notes.gap_mm, axis=1)
        passed = np.diag(cleared(notes.gap_mm, bound, height))
        total, wrong = total + len(height), wrong + int(np.sum(passed & touches))
        clear, really = clear + int(np.sum(passed)), really + int(np.sum(~touches))
        slack = min(slack, float(np.nanmin(bound - found.depth)))
    return [
        f"screen over {total} random notes, plucks 40 to 200 mm: {wrong} wrongly cleared; it clears {clear} "
        f"of the {really} that are clear; the bound is never nearer than {slack:.4f} of the pluck's height"
    ]
