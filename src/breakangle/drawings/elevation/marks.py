"""What is written into an elevation's field: dimensions with their labels, arrows with theirs, fret numbers."""

from collections.abc import Sequence

import numpy as np

from breakangle.drawings.elevation.moves import Move
from breakangle.drawings.elevation.profile import Figure, Measure, Profile
from breakangle.drawings.elevation.scene import BOARD_RATIO, FRET_RATIO, Scene
from breakangle.drawings.figures import length_span, length_text
from breakangle.drawings.labels import Label, Line
from breakangle.drawings.sheet import Point, Sheet, arrow_head, number, polyline
from breakangle.drawings.text_width import text_width, wrapped
from breakangle.model.words.speech import capital, tr

FOLD_RATIO, LEAST_FOLD = 0.4, 20.0
"""Where a note on an adjustment is folded: of the drawing's width, in sizes of text at least."""
USUAL_FRETS = (1, 3, 5, 7, 9, 12, 15, 17, 19, 21, 24, 27, 29, 31, 33, 36)


def held_line(measure: Measure, shown: Profile) -> tuple[float, float, float, float]:
    """Return the string as held for `measure`: along and height (mm) of both its ends, straight between."""
    left = max([one for one in measure.held if one < measure.fret], default=shown.first)
    right = min([one for one in measure.held if one > measure.fret], default=len(shown.along_mm) - 1)
    start, end = max(left, shown.first), right
    return (
        float(shown.along_mm[start]),
        shown.point_mm(start),
        float(shown.along_mm[end]),
        shown.point_mm(end),
    )


def draw_measure(sheet: Sheet, scene: Scene, measure: Measure, figure: Figure, now: Profile) -> float:
    """Draw the string as held and the gap under it; return where the label's line starts, y."""
    x = scene.x(float(now.along_mm[measure.fret]))
    crown = float(now.crown_mm[measure.fret])
    if measure.held:
        start, start_mm, end, end_mm = held_line(measure, now)
        sheet.line((scene.x(start), scene.y(start_mm)), (scene.x(end), scene.y(end_mm)), "held")
    low, high = scene.y(crown), scene.y(crown + figure.mm)
    head = min(0.55 * scene.look.text, 0.45 * (low - high))
    with sheet.group("move-head"):
        if head > 1.0:
            sheet.path(arrow_head((x, high), (0.0, -1.0), head))
            sheet.path(arrow_head((x, low), (0.0, 1.0), head))
    sheet.line((x, low), (x, high), "rule")
    return low + FRET_RATIO * scene.look.text


def measure_label(measure: Measure, now: Figure, after: Figure | None, anchor: Point, units: str) -> Label:
    """Return the label of one gap: its name and place, now, after the plan, wanted, what is held."""
    lines: list[Line] = [
        (
            tr("{measure_words}, fret {fret}", measure_words=capital(measure.words), fret=measure.fret),
            "text",
        ),
        (length_text(now.mm, units, now.spread_mm), "strong"),
    ]
    if after is not None:
        lines.append(
            (tr("then {length_text}", length_text=length_text(after.mm, units, after.spread_mm)), "text")
        )
    if measure.wanted_mm is not None:
        lines.append(
            (
                tr(
                    "wanted {length_span}",
                    length_span=length_span(measure.wanted_mm, measure.tolerance_mm or 0.0, units),
                ),
                "quiet",
            )
        )
    lines.append((measure.taken(), "quiet"))
    return Label(anchor[0], anchor[1], tuple(lines))


def draw_fret_numbers(sheet: Sheet, scene: Scene, shown: Profile, base_y: float) -> None:
    """Write the fret numbers under the neck, as many as there is room for."""
    size = 0.85 * scene.look.text
    taken: list[tuple[float, float]] = []
    frets = [usual_fret for usual_fret in USUAL_FRETS if usual_fret <= len(shown.along_mm) - 2]
    for fret in sorted(frets, key=lambda one: (one % 12 != 0, one != 1, one)):
        middle = scene.x(float(shown.along_mm[fret]))
        half = text_width(str(fret), size) / 2.0 + 0.25 * size
        if all(middle + half <= low or middle - half >= high for low, high in taken):
            taken.append((middle - half, middle + half))
            sheet.text((middle, base_y), str(fret), "quiet", "middle", size)


def draw_arrow(sheet: Sheet, tail: Point, tip: Point, size: float) -> None:
    """Draw one straight arrow."""
    dx, dy = tip[0] - tail[0], tip[1] - tail[1]
    length = max(float(np.hypot(dx, dy)), 1e-9)
    toward = (dx / length, dy / length)
    stop = (tip[0] - toward[0] * size * 0.7, tip[1] - toward[1] * size * 0.7)
    sheet.line(tail, stop, "move")
    sheet.path(arrow_head(tip, toward, size), "move-head")


