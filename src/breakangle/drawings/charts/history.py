"""The history of an instrument: relief, action, worst note and humidity over its visits, one above the other."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from breakangle.drawings.charts.calendar import date_ticks
from breakangle.drawings.charts.plot import (
    AXIS_RATIO,
    Scale,
    draw_rows,
    point,
    row_count,
    scale_over,
    write_value,
)
from breakangle.drawings.figures import cents_number, length_number, plain, unit_word
from breakangle.drawings.key import draw_key
from breakangle.drawings.look import SCREEN, Drawing, Look, Table, TextBox
from breakangle.drawings.sheet import Sheet
from breakangle.drawings.text_width import fitted, text_width
from breakangle.model.measure import INCH_MM
from breakangle.model.words.speech import mark, tr, tr_n

PANEL_RATIO = 7.0
LEFT_RATIO = 3.6
AIR_RATIO = 0.04
FOUND, LEFT = mark("found"), mark("left")
ELSEWHERE = mark("left, read at other places than it was found")


@dataclass(frozen=True)
class VisitPoint:
    """What one visit found and left; None where it was not read. `words` name the visit: `sheet 12`.

    `*_elsewhere_mm`: how it read in the end where only other places were read then, so that found and left do not
    compare; the left one is None there. `worst_*_cents`: the note farthest from where it should be, with its sign.
    """

    on: date
    words: str
    relief_found_mm: float | None = None
    relief_left_mm: float | None = None
    action_found_mm: float | None = None
    action_left_mm: float | None = None
    worst_found_cents: float | None = None
    worst_left_cents: float | None = None
    humidity_percent: float | None = None
    relief_elsewhere_mm: float | None = None
    action_elsewhere_mm: float | None = None


@dataclass(frozen=True)
class _Row:
    """One panel: its name and unit, how its figures are written, and found, left and left elsewhere at each visit."""

    name: str
    unit: str
    ends: tuple[tuple[float | None, float | None, float | None], ...]
    least_span: float

    @property
    def known(self) -> list[float]:
        """Return every value of the panel, in the order of the visits."""
        return [value for ends in self.ends for value in ends if value is not None]

    def figure(self, value: float, units: str) -> str:
        """Return a value as it is written, without its unit."""
        if self.unit == "mm":
            return length_number(value, units)
        return cents_number(value) if self.unit == "cents" else plain(value, 0)

    def shown_unit(self, units: str) -> str:
        """Return the unit the person reads it in."""
        return unit_word(units) if self.unit == "mm" else tr(self.unit)


def _rows(visits: Sequence[VisitPoint]) -> list[_Row]:
    relief = tuple(
        (visit.relief_found_mm, visit.relief_left_mm, visit.relief_elsewhere_mm) for visit in visits
    )
    action = tuple(
        (visit.action_found_mm, visit.action_left_mm, visit.action_elsewhere_mm) for visit in visits
    )
    worst = tuple((visit.worst_found_cents, visit.worst_left_cents, None) for visit in visits)
    air = tuple((visit.humidity_percent, None, None) for visit in visits)
    return [
        _Row(tr("Relief"), "mm", relief, 0.1),
        _Row(tr("Action"), "mm", action, 0.2),
        _Row(tr("Worst note"), "cents", worst, 4.0),
        _Row(tr("Room humidity"), "%", air, 10.0),
    ]


def history_chart(visits: Sequence[VisitPoint], *, name: str = "", look: Look = SCREEN) -> Drawing:
    """Return the history over `visits`, in any order: a panel for each figure that was ever read.

    An open ring is what a visit found, a dot what it left; the line between two visits is what time did, and there
    is none where a visit ended with readings at other places: they do not compare.
    """
    visits = sorted(visits, key=lambda one: _day(one.on))
    sheet, text = Sheet(look), look.text
    margin = 0.6 * text
    left, right = margin + LEFT_RATIO * text, look.width - margin - 0.6 * text
    rows = [one for one in _rows(visits) if one.known]
    days = [_day(visit.on) for visit in visits]
    air = AIR_RATIO * (max(days) - min(days)) + 5.0 if days else 5.0
    across = Scale(min(days, default=1) - air, max(days, default=1) + air, left, right)
    sheet.text((margin, 1.3 * text), fitted(tr("History"), look.width - 2 * margin, text, True), "strong")
    y, points = 2.2 * text, list[dict[str, Any]]()
    for row in rows:
        y = _draw_panel(sheet, row, visits, across, y, points)
    if visits:
        _draw_days(sheet, across, y - 0.4 * text)
    entries = [("ring", tr("as found")), ("dot", tr("as left")), ("leader", tr("from one visit to the next"))]
    y = draw_key(sheet, entries, y + 1.4 * text)
    title = tr("{name}: history", name=name) if name else tr("History")
    return sheet.close(y, title, _description(rows, visits, look.units), _table(visits, look.units), points)


def _day(on: date) -> int:
    return (on.date() if isinstance(on, datetime) else on).toordinal()


def _said(visit: VisitPoint, row: _Row, told: str, how: str) -> str:
    return tr(
        "{day}, {visit}: {what} {told}, as {how}",
        day=_iso(visit.on),
        visit=visit.words,
        what=row.name.lower(),
        told=told,
        how=how,
    )


def _draw_panel(
    sheet: Sheet,
    row: _Row,
    visits: Sequence[VisitPoint],
    across: Scale,
    top: float,
    points: list[dict[str, Any]],
) -> float:
    """Draw one panel from `top` down and return where it ends."""
    look, text = sheet.look, sheet.look.text
    units = look.units
    per = INCH_MM if row.unit == "mm" and units == "inch" else 1.0
    sheet.text((across.start - LEFT_RATIO * text, top + text), f"{row.name}, {row.shown_unit(units)}", "text")
    named = sheet.boxes[-1]
    first, last = top + 2.4 * text, top + (1.6 + PANEL_RATIO) * text
    known = [value / per for value in row.known]
    most = row_count(last - first, text)
    up = scale_over(known, last, first, most, row.least_span / per)
    draw_rows(sheet, up, across.start, across.end, most)
    taken: list[TextBox] = [named]
    before: tuple[float, float] | None = None
    marks = []
    for visit, (found, left, elsewhere) in zip(visits, row.ends, strict=True):
        x = across.at(_day(visit.on))
        ends = [(FOUND, found), (LEFT, left if left != found else None), (ELSEWHERE, elsewhere)]
        for how, value in ends:
            if value is None:
                continue
            at = (x, up.at(value / per))
            if before is not None and how != ELSEWHERE:
                sheet.line(before, at, "leader" if how == FOUND or before[0] != x else "rule")
            before = at if how != ELSEWHERE else None
            marks.append((at, row.figure(value, units), how if row.unit != "%" else LEFT))
            told = f"{row.figure(value, units)} {row.shown_unit(units)}"
            points.append(point(at, _said(visit, row, told, how)))
    _draw_marks(sheet, marks, (across.start, across.end), taken)
    return last + 1.3 * text


def _draw_marks(
    sheet: Sheet,
    marks: Sequence[tuple[tuple[float, float], str, str]],
    edges: tuple[float, float],
    taken: list[TextBox],
) -> None:
    """Draw the points, and write the newest figures first, as long as there is room."""
    radius = 0.3 * sheet.look.text
    taken += [TextBox("", x - radius, y - radius, x + radius, y + radius) for (x, y), _, _ in marks]
    for at, _, how in marks:
        sheet.circle(at, radius, "mark-open" if how == "found" else "mark")
    for at, figure, _ in reversed(marks):
        write_value(sheet, at, figure, edges, taken)


def _draw_days(sheet: Sheet, across: Scale, top: float) -> None:
    size = AXIS_RATIO * sheet.look.text
    for day, words in date_ticks(int(across.low), int(across.high), across.end - across.start, size):
        x = across.at(day)
        sheet.line((x, top - 0.4 * size), (x, top), "rule")
        half = text_width(words, size) / 2.0
        if half <= x <= sheet.look.width - half:
            sheet.text((x, top + 1.2 * size), words, "quiet", "middle", size)
    sheet.line((across.start, top - 0.4 * size), (across.end, top - 0.4 * size), "rule")


def _iso(on: date) -> str:
    return (on.date() if isinstance(on, datetime) else on).isoformat()


def _description(rows: Sequence[_Row], visits: Sequence[VisitPoint], units: str) -> str:
    if not visits:
        return tr("No visit yet.")
    parts = [
        tr_n(
            "{visits_count} visit from {iso} to {iso_2}.",
            "{visits_count} visits from {iso} to {iso_2}.",
            len(visits),
            visits_count=len(visits),
            iso=_iso(visits[0].on),
            iso_2=_iso(visits[-1].on),
        )
    ]
    for row in rows:
        low, high = row.figure(min(row.known), units), row.figure(max(row.known), units)
        now = row.figure(row.known[-1], units)
        parts.append(
            tr(
                "{row_name}: from {low} to {high} {shown_unit}, last {now}.",
                row_name=row.name,
                low=low,
                high=high,
                shown_unit=row.shown_unit(units),
                now=now,
            )
        )
    return " ".join(parts)


def _table(visits: Sequence[VisitPoint], units: str) -> Table:
    rows = _rows(visits)
    head = [tr("Day"), tr("Visit")]
    for row in rows:
        head += (
            [f"{row.name} {how}, {row.shown_unit(units)}" for how in map(tr, (FOUND, LEFT))]
            if row.unit != "%"
            else [f"{row.name}, %"]
        )
    body = []
    for index, visit in enumerate(visits):
        line = [_iso(visit.on), visit.words]
        for row in rows:
            found, left, elsewhere = (
                "" if end is None else row.figure(end, units) for end in row.ends[index]
            )
            ends = [found, tr("{elsewhere} (other places)", elsewhere=elsewhere) if elsewhere else left]
            line += ends if row.unit != "%" else ends[:1]
        body.append(tuple(line))
    return Table(tr("The history in numbers"), tuple(head), tuple(body))
