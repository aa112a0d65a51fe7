"""Saddle blank at true size: from the front with its height under every string, from above with its crown points."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from breakangle.documents.true_size.compensation import compensation_of
from breakangle.documents.true_size.geometry import (
    Curve,
    Drawing,
    Figures,
    Line,
    Part,
    Words,
    box,
    columns_of,
    cross,
)
from breakangle.documents.true_size.kinds import Option, TemplateKind
from breakangle.documents.true_size.wanted import board_for, saddle_over_bridge_mm
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.planning.state.board import Board

ABOVE_MM = 16.0  # from the front view down to that from above
NUMBER_MM = 3.0  # a string's number, with white around
OPTIONS = (
    Option("airspace_bass",
    mark("from the bridge's top up to a straight-edge on the frets, bass side, mm"), "length",
           0.8, -15.0, 15.0),
    Option("airspace_treble", mark("the same at the treble side, mm"), "length", 0.8, -15.0, 15.0),
    Option("slot", mark("depth of the saddle's slot, mm"), "length", 5.0, 0.0, 20.0),
)  # fmt: skip


def _points(board: Board, edge_mm: float) -> list[float]:
    """Return where each string lies from the saddle's bass end, mm, string 1 first."""
    across = board.sideways_mm[:, -1]
    return [float(abs(one - across[-1])) + edge_mm for one in across]


def _front(x: list[float], whole: list[float], length: float, slot: float) -> list[Part]:
    """Return the front view: outline over the strings' heights, the bridge's top, a line and number for each string."""
    order = np.argsort(x)
    top = [(x[one], whole[one]) for one in order]
    outline = ((0.0, 0.0), (0.0, top[0][1]), *top, (length, top[-1][1]), (length, 0.0))
    parts: list[Part] = [Curve(outline, closed=True), Line((0.0, slot), (length, slot), "aid")]
    columns = columns_of(x, NUMBER_MM)
    for string, (along, high) in enumerate(zip(x, whole, strict=True)):
        parts += [Line((along, slot), (along, high)), Line((along, -2.0), (along, 0.0))]
        parts.append(Words((along, -4.8 - NUMBER_MM * columns[string]), str(string + 1), 2.2, "middle"))
    return parts


def _above(x: list[float], off: list[float], length: float, wide: float) -> list[Part]:
    """Return the view from above: the saddle's two faces, and each string's crown point across it."""
    middle = -ABOVE_MM - wide / 2.0
    parts: list[Part] = [box(0.0, middle - wide / 2.0, length, wide)]
    for along, away in zip(x, off, strict=True):
        parts += cross((along, middle - away), 0.9)
    parts.append(Words((length / 2.0, middle + wide / 2.0 + 1.4), tr("side of the nut"), 2.2, "middle"))
    return parts


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    board = board_for(service)
    over = saddle_over_bridge_mm(service, board, asked["airspace_bass"], asked["airspace_treble"])
    whole = [float(one) for one in np.maximum(over + asked["slot"], 0.1)]
    x = _points(board, asked["edge"])
    length = max(x) + asked["edge"]
    back = compensation_of(service).plain_saddle_mm
    line = np.polyval(np.polyfit(x, back, 1), x) if len(x) > 1 else back
    off = [float(one) for one in back - line]
    rows = tuple(
        (str(one.string), one.note, f"{x[i]:.2f}", f"{over[i]:.2f}", f"{whole[i]:.2f}", f"{off[i]:+.2f}")
        for i, one in enumerate(board.instrument.in_order())
    )
    head = (
        tr("string"),
        tr("note"),
        tr("from the bass end, mm"),
        tr("over the bridge, mm"),
        tr("whole height, mm"),
        tr("crown behind the middle, mm"),
    )
    told = (
        tr("From the front, bass end at the left; the dashed line is the bridge's top. Heights are for a slot "
           "{slot:.2f} mm deep.", slot=asked["slot"]),
        tr("From above, crosses are where each string leaves the saddle; the saddle stands along the line of template "
           "saddle-line."),
        tr("Leave 0.25 mm on, string up, read, and take the rest off the foot."),
    )  # fmt: skip
    parts = (*_front(x, whole, length, asked["slot"]), *_above(x, off, length, asked["width"]))
    return Drawing(tr("Saddle blank"), board.instrument.name, told, parts, (Figures(head, rows),))


KIND = TemplateKind(
    name="saddle-blank",
    words=mark("saddle blank"),
    told=mark(
        "the saddle from the front with its height under every string, and from above with its crown points"
    ),
    draw=_draw,
    options=(
        *OPTIONS,
        Option("width", mark("width of the saddle, mm"), "length", 3.0, 1.0, 12.0),
        Option("edge", mark("from an outer string to the end of the saddle, mm"), "length", 8.0, 1.0, 30.0),
    ),
)