def draw_moves(
    sheet: Sheet, scene: Scene, moves: Sequence[Move], now: Profile, joint: int
) -> dict[str, Label]:
    """Draw the arrows of `moves`, and return their labels by place."""
    labels: dict[str, Label] = {}
    text = scene.look.text
    most = max(FOLD_RATIO * scene.look.width, LEAST_FOLD * text)
    for place in dict.fromkeys(move.place for move in moves):
        here = [move for move in moves if move.place == place]
        anchor = _DRAWN[place](sheet, scene, here, now, joint)
        lines: list[Line] = []
        for one in here:
            lines.append((one.words, "strong"))
            lines += [(part, "quiet") for part in wrapped(one.how(), most, text)]
        labels[place] = Label(anchor[0], anchor[1], tuple(lines))
    return labels


def _at_saddle(sheet: Sheet, scene: Scene, moves: Sequence[Move], now: Profile, joint: int) -> Point:
    del joint
    text = scene.look.text
    x, y = scene.x(now.saddle_along_mm), scene.y(now.point_mm(-1))
    length, head = 1.7 * text, 0.75 * text
    beside = x + scene.away * 2.1 * text
    # Of two posts the nearer one comes first: its arrow is the string's.
    rises = [move for move in moves if move.way in ("up", "down")][:1]
    for one in [*rises, *(move for move in moves if move.way in ("away", "toward"))]:
        if one.way in ("up", "down"):
            sign = -1.0 if one.way == "up" else 1.0
            draw_arrow(sheet, (beside, y - sign * length / 2), (beside, y + sign * length / 2), head)
        else:
            way = scene.away * (1.0 if one.way == "away" else -1.0)
            above = y - 0.9 * text
            draw_arrow(sheet, (x - way * length / 2, above), (x + way * length / 2, above), head)
    return (x, y - 1.5 * text)


def _at_nut(sheet: Sheet, scene: Scene, moves: Sequence[Move], now: Profile, joint: int) -> Point:
    del joint
    text = scene.look.text
    x, y = scene.x(float(now.along_mm[now.first])), scene.y(now.point_mm(now.first))
    x -= scene.away * 0.35 * text
    above, below = (x, y - 1.9 * text), (x, y - 0.3 * text)
    tail, tip = (above, below) if moves[0].way == "down" else (below, above)
    draw_arrow(sheet, tail, tip, 0.75 * text)
    return (x, above[1] - 0.2 * text)


def _at_rod(sheet: Sheet, scene: Scene, moves: Sequence[Move], now: Profile, joint: int) -> Point:
    """Draw the rod inside the neck, and an arrow around its end.

    The arrow is the near half of the turn: down where the head end, faced, turns clockwise.
    """
    text, away = scene.look.text, scene.away
    inside = (FRET_RATIO + BOARD_RATIO * 0.5) * text
    neck = slice(now.first, joint + 1)
    within = [(x, y + inside) for x, y in scene.points(now.along_mm[neck], now.board_mm[neck])]
    end = (within[0][0] - away * 1.3 * text, within[0][1])
    sheet.path(polyline([end, *within]), "rod")
    down = (moves[0].way == "tighten") == (away > 0.0)
    sign = 1.0 if down else -1.0
    wide, high = 0.6 * text, 0.95 * text
    sweep = 0 if down == (away > 0.0) else 1
    start, stop = (end[0], end[1] - sign * high), (end[0], end[1] + sign * high)
    turn = f"{number(wide)} {number(high)} 0 0 {sweep} {number(stop[0])} {number(stop[1])}"
    sheet.path(f"M{number(start[0])} {number(start[1])}A{turn}", "move")
    sheet.path(arrow_head((stop[0] + away * 0.6 * text, stop[1]), (away, 0.0), 0.75 * text), "move-head")
    return (end[0], end[1] - high - 0.3 * text)


def _at_heel(sheet: Sheet, scene: Scene, moves: Sequence[Move], now: Profile, joint: int) -> Point:
    text = scene.look.text
    x = scene.x(float(now.along_mm[joint])) - scene.away * 0.9 * text
    y = scene.y(float(now.board_mm[joint])) + (FRET_RATIO + BOARD_RATIO + 0.3) * text
    tail, tip = (y, y + 1.5 * text) if moves[0].way == "down" else (y + 1.5 * text, y)
    draw_arrow(sheet, (x, tail), (x, tip), 0.7 * text)
    return (x, y + 1.6 * text)


_DRAWN = {"saddle": _at_saddle, "nut": _at_nut, "rod": _at_rod, "heel": _at_heel}
