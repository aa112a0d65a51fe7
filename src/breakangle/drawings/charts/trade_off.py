"""The lowest action to set against relief, a curve for each strength of play, and where it stands now."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from breakangle.drawings.charts.plot import (
    AXIS_RATIO,
    Scale,
    draw_columns,
    draw_rows,
    point,
    row_count,
    scale_over,
)
from breakangle.drawings.figures import length_number, unit_word
from breakangle.drawings.key import draw_key
from breakangle.drawings.look import SCREEN, Drawing, Look, Table
from breakangle.drawings.sheet import Point, Sheet, legible, polyline
from breakangle.drawings.signs import draw_sign
from breakangle.drawings.text_width import fitted
from breakangle.model.measure import INCH_MM
from breakangle.model.words.speech import mark, tr

FIELD_RATIO = 18.0
SAME_MM = 0.005  # less than that no gauge of the bench tells apart; common practice, no source
CURVES = ("curve-1", "curve-2", "curve-3", "curve-4")


@dataclass(frozen=True)
class TradePoint:
    """One set-up: its relief and its action, in mm."""

    relief_mm: float
    action_mm: float


@dataclass(frozen=True)
class TradeCurve:
    """The lowest set-ups along relief, for one strength of play or one string: `words` name it."""

    words: str
    points: tuple[TradePoint, ...]


def trade_off_chart(
    curves: Sequence[TradeCurve],
    *,
    now: TradePoint | None = None,
    now_words: str = mark("as it stands now"),
    title: str = mark("Lowest action to set"),
    note: str = "",
    look: Look = SCREEN,
) -> Drawing:
    """Return the curves of lowest action over relief; `now`: where it stands, a cross; `note`: under the key."""
    sheet, text = Sheet(look), look.text
    margin = 0.6 * text
    per = INCH_MM if look.units == "inch" else 1.0
    unit = unit_word(look.units)
    every = [one for curve in curves for one in curve.points] + ([now] if now else [])
    sheet.text((margin, 1.3 * text), fitted(legible(title), look.width - 2 * margin, text, True), "strong")
    sheet.text((margin, 2.9 * text), tr("action, {unit}", unit=unit), "quiet", size=AXIS_RATIO * text)
    top, bottom = 4.0 * text, (4.0 + FIELD_RATIO) * text
    left, right = margin + 3.6 * text, look.width - margin - text
    most = row_count(bottom - top, text)
    up = scale_over([one.action_mm / per for one in every], bottom, top, most, 0.2 / per)
    across = scale_over([one.relief_mm / per for one in every], left, right, 8, 0.2 / per)
    draw_rows(sheet, up, left, right, most)
    draw_columns(sheet, across, top, bottom)
    sheet.text(
        (right, bottom + 2.9 * text), tr("relief, {unit}", unit=unit), "quiet", "end", AXIS_RATIO * text
    )
    points: list[dict[str, Any]] = []
    for ink, curve in zip(CURVES, curves, strict=False):
        places = [_at(across, up, one, per) for one in curve.points]
        _draw_curve(sheet, places, ink)
        points += [
            point(at, _said(curve.words, one, look)) for at, one in zip(places, curve.points, strict=True)
        ]
    if now is not None:
        at = _at(across, up, now, per)
        draw_sign(sheet, "cross", at, 0.9 * text)
        points.append(point(at, _said(tr("now"), now, look)))
    y = draw_key(sheet, _key(curves, now_words if now is not None else "", note), bottom + 3.5 * text)
    return sheet.close(y, title, _description(curves, now, note, look), _table(curves, now, look), points)


def _key(curves: Sequence[TradeCurve], now_words: str, note: str) -> list[tuple[str, str]]:
    """Return the key's signs with their words; `now_words` and `note` empty: none."""
    named = [(ink, curve.words) for ink, curve in zip(CURVES, curves, strict=False)]
    return [*named, *(one for one in (("cross", now_words), ("", note)) if one[1])]


def _draw_curve(sheet: Sheet, places: Sequence[Point], ink: str) -> None:
    if len(places) == 1:  # a rod that turns neither way: a line would show nothing
        sheet.circle(places[0], 0.35 * sheet.look.text, ink)
    elif places:
        sheet.path(polyline(places), ink)


def _at(across: Scale, up: Scale, one: TradePoint, per: float) -> Point:
    return (across.at(one.relief_mm / per), up.at(one.action_mm / per))


def _said(words: str, one: TradePoint, look: Look) -> str:
    relief, action = length_number(one.relief_mm, look.units), length_number(one.action_mm, look.units)
    unit = unit_word(look.units)
    return tr(
        "{words}: relief {relief} {unit}, action {action} {unit}",
        words=words,
        relief=relief,
        unit=unit,
        action=action,
    )


def _description(curves: Sequence[TradeCurve], now: TradePoint | None, note: str, look: Look) -> str:
    parts = [tr("Lowest, {said}.", said=_lowest_said(one, look)) for one in curves if one.points]
    parts += [f"{_said(tr('Now'), now, look)}."] if now is not None else []
    parts = parts or [tr("No set-up is free of buzz.")]
    return " ".join([*parts, _sentence(note)] if note else parts)


def _lowest_said(curve: TradeCurve, look: Look) -> str:
    """Return where a curve is lowest, in words: at one relief, or over a range of them."""
    least = min(one.action_mm for one in curve.points)
    best = [one for one in curve.points if one.action_mm < least + SAME_MM]
    if len(best) == 1:
        return _said(curve.words, best[0], look)
    return tr(
        "{words}: relief {relief} to {to_relief} {unit}, action {action} {unit}",
        words=curve.words,
        relief=length_number(best[0].relief_mm, look.units),
        to_relief=length_number(best[-1].relief_mm, look.units),
        unit=unit_word(look.units),
        action=length_number(least, look.units),
    )


def _sentence(note: str) -> str:
    return f"{note[0].upper()}{note[1:]}."


def _table(curves: Sequence[TradeCurve], now: TradePoint | None, look: Look) -> Table:
    unit = unit_word(look.units)
    reliefs = sorted({round(one.relief_mm, 4) for curve in curves for one in curve.points})
    by_curve = [{round(one.relief_mm, 4): one.action_mm for one in curve.points} for curve in curves]
    rows = [
        (
            length_number(relief, look.units),
            *(length_number(known[relief], look.units) if relief in known else "" for known in by_curve),
        )
        for relief in reliefs
    ]
    head = (
        tr("Relief, {unit}", unit=unit),
        *(tr("Action, {curve_words}, {unit}", curve_words=curve.words, unit=unit) for curve in curves),
    )
    caption = tr("The lowest action to set")
    if now is not None:
        caption += f"; {_said('now', now, look)}"
    return Table(caption, head, tuple(rows))
