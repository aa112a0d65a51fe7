"""The frame of a chart: scales with round steps, grid, figures at the axes, and points that a pointer can read."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from breakangle.drawings.figures import plain
from breakangle.drawings.look import TextBox
from breakangle.drawings.sheet import MIDDLE_RATIO, Point, Sheet, number
from breakangle.drawings.text_width import text_width

STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
AXIS_RATIO = 0.85


@dataclass(frozen=True)
class Scale:
    """One axis: from `low` to `high` in its own unit, at `start` to `end` in the drawing."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return the place of `value`."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def round_step(span: float, most: int) -> float:
    """Return the smallest round step that cuts `span` into at most `most` pieces."""
    rough = span / max(most, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step * power for step in STEPS if step * power >= rough * (1 - 1e-9))


def scale_over(values: Sequence[float], start: float, end: float, most: int, least_span: float) -> Scale:
    """Return a scale that holds all `values` with a little air, ending on round steps; never of no extent."""
    low, high = (min(values), max(values)) if values else (0.0, least_span)
    short = least_span - (high - low)
    if short > 0:
        low, high = low - short / 2.0, high + short / 2.0
    step = round_step((high - low) * 1.1, most)
    return Scale(math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step, start, end)


def ticks(scale: Scale, most: int) -> list[float]:
    """Return the round values along a scale, as many as `most` allows."""
    step = round_step(scale.high - scale.low, most)
    first, last = math.ceil(scale.low / step - 1e-9), math.floor(scale.high / step + 1e-9)
    return [count * step for count in range(first, last + 1)]


def tick_words(values: Sequence[float]) -> list[str]:
    """Return values with as many decimals as their steps need."""
    steps = [abs(b - a) for a, b in pairwise(values)] or [abs(v) or 1.0 for v in values]
    step = min(steps, default=1.0)
    decimals = next((n for n in range(5) if abs(step - round(step, n)) < 1e-9), 4)
    return [plain(value, decimals) for value in values]


def draw_rows(sheet: Sheet, scale: Scale, left: float, right: float, most: int) -> None:
    """Draw level lines over the chart, each with its value at the left."""
    size = AXIS_RATIO * sheet.look.text
    values = ticks(scale, most)
    for value, words in zip(values, tick_words(values), strict=True):
        y = scale.at(value)
        sheet.line((left, y), (right, y), "grid")
        sheet.text((left - 0.5 * size, y + MIDDLE_RATIO * size), words, "quiet", "end", size)


def draw_columns(sheet: Sheet, scale: Scale, top: float, bottom: float) -> None:
    """Draw upright lines over the chart, each with its value below."""
    size = AXIS_RATIO * sheet.look.text
    room = abs(scale.end - scale.start)
    most = max(2, int(room / (4.5 * size)))
    values = ticks(scale, most)
    for value, words in zip(values, tick_words(values), strict=True):
        x = scale.at(value)
        sheet.line((x, top), (x, bottom), "grid")
        sheet.text((x, bottom + 1.7 * size), words, "quiet", "middle", size)


def row_count(height: float, text: float) -> int:
    """Return how many level lines a chart so high can carry."""
    return max(2, int(height / (2.2 * text)))


def point(at: Point, words: str) -> dict[str, Any]:
    """Return one point as a page's script reads it: its place in the drawing, and what to say there."""
    return {"x": float(number(at[0])), "y": float(number(at[1])), "words": words}


def write_value(
    sheet: Sheet, at: Point, words: str, edges: tuple[float, float], taken: list[TextBox]
) -> bool:
    """Write a figure above or below a point where nothing else is written yet; return whether there was room."""
    size = AXIS_RATIO * sheet.look.text
    half = text_width(words, size) / 2.0
    x = min(max(at[0], edges[0] + half), edges[1] - half)
    for base in (at[1] - 0.7 * size, at[1] + 1.5 * size):
        box = TextBox(words, x - half - 1, base - 0.8 * size, x + half + 1, base + 0.25 * size)
        if not any(box.overlaps(other) for other in taken):
            taken.append(box)
            sheet.text((x, base), words, "text", "middle", size)
            return True
    return False
