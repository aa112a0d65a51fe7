"""The pitch of one take over time, with the piece of it that was used and what came out."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.drawings.charts.plot import (
    AXIS_RATIO,
    draw_columns,
    draw_rows,
    point,
    row_count,
    scale_over,
)
from breakangle.drawings.figures import cents_number, plain
from breakangle.drawings.key import draw_key
from breakangle.drawings.look import SCREEN, Drawing, Look, Table
from breakangle.drawings.sheet import Sheet, legible, polyline
from breakangle.drawings.text_width import fitted
from breakangle.model.words.speech import mark, tr

Array = NDArray[np.float64]
FIELD_RATIO, MOST_POINTS, MOST_ROWS = 14.0, 360, 24


def _said(time_s: float, cents: float) -> str:
    return tr("{time} s: {cents} cents", time=plain(time_s, 2), cents=cents_number(cents))


def pitch_chart(
    time_s: Sequence[float] | Array,
    cents: Sequence[float] | Array,
    *,
    window_s: tuple[float, float],
    value_cents: float,
    uncertainty_cents: float,
    title: str = mark("Pitch over time"),
    look: Look = SCREEN,
) -> Drawing:
    """Return the pitch of a take, in cents from its note, over the seconds after the pluck.

    Args:
        time_s: times after the pluck in s, rising.
        cents: pitch at each time in cents from the note; NaN where nothing was heard.
        window_s: the piece that was used.
        value_cents: what came out, with `uncertainty_cents`, one standard deviation.
        title: what it is a take of.
        look: width, size of text, page or paper.
    """
    times, pitch = _thinned(np.asarray(time_s, dtype=float), np.asarray(cents, dtype=float))
    sheet, text = Sheet(look), look.text
    margin = 0.6 * text
    sheet.text((margin, 1.3 * text), fitted(legible(title), look.width - 2 * margin, text, True), "strong")
    sheet.text((margin, 2.9 * text), tr("cents from the note"), "quiet", size=AXIS_RATIO * text)
    top, bottom = 4.0 * text, (4.0 + FIELD_RATIO) * text
    left, right = margin + 3.6 * text, look.width - margin - text
    most = row_count(bottom - top, text)
    up = scale_over([*map(float, pitch), value_cents], bottom, top, most, 1.0)
    across = scale_over([0.0, *map(float, times), *window_s], left, right, 8, 0.1)
    start, end = across.at(window_s[0]), across.at(window_s[1])
    sheet.rect(start, top, end - start, bottom - top, "window")
    draw_rows(sheet, up, left, right, most)
    draw_columns(sheet, across, top, bottom)
    sheet.text((right, bottom + 2.9 * text), tr("seconds after the pluck"), "quiet", "end", AXIS_RATIO * text)
    places = [(across.at(float(x)), up.at(float(y))) for x, y in zip(times, pitch, strict=True)]
    if len(places) > 1:
        sheet.path(polyline(places), "curve-1")
    sheet.line((start, up.at(value_cents)), (end, up.at(value_cents)), "curve-2")
    spread = plain(max(2.0 * uncertainty_cents, 0.1), 1)
    told = tr("{cents} ± {spread} cents", cents=cents_number(value_cents), spread=spread)
    came_out = tr("what came out: {told}", told=told)
    entries = [("curve-1", tr("pitch")), ("window", tr("the piece used")), ("curve-2", came_out)]
    y = draw_key(sheet, entries, bottom + 3.5 * text)
    window = tr("{start} to {end} s", start=plain(window_s[0], 2), end=plain(window_s[1], 2))
    used = mark("Used: {window} after the pluck. What came out: {told} from the note.")
    description = tr(used, window=window, told=told)
    points = [point(at, _said(float(x), float(c))) for at, x, c in zip(places, times, pitch, strict=True)]
    return sheet.close(y, title, description, _table(times, pitch, window, told), points)


def _thinned(times: Array, pitch: Array) -> tuple[Array, Array]:
    """Return at most MOST_POINTS of the points that are known: medians of neighbours."""
    known = np.isfinite(times) & np.isfinite(pitch)
    times, pitch = times[known], pitch[known]
    if len(times) <= MOST_POINTS:
        return times, pitch
    parts = np.array_split(np.arange(len(times)), MOST_POINTS)
    return (
        np.array([np.median(times[part]) for part in parts]),
        np.array([np.median(pitch[part]) for part in parts]),
    )


def _table(times: Array, pitch: Array, window: str, told: str) -> Table:
    count = min(len(times), MOST_ROWS)
    chosen = np.unique(np.linspace(0, max(len(times) - 1, 0), count).round().astype(int))
    rows = tuple((plain(float(times[i]), 2), cents_number(float(pitch[i]))) for i in chosen)
    return Table(
        tr("Pitch over time; used {window}: {told}", window=window, told=told),
        (tr("Seconds after the pluck"), tr("Cents from the note")),
        rows,
    )
