"""A thin top over the visits: its lean and dome beside the room's humidity, and how action and dome follow the air."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import isfinite, sqrt
from typing import Any

from breakangle.documents.sheets.words import day_words
from breakangle.documents.true_size.kinds import Option
from breakangle.model.body import TOP_PARTS, TopRead
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.said import figured
from breakangle.model.words.speech import tr, tr_n
from breakangle.physics.making.top import bridge_lean_degrees, dome_radius_mm
from breakangle.planning.state.effects.season import season_prior
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import family_of
from breakangle.services.history.figures import season_figures
from breakangle.services.history.seasons import drift
from breakangle.services.making.kinds import MakingSheet, mm
from breakangle.services.making.registry import making_job
from breakangle.services.service_files.service import service_from
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import history
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

TOP = "top"
READ_MM = 0.2  # one reading of a top by straight-edge and feeler; common practice, no source
SPREADS = 1.959964  # spreads of a normal that hold 95 % of it; exact


@dataclass(frozen=True)
class TopVisit:
    """One visit: when, the air, the top as it was read (None: not), and action as left, mm."""

    opened_at: datetime
    humidity_percent: float | None
    read: TopRead | None
    action_mm: float | None


def top_over_visits(shop: Shop, instrument_id: str) -> tuple[TopVisit, ...]:
    """Return what the visits of an instrument tell of its top, oldest first; those that tell nothing are left out.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    action = {one.opened_at: one.action_left_mm for one in season_figures(shop, instrument_id)}
    found = [
        TopVisit(one.opened_at, one.humidity_percent, _read(one), action.get(one.opened_at))
        for one in history(shop, instrument_id)
    ]
    return tuple(one for one in found if one.read is not None or one.action_mm is not None)


def dome_per_percent(visits: Sequence[TopVisit]) -> Known | None:
    """Return how the dome's rise follows the air, mm per percent, by least squares; None where visits do not tell.

    Source: the slope of a straight line through points of one spread [derived].
    """
    told = [
        (one.humidity_percent, one.read.rise_mm)
        for one in visits
        if one.read is not None and one.read.rise_mm is not None and one.humidity_percent is not None
    ]
    if len(told) < 2:
        return None
    middle = sum(percent for percent, _ in told) / len(told)
    wide = sum((percent - middle) ** 2 for percent, _ in told)
    if wide <= 0.0:
        return None
    slope = sum((percent - middle) * rise for percent, rise in told) / wide
    return Known(slope, READ_MM / sqrt(wide))


def top_given(shop: Shop, visit: Visit, given: Mapping[str, str]) -> dict[str, str]:
    """Return what was chosen of the top's sheet, with what this visit and those before tell where nothing was.

    That is the room's humidity, the top as it was read, and how action has followed the air.
    """
    found: dict[str, str] = {}
    if visit.humidity_percent is not None:
        found["humidity"] = _within("humidity", visit.humidity_percent, "g")
    read = _read(visit)
    if read is not None:
        found |= {name[:-3]: f"{mm:g} mm" for name, mm in read.model_dump().items() if mm is not None}
    instrument = service_of(shop, visit.id).instrument_now()
    if family_of(instrument).bridge.on_top:
        prior = season_prior(instrument).action
        known = drift(season_figures(shop, visit.instrument_id), action=True, prior=prior)
        if known.pairs:
            found["rate"] = _within("rate", known.mm_per_percent, ".4f")
            found["rate_spread"] = _within("rate_spread", known.uncertainty, ".4f")
    return found | dict(given)


def _options() -> dict[str, Option]:
    return {one.name: one for one in making_job(TOP).options}


def _within(name: str, value: float, form: str) -> str:
    """Return what the visits tell of an option, no farther than it goes: the sheet must not refuse its own figures."""
    option = _options()[name]
    return format(min(max(value, option.low), option.high), form)


def keep_top(shop: Shop, visit: Visit, stamp: Stamp, given: Mapping[str, str], own_unit: str = "mm") -> Visit:
    """Keep with a visit how its top was read, as it was typed: its lean, its dome or both; all empty takes it away.

    Raises:
        CorrectInputError: a length that cannot be right, a part of the lean or dome alone, or nothing at all.
        VisitClosedError: the visit was handed back and is closed.
    """
    body: dict[str, Any] = json.loads(visit.body)
    had, read = body.pop(TOP, None), _typed(given, own_unit)
    if read:
        body[TOP] = read
    elif had is None:
        raise CorrectInputError(
            tr("no reading of the top is typed"), tr("its lean, its dome or both"), tr("type what was read")
        )
    service_from(json.dumps(body | {"readings": [], "work": []}).encode(), tr("the top"))
    return shop.change(visit, stamp, body=json.dumps(body, ensure_ascii=False))


def _typed(given: Mapping[str, str], own_unit: str) -> dict[str, Any]:
    """Return what was typed of the top, in mm; nothing is made up for a box that is empty."""
    options, read = _options(), dict[str, Any]()
    for parts in TOP_PARTS:
        names = [one.removesuffix("_mm") for one in parts]
        typed = [one for one in names if given.get(one, "").strip()]
        lacking = [options[one] for one in names if one not in typed]
        if typed and lacking:
            raise CorrectInputError(
                tr('"{words}" is empty', words=lacking[0].asked(own_unit)),
                lacking[0].allowed(own_unit),
                tr('type it, or leave "{words}" empty too', words=options[typed[0]].asked(own_unit)),
            )
        read |= {f"{one}_mm": options[one].read(given[one], own_unit) for one in typed}
    return read


def with_visits(sheet: MakingSheet, visits: Sequence[TopVisit]) -> MakingSheet:
    """Return the top's sheet with a row for each visit, and how the dome follows the air where they tell."""
    if not visits or not (sheet.figures or {}).get("applies"):
        return sheet
    facts, slope = list(sheet.facts), dome_per_percent(visits)
    if slope is not None:
        half = SPREADS * slope.uncertainty
        facts.append(
            (
                tr("dome rises for 10 % more humidity by"),
                f"{mm(10.0 * slope.value)} ± {figured(10.0 * half, 2)}",
            )
        )
    count = sum(one.read is not None for one in visits)
    told = tr_n("{count} visit has read the top", "{count} visits have read the top", count, count=count)
    return replace(
        sheet,
        facts=tuple(facts),
        head=(tr("day"), tr("humidity"), tr("lean"), tr("rise"), tr("dome's radius"), tr("action left")),
        rows=tuple(_row(one) for one in visits),
        rests_on=(told, *sheet.rests_on),
    )


def _row(one: TopVisit) -> tuple[str, ...]:
    air = "" if one.humidity_percent is None else f"{one.humidity_percent:.0f} %"
    lean = rise = radius = ""
    read = one.read or TopRead()
    if read.front_mm is not None and read.behind_mm is not None and read.span_mm is not None:
        lean = f"{float(bridge_lean_degrees(read.front_mm, read.behind_mm, read.span_mm)):.2f}°"
    if read.rise_mm is not None and read.width_mm is not None:
        rise, round_mm = mm(read.rise_mm), float(dome_radius_mm(read.rise_mm, read.width_mm))
        radius = mm(round_mm) if isfinite(round_mm) else tr("flat")
    action = "" if one.action_mm is None else mm(one.action_mm)
    return (day_words(one.opened_at.astimezone().date()), air, lean, rise, radius, action)


def _read(visit: Visit) -> TopRead | None:
    told = json.loads(visit.body).get(TOP)
    return None if told is None else TopRead.model_validate(told)
