"""Charts of a shop's instruments: their history, how low they can go, and the pitch of a take."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from breakangle.desk.buzz import LowestReport
from breakangle.desk.shop_drift import SeasonFigures, season_figures
from breakangle.desk.shop_readings import service_of
from breakangle.desk.shop_visits import history
from breakangle.model.errors import CorrectInputError
from breakangle.model.pitch import cents_between
from breakangle.model.service import Service
from breakangle.planning.board import board_of
from breakangle.planning.readings.pitch import Pitch
from breakangle.planning.registry import reading_kind
from breakangle.report.drawings.history import VisitPoint
from breakangle.report.drawings.history import history_chart as drawn_history
from breakangle.report.drawings.look import SCREEN, Drawing, Look
from breakangle.report.drawings.pitch_curve import pitch_chart as drawn_pitch
from breakangle.report.drawings.trade_off import TradeCurve, TradePoint, trade_off_chart
from breakangle.shop.records import Visit
from breakangle.shop.store import Shop

if TYPE_CHECKING:
    from breakangle.listening.measure import Pitch as MeasuredPitch

CENTS_PER_NEPER = 1200.0 / np.log(2.0)


def timeline(shop: Shop, instrument_id: str) -> tuple[VisitPoint, ...]:
    """Return what each visit of an instrument found and left, oldest first, ready for `history_chart`.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    visits, figures = history(shop, instrument_id), season_figures(shop, instrument_id)
    return tuple(
        _point(visit, one, service_of(shop, visit.id)) for visit, one in zip(visits, figures, strict=True)
    )


def _point(visit: Visit, figures: SeasonFigures, service: Service) -> VisitPoint:
    last = max((one.after for one in service.readings), default=0)
    found, left = worst_note_cents(service, 0), worst_note_cents(service, last)
    return VisitPoint(
        on=visit.opened_at.date(),
        words=f"sheet {visit.number}",
        relief_found_mm=figures.relief_found_mm,
        relief_left_mm=figures.relief_left_mm,
        action_found_mm=figures.action_found_mm,
        action_left_mm=figures.action_left_mm,
        worst_found_cents=found,
        worst_left_cents=left if left is not None else found,
        humidity_percent=visit.humidity_percent,
    )


def worst_note_cents(service: Service, stage: int) -> float | None:
    """Return the stopped note farthest from its open string's octave, in cents, as read after `stage` steps.

    None where no stopped note was read then. An open string that was not read counts as in tune.
    """
    read = [one for one in service.readings if isinstance(one, Pitch) and one.after == stage]
    instrument = service.instrument
    for adjustment in service.work[:stage]:
        instrument = adjustment.changed_instrument(instrument)
    board = board_of(instrument, service.reference_hz)
    cents = {(one.string, one.fret, one.harmonic): reading_kind(one).value(one, board) for one in read}
    errors = [
        value - cents.get((string, 0, None), 0.0)
        for (string, fret, harmonic), value in cents.items()
        if fret and harmonic is None
    ]
    return max(errors, key=abs) if errors else None


def history_chart(timeline: Sequence[VisitPoint], *, name: str = "", look: Look = SCREEN) -> Drawing:
    """Return relief, action, worst note and room humidity over an instrument's visits."""
    return drawn_history(timeline, name=name, look=look)


def trade_chart(reports: Sequence[LowestReport], *, look: Look = SCREEN) -> Drawing:
    """Return the lowest action free of buzz against relief, from `lowest_setup` at one strength or several.

    At one strength the lowest and the highest string have a curve each; at several, each strength has one, of
    the mean over the strings.

    Raises:
        CorrectInputError: no report, or of an instrument without a rod: nothing there trades off.
    """
    known = [one for one in reports if one.trade]
    if not known:
        possible = "reports of an instrument whose rod changes its relief"
        raise CorrectInputError(
            "nothing to trade action against", possible, "ask for the lowest set-up alone"
        )
    several, first = len(known) > 1, known[0]
    count = len(first.now.action_mm)
    if several:
        curves = [_curve(f"{one.strength} play", one, slice(None)) for one in known]
        what, standing, where = "mean of all strings", slice(None), "as it stands now"
    else:
        numbers = dict.fromkeys((count, 1))
        curves = [_curve(f"string {number}", first, slice(number - 1, number)) for number in numbers]
        what, standing = f"{first.strength} play", slice(count - 1, count)
        where = f"string {count} as it stands now"
    now = TradePoint(first.now.relief_mm, float(np.mean(first.now.action_mm[standing])))
    title = f"Lowest action free of buzz, {what}"
    return trade_off_chart(curves, now=now, now_words=where, title=title, look=look)


def _curve(words: str, report: LowestReport, strings: slice) -> TradeCurve:
    points = [TradePoint(one.relief_mm, float(np.mean(one.action_mm[strings]))) for one in report.trade]
    return TradeCurve(words, tuple(points))


def pitch_chart(
    found: "MeasuredPitch", note_hz: float, *, title: str = "Pitch over time", look: Look = SCREEN
) -> Drawing:
    """Return a measured take's pitch over time in cents from `note_hz`, with the piece that was used."""
    from breakangle.listening.glide import pitch_track

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
