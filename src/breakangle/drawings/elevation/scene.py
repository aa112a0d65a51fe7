"""The field of an elevation: what is drawn where, how far heights are exaggerated, and its outlines."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.drawings.elevation.profile import Profile
from breakangle.drawings.look import Look
from breakangle.drawings.sheet import Point, Sheet, polyline

Array = NDArray[np.float64]
EXAGGERATIONS = (5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150, 200, 300)
FIELD_RATIO, LOWEST_FIELD, HIGHEST_FIELD = 0.24, 11.0, 19.0
"""Height of the field: of the drawing's width, and in sizes of text at least and at most."""
FRET_RATIO, BOARD_RATIO, BODY_RATIO = 0.75, 1.6, 1.8
"""Fret height, thickness of the neck and depth of the body shown, in sizes of text: outlines only."""

BRIDGE_RATIO = 1.5
"""Height of bridge and saddle together, in sizes of text; the body is drawn up to its foot."""
TORN = ((0.0, 0.0), (0.3, 1.0), (0.6, -1.0), (1.0, 0.0))
"""The edge where the body is broken off: share of its depth, and how far to either side."""

LEAST_SEEN = 0.8


@dataclass(frozen=True)
class Scene:
    """How mm become units of the drawing: x from the nut, y from the field's top `top_y`."""

    look: Look
    left_x: float
    right_x: float
    saddle_mm: float
    exaggeration: int
    top_mm: float
    bottom_mm: float
    top_y: float

    @property
    def along_scale(self) -> float:
        """Return units of the drawing per mm along the string."""
        return (self.right_x - self.left_x) / self.saddle_mm

    @property
    def up_scale(self) -> float:
        """Return units of the drawing per mm of height."""
        return self.along_scale * self.exaggeration

    def x(self, along_mm: float) -> float:
        """Return the place of something `along_mm` from the nut."""
        inward = along_mm * self.along_scale
        return self.right_x - inward if self.look.left_handed else self.left_x + inward

    def y(self, height_mm: float) -> float:
        """Return the place of something `height_mm` above the level, kept inside the field."""
        return self.top_y + (self.top_mm - min(max(height_mm, self.bottom_mm), self.top_mm)) * self.up_scale

    @property
    def bottom_y(self) -> float:
        """Return where the lowest crown may stand."""
        return self.top_y + (self.top_mm - self.bottom_mm) * self.up_scale

    @property
    def away(self) -> float:
        """Return the direction away from the nut: 1 to the right, -1 to the left."""
        return -1.0 if self.look.left_handed else 1.0

    def points(self, along_mm: Array, height_mm: Array) -> list[Point]:
        """Return a curve of heights as points, without what is not known."""
        return [
            (self.x(float(x)), self.y(float(y)))
            for x, y in zip(along_mm, height_mm, strict=True)
            if np.isfinite(y)
        ]


def span_mm(profiles: Sequence[Profile]) -> tuple[float, float]:
    """Return the lowest crown and the highest string of all profiles, in mm over the level."""
    low = min(float(np.min(profile.crown_mm[1:-1])) for profile in profiles)
    high = max(float(np.nanmax(profile.string_mm)) for profile in profiles)
    return low, max(high, low + 0.2)


def exaggeration_of(look: Look, along_scale: float, span: float) -> int:
    """Return the largest round exaggeration at which `span` mm of height fits the field."""
    most = min(max(FIELD_RATIO * look.width, LOWEST_FIELD * look.text), HIGHEST_FIELD * look.text)
    fitting = [exaggeration for exaggeration in EXAGGERATIONS if exaggeration * along_scale * span <= most]
    return fitting[-1] if fitting else EXAGGERATIONS[0]


def draw_ground(sheet: Sheet, scene: Scene, now: Profile, joint: int) -> None:
    """Draw neck, body and bridge in outline, the frets, nut and saddle as they stand now."""
    text = scene.look.text
    fret, board = FRET_RATIO * text, BOARD_RATIO * text
    frets = len(now.along_mm) - 2
    top = [(x, y + fret) for x, y in scene.points(now.along_mm[: frets + 1], now.board_mm[: frets + 1])]
    end = (scene.x(float(now.along_mm[frets]) + 4.0), top[-1][1])
    top = [*top, end]
    body_y = max(y for _, y in top[joint:]) + board
    foot_y = min(scene.y(now.point_mm(-1)) + BRIDGE_RATIO * text, body_y)
    _draw_body(sheet, scene, scene.x(float(now.along_mm[joint])), (end[0], body_y), now, foot_y)
    sheet.path(polyline([*top, *((x, y + board) for x, y in reversed(top))], True), "wood")
    with sheet.group("fret"):
        for index in range(1, frets + 1):
            x = scene.x(float(now.along_mm[index]))
            base = scene.y(float(now.board_mm[index])) + fret
            sheet.line((x, scene.y(float(now.crown_mm[index]))), (x, base))
    _draw_nut(sheet, scene, now, top)
    _draw_saddle(sheet, scene, now, foot_y)


