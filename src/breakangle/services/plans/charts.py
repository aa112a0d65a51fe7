"""Charts of a shop's instruments: their history, how low they can go, and the pitch of a take."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from breakangle.drawings.charts.history import VisitPoint
from breakangle.drawings.charts.history import history_chart as drawn_history
from breakangle.drawings.charts.pitch_curve import pitch_chart as drawn_pitch
from breakangle.drawings.charts.trade_off import TradeCurve, TradePoint, trade_off_chart
from breakangle.drawings.look import SCREEN, Drawing, Look
from breakangle.model.errors import CorrectInputError
from breakangle.model.pitch import cents_between
from breakangle.model.words.speech import mark, tr
from breakangle.services.history.timeline import TimelineVisit
from breakangle.services.service_files.lowest import LowestReport

if TYPE_CHECKING:
    from breakangle.listening.pitch.measure import Pitch as MeasuredPitch

CENTS_PER_NEPER = 1200.0 / np.log(2.0)  # exact


def points_of(visits: Sequence[TimelineVisit]) -> tuple[VisitPoint, ...]:
    """Return an instrument's visits, oldest first, as `history_chart` takes them."""
    return tuple(_point(one) for one in visits)


def _point(one: TimelineVisit) -> VisitPoint:
    found, left = one.intonation_found, one.intonation_left
    return VisitPoint(
        on=one.visit.opened_at.date(),
        words=tr("sheet {visit_number}", visit_number=one.visit.number),
        relief_found_mm=one.figures.relief_found_mm,
        relief_left_mm=one.figures.relief_left_mm,
        action_found_mm=one.figures.action_found_mm,
        action_left_mm=one.figures.action_left_mm,
        worst_found_cents=found.cents if found else None,
        worst_left_cents=left.cents if left else None,
        humidity_percent=one.visit.humidity_percent,
        relief_elsewhere_mm=one.figures.relief.elsewhere_mm,
        action_elsewhere_mm=one.figures.action.elsewhere_mm,
    )


def history_chart(timeline: Sequence[VisitPoint], *, name: str = "", look: Look = SCREEN) -> Drawing:
    """Return relief, action, worst note and room humidity over an instrument's visits."""
    return drawn_history(timeline, name=name, look=look)


def trade_chart(reports: Sequence[LowestReport], *, look: Look = SCREEN) -> Drawing:
    """Return the lowest action to set against relief, from `lowest_setup` at one strength or several.

    At one strength the lowest and the highest string have a curve each; at several, each strength has one, of
    the mean over the strings.

    Raises:
        CorrectInputError: no report, or of an instrument without a rod: nothing there trades off.
    """
    known = [one for one in reports if one.trade_to_set]
    if not known:
        possible = tr("reports of an instrument whose rod changes its relief")
        raise CorrectInputError(
            tr("nothing to trade action against"), possible, tr("ask for the lowest set-up alone")
        )
    several, first = len(known) > 1, known[0]
    count = first.lowest_string
    if several:
        curves = [_curve(tr("{strength} play", strength=tr(one.strength)), one, slice(None)) for one in known]
        what, standing, where = tr("all strings"), slice(None), tr("as it stands now")
    else:
        numbers = dict.fromkeys((count, 1))
        curves = [
            _curve(tr("string {number}", number=number), first, slice(number - 1, number))
            for number in numbers
        ]
        what, standing = tr("{strength} play", strength=tr(first.strength)), slice(count - 1, count)
        where = tr("string {count} as it stands now", count=count)
    now = TradePoint(first.now.relief_mm, float(np.mean(first.now.action_mm[standing])))
    title = tr("Lowest action to set, {what}", what=what)
    usual = any(point.at_usual for one in known for point in one.trade_to_set)
    note = tr("level: held by the usual height") if usual else ""
    return trade_off_chart(curves, now=now, now_words=where, title=title, note=note, look=look)


def _curve(words: str, report: LowestReport, strings: slice) -> TradeCurve:
    points = [
        TradePoint(one.relief_mm, float(np.mean(one.action_mm[strings]))) for one in report.trade_to_set
    ]
    return TradeCurve(words, tuple(points))


def pitch_chart(
    found: "MeasuredPitch", note_hz: float, *, title: str = mark("Pitch over time"), look: Look = SCREEN
) -> Drawing:
    """Return a measured take's pitch over time in cents from `note_hz`, with the piece that was used."""
    from breakangle.listening.pitch.glide import pitch_track

    value = cents_between(found.law.partial_one_hz, note_hz)
    time_s, relative, _ = pitch_track(found.bands, found.solution.shape.log_pitch)
    return drawn_pitch(
        time_s,
        value + CENTS_PER_NEPER * relative,
        window_s=found.window_s,
        value_cents=value,
        uncertainty_cents=found.uncertainty_cents,
        title=title,
        look=look,
    )
