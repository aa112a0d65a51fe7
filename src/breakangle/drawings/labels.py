"""Labels in rows above or below a drawing, each tied to its place by a line, and none over another."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from breakangle.drawings.sheet import Sheet
from breakangle.drawings.text_width import text_width, wrapped

Line = tuple[str, str]
"""A text and the kind of text it is: `text`, `strong` or `quiet`."""
LEADING_RATIO = 1.32
GAP_RATIO = 0.45
ROOM_RATIO = 1.1
CLEAR_RATIO = 0.6
LEAST_WIDTH_RATIO = 9.0
MOST_ROWS = 12


@dataclass(frozen=True)
class Label:
    """A block of lines tied to `anchor_x`; `start_y` is where its line leaves the drawing."""

    anchor_x: float
    start_y: float
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Placed:
    """A label at its place: `left`, in `row` from the drawing outward; `to_right` of its line or to its left."""

    label: Label
    left: float
    width: float
    row: int
    to_right: bool

    @property
    def right(self) -> float:
        """Return where it ends."""
        return self.left + self.width


def block_width(lines: Sequence[Line], size: float) -> float:
    """Return the width of the widest line."""
    return max((text_width(text, size, kind == "strong") for text, kind in lines), default=0.0)


def folded(lines: Sequence[Line], width: float, size: float) -> tuple[Line, ...]:
    """Return the lines, folded to `width`."""
    return tuple(
        (part, kind) for text, kind in lines for part in wrapped(text, width, size, kind == "strong")
    )


def _sides(label: Label, size: float, edges: tuple[float, float]) -> list[Placed]:
    """Return the label unfolded on each side of its line where it has room, to the right first."""
    gap, wanted = GAP_RATIO * size, block_width(label.lines, size)
    found: list[Placed] = []
    if label.anchor_x + gap + wanted <= edges[1]:
        found.append(Placed(label, label.anchor_x + gap, wanted, 0, True))
    if label.anchor_x - gap - wanted >= edges[0]:
        found.append(Placed(label, label.anchor_x - gap - wanted, wanted, 0, False))
    return found


def _folded_sides(
    label: Label, size: float, edges: tuple[float, float], waiting: Sequence[float]
) -> list[Placed]:
    """Return the label folded to what is free on either side before the next waiting line, the wider first."""
    gap, clear = GAP_RATIO * size, CLEAR_RATIO * size
    left = max([edges[0], *(one + clear for one in waiting if one < label.anchor_x)])
    right = min([edges[1], *(one - clear for one in waiting if one > label.anchor_x)])
    room = {True: right - label.anchor_x - gap, False: label.anchor_x - gap - left}
    found: list[Placed] = []
    for to_right in sorted(room, key=lambda one: -room[one]):
        if room[to_right] >= LEAST_WIDTH_RATIO * size or not found:
            lines = folded(label.lines, max(room[to_right], LEAST_WIDTH_RATIO * size), size)
            width = block_width(lines, size)
            start = label.anchor_x + gap if to_right else label.anchor_x - gap - width
            start = min(max(start, edges[0]), edges[1] - width)
            found.append(Placed(replace(label, lines=lines), start, width, 0, to_right))
    return found


def _free(one: Placed, placed: Sequence[Placed], waiting: Sequence[float], room: float) -> bool:
    """Return whether nothing stands in the way of the block or its line, nor of lines still `waiting`."""
    if any(one.left - 3.0 < anchor < one.right + 3.0 for anchor in waiting):
        return False
    for other in placed:
        apart = one.right + room <= other.left or other.right + room <= one.left
        if one.row == other.row and not apart:
            return False
        over_line = other.left - 3.0 < one.label.anchor_x < other.right + 3.0
        if other.row < one.row and over_line:
            return False
        under_line = one.left - 3.0 < other.label.anchor_x < one.right + 3.0
        if one.row < other.row and under_line:
            return False
    return True


def _first_free(
    sides: Sequence[Placed], placed: Sequence[Placed], waiting: Sequence[float], room: float
) -> Placed | None:
    """Return the first place that is free, going outward row by row."""
    choices = (replace(side, row=row) for row in range(MOST_ROWS) for side in sides)
    return next((choice for choice in choices if _free(choice, placed, waiting, room)), None)


def arranged(labels: Sequence[Label], size: float, edges: tuple[float, float]) -> list[Placed]:
    """Return the labels in rows between the `edges`: blocks never overlap, and lines avoid blocks."""
    room = ROOM_RATIO * size
    middle = (edges[0] + edges[1]) / 2.0
    # From the outside in, and of the right half first: a block opens away from its line, to the right.
    order = sorted(labels, key=lambda one: (one.anchor_x < middle, -one.anchor_x))
    placed: list[Placed] = []
    for count, label in enumerate(order, start=1):
        waiting = [other.anchor_x for other in order[count:]]
        free = _first_free(_sides(label, size, edges), placed, waiting, room)
        if free is None:
            narrow = _folded_sides(label, size, edges, waiting)
            last = max((one.row for one in placed), default=-1) + 1
            free = _first_free(narrow, placed, waiting, room) or replace(narrow[0], row=last)
        placed.append(free)
    return placed


def row_heights(placed: Sequence[Placed], size: float) -> list[float]:
    """Return the height of each row, in lines' worth of space."""
    count = max((one.row for one in placed), default=-1) + 1
    lines = [
        max((len(one.label.lines) for one in placed if one.row == row), default=0) for row in range(count)
    ]
    return [LEADING_RATIO * size * most + 0.7 * size for most in lines]


def draw_labels(
    sheet: Sheet, placed: Sequence[Placed], edge_y: float, size: float, below: bool, kept_free: float = 0.0
) -> None:
    """Write the labels outward from `edge_y`, below it or above; lines leave out `kept_free` before it."""
    heights = row_heights(placed, size)
    for one in placed:
        before = sum(heights[: one.row])
        block = LEADING_RATIO * size * len(one.label.lines)
        top = edge_y + before + 0.35 * size if below else edge_y - before - 0.35 * size - block
        end_y = top + block if below else top
        x = one.label.anchor_x
        if kept_free:
            sheet.line((x, one.label.start_y), (x, max(edge_y - kept_free, one.label.start_y)), "leader")
        sheet.line((x, edge_y if kept_free else one.label.start_y), (x, end_y), "leader")
        for index, (text, kind) in enumerate(one.label.lines):
            base = top + LEADING_RATIO * size * index + size
            x = one.left if one.to_right else one.right
            sheet.text((x, base), text, kind, "start" if one.to_right else "end", size)
