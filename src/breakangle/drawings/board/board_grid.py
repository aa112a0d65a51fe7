"""Where the cells of a board's map stand: frets along or down, true or even, fanned, in as many parts as fit."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from breakangle.drawings.look import Look
from breakangle.planning.state.board import Board

SQUARE_FRET = 7
"""A fanned board is drawn with this fret straight across; which one is so is no part of the instrument's file."""
COURSE_GAP_RATIO, WIDEST_FOR_GAP, OPEN_RATIO = 0.5, 14.0, 1.0


@dataclass(frozen=True)
class Need:
    """The least size of a cell, in units of the drawing: so wide and so high that its text fits."""

    wide: float
    high: float


@dataclass(frozen=True)
class Lane:
    """One string's strip across the frets: `low` and `high` edge, and `edges` (F + 2) along: fret lines.

    Cell n lies between edges n and n + 1; cell 0 is the open string's, before the nut.
    """

    string: int
    low: float
    high: float
    edges: tuple[float, ...]


@dataclass(frozen=True)
class Part:
    """A piece of the board: its lanes, the frets `from_fret` to `to_fret` it shows, and its size."""

    lanes: tuple[Lane, ...]
    from_fret: int
    to_fret: int
    along: float
    across: float


@dataclass(frozen=True)
class Grid:
    """The whole map: `upright` has the frets one below the other, the nut at the top."""

    upright: bool
    parts: tuple[Part, ...]


def grid_of(board: Board, look: Look, need: Need, rooms: tuple[float, float], opened: bool) -> Grid:
    """Return a grid whose cells all have the size needed, in a width of `rooms`: flat, or upright.

    Frets run along the width where they fit, else down; too many strings for the width are split. `opened`:
    whether there is a cell for the open strings.
    """
    room, upright_room = rooms
    flat = _places(board, look.even_frets, opened)
    fits = room / float(np.max(flat[:, -1]) - np.min(flat)) * _narrowest(flat, opened) >= need.wide
    if fits:
        scale = room / float(np.max(flat[:, -1]) - np.min(flat))
        lanes = _lanes(board, flat, scale, need.high)
        return Grid(False, (_part(lanes, board.fret_count, opened),))
    scale = need.high / _narrowest(flat, opened)
    room = upright_room
    courses = _courses(board)
    if max(map(len, courses)) * need.wide > room:
        courses = [[one] for course in courses for one in course]
    split = _split(courses, room, need.wide)
    widths = [(room - _gap(some, need.wide)) / sum(map(len, some)) for some in split]
    wide = min(*widths, 3.4 * need.wide)
    parts = [
        _part(
            _lanes(board, flat, scale, wide, [one for course in some for one in course]),
            board.fret_count,
            opened,
        )
        for some in split
    ]
    # The low strings come first, as they stand on the instrument from left to right.
    return Grid(True, tuple(parts if look.left_handed else reversed(parts)))


def _courses(board: Board) -> list[list[int]]:
    """Return the strings, counted from 0, course by course."""
    found: dict[int, list[int]] = {}
    for index, one in enumerate(board.instrument.in_order()):
        found.setdefault(one.course or one.string, []).append(index)
    return list(found.values())


def _gap(courses: Sequence[Sequence[int]], wide: float) -> float:
    """Return the room that stands open between courses: none where every course is one string."""
    paired = any(len(course) > 1 for course in courses)
    return COURSE_GAP_RATIO * min(wide, WIDEST_FOR_GAP) * (len(courses) - 1) if paired else 0.0


def _split(courses: Sequence[list[int]], room: float, wide: float) -> list[list[list[int]]]:
    """Return the courses in as few parts, alike in size, as fit the width; one course is never split."""
    for count in range(1, len(courses) + 1):
        size = -(-len(courses) // count)
        parts = [list(courses[start : start + size]) for start in range(0, len(courses), size)]
        if all(sum(map(len, part)) * wide + _gap(part, wide) <= room for part in parts):
            return parts
    return [[course] for course in courses]


def _places(board: Board, even: bool, opened: bool) -> np.ndarray:
    """Return the fret lines of every string, shape (S, F + 2): before the open cell, nut, frets 1 to F.

    In mm, or in frets where they are even.
    """
    frets = board.fret_count
    if even:
        lines = np.tile(np.arange(frets + 1.0), (board.string_count, 1))
        start = lines[:, :1] - (1.0 if opened else 0.0)
    else:
        square = min(SQUARE_FRET, frets)
        along = board.along_mm[:, : frets + 1]
        lines = along - along[:, square : square + 1]
        lines = lines - lines.min()
        start = lines[:, :1] - (OPEN_RATIO * float(np.min(np.diff(lines[:, 1:3]))) if opened else 0.0)
    return np.concatenate([start, lines], axis=1)


def _narrowest(flat: np.ndarray, opened: bool) -> float:
    widths = np.diff(flat, axis=1)
    return float(np.min(widths if opened else widths[:, 1:]))


def _lanes(
    board: Board, flat: np.ndarray, scale: float, wide: float, some: Sequence[int] | None = None
) -> list[Lane]:
    strings = list(range(board.string_count)) if some is None else list(some)
    courses = [one.course or one.string for one in board.instrument.in_order()]
    paired = len({courses[one] for one in strings}) < len(strings)
    gap = COURSE_GAP_RATIO * min(wide, WIDEST_FOR_GAP) if paired else 0.0
    lanes, at = [], 0.0
    for rank, string in enumerate(strings):
        if rank and courses[string] != courses[strings[rank - 1]]:
            at += gap
        edges = tuple(float(one) for one in (flat[string] - np.min(flat)) * scale)
        lanes.append(Lane(string + 1, at, at + wide, edges))
        at += wide
    return lanes


def _part(lanes: Sequence[Lane], frets: int, opened: bool) -> Part:
    along = max(lane.edges[-1] for lane in lanes)
    return Part(tuple(lanes), 0 if opened else 1, frets, along, lanes[-1].high)


def mirrored(part: Part, along: bool) -> Part:
    """Return the part turned over: its frets the other way where `along`, else its strings."""
    if along:
        lanes = [replace(lane, edges=tuple(part.along - edge for edge in lane.edges)) for lane in part.lanes]
        return replace(part, lanes=tuple(lanes))
    lanes = [replace(lane, low=part.across - lane.high, high=part.across - lane.low) for lane in part.lanes]
    return replace(part, lanes=tuple(lanes))