def _draw_nut(sheet: Sheet, scene: Scene, now: Profile, top: list[Point]) -> None:
    """Draw the string's nut: a block under its support, as far down as the board."""
    text, first = scene.look.text, now.first
    x, y = scene.x(float(now.along_mm[first])), scene.y(now.point_mm(first))
    width = -scene.away * (0.7 if first == 0 else 0.4) * text
    base = top[first][1]
    sheet.path(polyline([(x, y), (x + width, y + 0.18 * text), (x + width, base), (x, base)], True), "part")


def _draw_body(sheet: Sheet, scene: Scene, heel_x: float, end: Point, now: Profile, foot_y: float) -> None:
    """Draw the body at the heel as far as the neck's end `end`, and again under the bridge, whose foot is at `foot_y`.

    Heights are exaggerated many times over, so the whole of it would make a tower of the bridge: it is broken off.
    """
    text, away = scene.look.text, scene.away
    depth, saddle_x = BODY_RATIO * text, scene.x(now.saddle_along_mm)
    far = saddle_x + away * 2.6 * text
    if end[1] - foot_y < text:
        corners = [(heel_x, end[1]), (far, end[1]), (far, end[1] + depth), (heel_x, end[1] + depth)]
        sheet.path(polyline(corners, True), "body")
        return
    broken_x = min(end[0] * away, (saddle_x - away * 3.0 * text) * away) * away + away * 0.6 * text
    for whole_x, torn_x, top_y, down in (
        (heel_x, broken_x, end[1], depth),
        (far, saddle_x - away * 2.4 * text, foot_y, 0.8 * text),
    ):
        torn = [(torn_x + dx * 0.3 * text, top_y + share * down) for share, dx in TORN]
        sheet.path(polyline([(whole_x, top_y + down), (whole_x, top_y), *torn], True), "body")


def _draw_saddle(sheet: Sheet, scene: Scene, now: Profile, foot_y: float) -> None:
    """Draw the bridge as the low block it is, and the saddle that stands out of it with its crown."""
    text, away = scene.look.text, scene.away
    x, y = scene.x(now.saddle_along_mm), scene.y(now.point_mm(-1))
    block_y = max(foot_y - 0.6 * text, y + 0.3 * text)
    block = [(x - away * 1.1 * text, block_y), (x + away * 1.3 * text, block_y)]
    block += [(x + away * 1.7 * text, foot_y), (x - away * 1.5 * text, foot_y)]
    saddle = [(x - away * 0.3 * text, block_y), (x - away * 0.3 * text, y + 0.15 * text), (x, y)]
    saddle += [(x + away * 0.3 * text, y + 0.15 * text), (x + away * 0.3 * text, block_y)]
    sheet.path(polyline(block, True), "wood")
    sheet.path(polyline(saddle, True), "part")


def string_points(scene: Scene, shown: Profile) -> list[Point]:
    """Return the string from its nut to its saddle, with what little is seen of it beyond."""
    known = np.isfinite(shown.string_mm)
    along = shown.along_mm.copy()
    along[-1] = shown.saddle_along_mm
    return scene.points(along[known], shown.string_mm[known])


def draw_string(sheet: Sheet, scene: Scene, now: Profile) -> None:
    """Draw the string as it is, its band, and its ends down behind nut and saddle."""
    text, away = scene.look.text, scene.away
    points = string_points(scene, now)
    known = np.isfinite(now.string_mm)
    along, middle, half = now.along_mm[known], now.string_mm[known], now.band_mm[known]
    upper, lower = scene.points(along, middle + half), scene.points(along, middle - half)
    sheet.path(polyline([*upper, *reversed(lower)], True), "band")
    start, end = points[0], points[-1]
    before = [(start[0] - away * 1.9 * text, start[1] + 0.9 * text)] if now.first == 0 else []
    behind = (end[0] + away * 1.9 * text, end[1] + 1.5 * text)
    sheet.path(polyline([*before, *points, behind]), "string")
    with sheet.group("mark-open"):
        for fret in now.resting:
            at = (scene.x(float(now.along_mm[fret])), scene.y(float(now.crown_mm[fret])))
            sheet.circle(at, 0.4 * text)


def crowns_move(after: Profile, now: Profile, scene: Scene) -> bool:
    """Return whether the crowns move so far that it can be seen."""
    moved_mm = np.max(np.abs(after.crown_mm[1:-1] - now.crown_mm[1:-1]))
    return bool(moved_mm * scene.up_scale > LEAST_SEEN)


def draw_after(sheet: Sheet, scene: Scene, after: Profile, now: Profile) -> None:
    """Draw crowns, nut, saddle and string as they would stand afterwards, dashed."""
    text, away = scene.look.text, scene.away
    frets = len(after.along_mm) - 2
    if crowns_move(after, now, scene):
        sheet.path(
            polyline(scene.points(after.along_mm[1 : frets + 1], after.crown_mm[1 : frets + 1])), "fret-after"
        )
    sheet.path(polyline(string_points(scene, after)), "string-after")
    x, y = scene.x(after.saddle_along_mm), scene.y(after.point_mm(-1))
    foot, down = 0.45 * text, 0.9 * text
    sheet.path(polyline([(x - away * foot, y + down), (x, y), (x + away * foot, y + down)]), "part-after")
