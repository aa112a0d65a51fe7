"""Values at whole places along a line, a row for each series: notes along a neck, strings of a set, notes of a body."""

from collections.abc import Sequence
from dataclasses import dataclass

from breakangle.drawings.charts.plot import AXIS_RATIO, draw_columns, draw_rows, point, row_count, scale_over
from breakangle.drawings.figures import plain
from breakangle.drawings.key import draw_key
from breakangle.drawings.look import SCREEN, Drawing, Look, Table
from breakangle.drawings.sheet import Sheet, legible, polyline
from breakangle.drawings.text_width import fitted
from breakangle.model.words.speech import tr

FIELD_RATIO, MOST_SERIES = 12.0, 4


@dataclass(frozen=True)
class Series:
    """One line of dots: its name, places across and values, and places to be marked as out of order."""

    name: str
    across: tuple[float, ...]
    values: tuple[float, ...]
    marked: frozenset[float] = frozenset()


@dataclass(frozen=True)
class Axes:
    """What a chart is of: title, what stands across and up with their units, decimals of the values."""

    title: str
    across: str
    up: str
    decimals: int = 1


def dots_chart(series: Sequence[Series], axes: Axes, look: Look = SCREEN) -> Drawing:
    """Return the series as lines with dots; a marked dot has a ring about it, and every value stands in the table."""
    sheet, text = Sheet(look), look.text
    margin = 0.6 * text
    title = fitted(legible(axes.title), look.width - 2 * margin, text, True)
    sheet.text((margin, 1.3 * text), title, "strong")
    sheet.text((margin, 2.9 * text), axes.up, "quiet", size=AXIS_RATIO * text)
    top, bottom = 4.0 * text, (4.0 + FIELD_RATIO) * text
    left, right = margin + 3.6 * text, look.width - margin - text
    most = row_count(bottom - top, text)
    values = [value for one in series for value in one.values]
    places = [place for one in series for place in one.across]
    up, across = scale_over(values, bottom, top, most, 1.0), scale_over(places, left, right, 8, 1.0)
    draw_rows(sheet, up, left, right, most)
    draw_columns(sheet, across, top, bottom)
    sheet.text((right, bottom + 2.9 * text), axes.across, "quiet", "end", AXIS_RATIO * text)
    points = []
    for number, one in enumerate(series):
        dots = [(across.at(x), up.at(y)) for x, y in zip(one.across, one.values, strict=True)]
        if len(dots) > 1:
            sheet.path(polyline(dots), f"curve-{number % MOST_SERIES + 1}")
        for at, x, y in zip(dots, one.across, one.values, strict=True):
            if x in one.marked:
                sheet.circle(at, 0.5 * text, "mark")
            points.append(point(at, f"{one.name}, {plain(x, 0)}: {plain(y, axes.decimals)}"))
    entries = [(f"curve-{number % MOST_SERIES + 1}", one.name) for number, one in enumerate(series)]
    y = draw_key(sheet, entries, bottom + 3.5 * text)
    return sheet.close(y, axes.title, _description(series, axes), _table(series, axes), points)


def _description(series: Sequence[Series], axes: Axes) -> str:
    marked = [f"{one.name}, {plain(x, 0)}" for one in series for x in sorted(one.marked)]
    told = tr("{up} against {across}.", up=axes.up, across=axes.across)
    return tr("{told} Marked: {marked}.", told=told, marked="; ".join(marked)) if marked else told


def _table(series: Sequence[Series], axes: Axes) -> Table:
    rows = tuple(
        (one.name, plain(x, 0), plain(y, axes.decimals))
        for one in series
        for x, y in zip(one.across, one.values, strict=True)
    )
    return Table(axes.title, (tr("Of"), axes.across, axes.up), rows)
