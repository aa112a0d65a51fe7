"""Signs drawn beside figures, told apart by shape: triangles up and down, open or filled, ring, dot, cross."""

from collections.abc import Iterable

from breakangle.drawings.sheet import Point, Sheet, number, polyline

Placed = tuple[str, Point]
_INKS = {"up": "mark", "down": "mark", "dot": "mark", "square": "mark", "cross": "cross"}


def draw_sign(sheet: Sheet, sign: str, at: Point, size: float) -> None:
    """Draw one sign, `size` wide, around `at`."""
    draw_signs(sheet, [(sign, at)], size)


def draw_signs(sheet: Sheet, signs: Iterable[Placed], size: float) -> None:
    """Draw many signs, all `size` wide, those of one kind in one go."""
    by_ink: dict[str, list[str]] = {}
    for sign, at in signs:
        if sign:
            by_ink.setdefault(_INKS.get(sign, "mark-open"), []).append(_outline(sign, at, size))
    for ink, outlines in by_ink.items():
        sheet.path("".join(outlines), ink)


def _outline(sign: str, at: Point, size: float) -> str:
    (x, y), half = at, size / 2.0
    if sign == "cross":
        strokes = [[(x - half, y - half), (x + half, y + half)], [(x - half, y + half), (x + half, y - half)]]
        return "".join(polyline(stroke) for stroke in strokes)
    if sign in ("ring", "dot"):
        r = number(half * 0.9)
        across = number(half * 1.8)
        return f"M{number(x - half * 0.9)} {number(y)}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0"
    if sign == "square":
        side = 0.42 * size
        return polyline(
            [(x - side, y - side), (x + side, y - side), (x + side, y + side), (x - side, y + side)], True
        )
    tip = -half if sign.startswith("up") else half
    return polyline([(x, y + tip), (x + half, y - tip), (x - half, y - tip)], True)
