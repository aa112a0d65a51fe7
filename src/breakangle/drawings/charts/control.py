"""A control chart: single values between their limits, and below them the two sums of a CUSUM against its decision."""

from collections.abc import Sequence
from dataclasses import dataclass

from breakangle.drawings.charts.plot import (
    AXIS_RATIO,
    Scale,
    draw_columns,
    draw_rows,
    point,
    row_count,
    scale_over,
)
from breakangle.drawings.figures import plain
from breakangle.drawings.key import draw_key
from breakangle.drawings.look import SCREEN, Drawing, Look, Table
from breakangle.drawings.sheet import Sheet, legible, polyline
from breakangle.drawings.text_width import fitted
from breakangle.model.words.speech import tr

VALUES_RATIO, SUMS_RATIO, GAP_RATIO = 11.0, 7.0, 3.4
MOST_ROWS = 40
DECIMALS = {"mm": 3, "cents": 1}


@dataclass(frozen=True)
class Control:
    """What a chart shows, in the order things were made.

    `values`, with `centre` and `limit` (how far from it a single value may lie) in `unit`; `above` and `below`, the
    CUSUM's sums, and its `decision`, in standard deviations; `outside`: which values lie outside; `names` of the items;
    `alarm`, `since`: places of the first alarm and of where that most likely began, None where there is none.
    """

    title: str
    unit: str
    names: Sequence[str]
    values: Sequence[float]
    centre: float
    limit: float
    outside: Sequence[bool]
    above: Sequence[float]
    below: Sequence[float]
    decision: float
    alarm: int | None = None
    since: int | None = None


def control_chart(given: Control, look: Look = SCREEN) -> Drawing:
    """Return the chart of one quantity."""
    sheet, text = Sheet(look), look.text
    margin = 0.6 * text
    left, right = margin + 4.2 * text, look.width - margin - text
    sheet.text(
        (margin, 1.3 * text), fitted(legible(given.title), look.width - 2 * margin, text, True), "strong"
    )
    sheet.text(
        (margin, 2.9 * text),
        tr("{unit} from what is wanted", unit=given.unit),
        "quiet",
        size=AXIS_RATIO * text,
    )
    across = Scale(0.5, len(given.values) + 0.5, left, right)
    top, bottom = 4.0 * text, (4.0 + VALUES_RATIO) * text
    _since(sheet, given, across, top, bottom)
    places = _values(sheet, given, across, (top, bottom))
    top = bottom + GAP_RATIO * text
    bottom = top + SUMS_RATIO * text
    sheet.text(
        (margin, top - 0.8 * text), tr("sums, in standard deviations"), "quiet", size=AXIS_RATIO * text
    )
    _sums(sheet, given, across, (top, bottom))
    draw_columns(sheet, across, top, bottom)
    sheet.text(
        (right, bottom + 2.9 * text), tr("in the order they were made"), "quiet", "end", AXIS_RATIO * text
    )
    entries = [("curve-1", tr("value; sum above")), ("curve-2", "limits"), ("curve-3", tr("sum below"))]
    if given.since is not None:
        entries.append(("window", tr("since it most likely began")))
    y = draw_key(sheet, entries, bottom + 3.5 * text)
    points = [
        point(at, f"{name}: {_said(value, given.unit)}")
        for at, name, value in zip(places, given.names, given.values, strict=True)
    ]
    return sheet.close(y, given.title, _description(given), _table(given), points)


def _since(sheet: Sheet, given: Control, across: Scale, top: float, bottom: float) -> None:
    if given.since is not None:
        start = across.at(given.since + 0.5)
        sheet.rect(start, top, across.end - start, bottom - top, "window")


def _values(
    sheet: Sheet, given: Control, across: Scale, room: tuple[float, float]
) -> list[tuple[float, float]]:
    """Draw single values between their limits, and a ring around each that lies outside; return their places."""
    top, bottom = room
    most = row_count(bottom - top, sheet.look.text)
    edges = (given.centre - given.limit, given.centre + given.limit)
    up = scale_over([*given.values, *edges], bottom, top, most, 1e-3)
    draw_rows(sheet, up, across.start, across.end, most)
    sheet.line((across.start, up.at(given.centre)), (across.end, up.at(given.centre)), "rule")
    for edge in edges:
        sheet.line((across.start, up.at(edge)), (across.end, up.at(edge)), "curve-2")
    places = [(across.at(place), up.at(value)) for place, value in enumerate(given.values, 1)]
    if len(places) > 1:
        sheet.path(polyline(places), "curve-1")
    for at, out in zip(places, given.outside, strict=True):
        if out:
            sheet.circle(at, 0.4 * sheet.look.text, "mark-open")
    return places


def _sums(sheet: Sheet, given: Control, across: Scale, room: tuple[float, float]) -> None:
    top, bottom = room
    most = row_count(bottom - top, sheet.look.text)
    up = scale_over([0.0, *given.above, *given.below, given.decision], bottom, top, most, 1.0)
    draw_rows(sheet, up, across.start, across.end, most)
    sheet.line((across.start, up.at(given.decision)), (across.end, up.at(given.decision)), "curve-2")
    for sums, ink in ((given.above, "curve-1"), (given.below, "curve-3")):
        places = [(across.at(place), up.at(value)) for place, value in enumerate(sums, 1)]
        if len(places) > 1:
            sheet.path(polyline(places), ink)


def _said(value: float, unit: str) -> str:
    return f"{plain(value, DECIMALS.get(unit, 2))} {unit}"


def _description(given: Control) -> str:
    around = f"{_said(given.centre, given.unit)} ± {_said(given.limit, given.unit)}"
    steady = tr("{values_count} values, {around} while steady", values_count=len(given.values), around=around)
    if given.alarm is None or given.since is None:
        return tr("{steady}; nothing has drifted.", steady=steady)
    return tr(
        "{steady}; an alarm at {names}, most likely since {names_2}.",
        steady=steady,
        names=given.names[given.alarm],
        names_2=given.names[given.since],
    )


def _table(given: Control) -> Table:
    """Return the last values as numbers."""
    first = max(0, len(given.values) - MOST_ROWS)
    rows = tuple(
        (given.names[n], plain(given.values[n], DECIMALS.get(given.unit, 2)), plain(given.above[n], 1),
         plain(given.below[n], 1), "yes" if given.outside[n] else "")
        for n in range(first, len(given.values))
    )  # fmt: skip
    return Table(
        tr("{given_title}: the last {rows_count}", given_title=given.title, rows_count=len(rows)),
        ("item", given.unit, tr("sum above"), tr("sum below"), "outside"),
        rows,
    )
