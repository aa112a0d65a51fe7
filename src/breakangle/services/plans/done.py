"""A step of the plan done at the bench, as planned or by another amount, stored once."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.measure import parse_length, parse_number
from breakangle.model.reading import Adjustment
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.slips import raises_a_cut
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.services.plans.plan_page import amount_of
from breakangle.services.visits.entries import put_back, put_entry, sent_before, service_of, standing_held
from breakangle.services.visits.parsed_sheets import ADJUSTMENT
from breakangle.storage.records.entries import one_entry
from breakangle.storage.records.records import Entry, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp

OTHER_WAY = ("-", "−")
TURN_WORDS = ("turn", "turns", "t")
SCREWS = {"saddle-height": "height_mm_per_turn", "saddle-position": "position_mm_per_turn"}


@dataclass(frozen=True)
class Done:
    """A step as it was planned, and the amount that was made instead, as typed: empty where it was as planned.

    An amount is the same way as planned, with a minus the other way.
    """

    adjustment: Adjustment
    amount: str = ""

    def as_done(self, instrument: Instrument, own_unit: str) -> Adjustment:
        """Return the adjustment as it was made.

        Raises:
            CorrectInputError: an amount that is none.
        """
        if not self.amount.strip():
            return self.adjustment
        return with_amount(self.adjustment, self.amount, instrument, own_unit)


def step_given(text: str) -> Adjustment:
    """Return the adjustment that a page was given to do, from its JSON.

    Raises:
        CorrectInputError: no adjustment.
    """
    try:
        data = json.loads(text)
        found: Adjustment = adjustment_kinds()[data["adjust"]].model.model_validate(data)
    except (ValueError, TypeError, KeyError) as cause:
        raise CorrectInputError(tr("this step is none"), "", tr("look at the plan as it is now")) from cause
    return found


def steps_done(
    shop: Shop,
    visit: Visit,
    done: Sequence[Done],
    stamp: Stamp,
    *,
    done_count: int,
    own_unit: str = "mm",
    sent_key: str | None = None,
    before: str | None = None,
) -> tuple[Entry, ...]:
    """Store that steps were made, in their order, all or none, and return their entries.

    Args:
        shop: the shop.
        visit: the visit.
        done: the steps as the person had them before them; they are stored whatever the plan says by now.
        stamp: who, and when.
        done_count: how many adjustments the person had before them as done.
        own_unit: the unit of a bare length, `mm` or `in`.
        sent_key: the sender's own name for this, so that it is not stored twice.
        before: the entry that all this was done before, if it is entered late.

    Raises:
        CorrectInputError: nothing was done, or an amount that is none.
        ServiceFileError: an adjustment that this instrument does not have.
        EditedMeanwhileError: other work was done meanwhile: `theirs` is the last of it, `yours` what was not stored.
    """
    if not done:
        raise CorrectInputError(tr("nothing is ticked"), "", tr("tick what was done, and store it"))
    instrument = service_of(shop, visit.id).instrument_now()
    made = [one.as_done(instrument, own_unit) for one in done]
    with shop.writing() as connection:
        sent = sent_before(connection, sent_key, stamp)
        if sent is not None:
            return (sent,)
        work = _work_in(standing_held(connection, visit.id))
        if work and len(work) != done_count:
            raise EditedMeanwhileError(tr("the work on this sheet"), work[-1], made[0], work[-1].taken_by)
        keys = [sent_key, *(None for _ in made[1:])]
        return tuple(
            put_entry(connection, visit.id, ADJUSTMENT, one, stamp, key=key, before=before)
            for one, key in zip(made, keys, strict=True)
        )


def with_amount(adjustment: Adjustment, text: str, instrument: Instrument, own_unit: str) -> Adjustment:
    """Return the adjustment by the amount typed: bare, the same way as planned; with a minus, the other way.

    Raises:
        CorrectInputError: not an amount, or none that this adjuster can be moved by.
    """
    planned, unit = amount_of(adjustment)
    if planned is None:
        raise CorrectInputError(tr("this step has no amount"), "", tr("leave the amount empty"))
    typed = text.strip()
    way = -1.0 if typed.startswith(OTHER_WAY) else 1.0
    size = _size(
        (typed[1:] if typed[:1] in ("+", *OTHER_WAY) else typed).strip(),
        adjustment,
        unit,
        instrument,
        own_unit,
    )
    value = way * (size if planned >= 0.0 else -size)
    data: dict[str, Any] = adjustment.model_dump(mode="json", exclude_unset=True) | {unit: round(value, 4)}
    try:
        made = type(adjustment).model_validate(data)
    except ValueError as cause:
        raise CorrectInputError(
            tr('"{typed}" is more than this can be moved', typed=typed[:40]), "", tr("type it again")
        ) from cause
    if raises_a_cut(made, instrument):
        given = tr('"{typed}" would raise the string, and a cut takes away', typed=typed[:40])
        raise CorrectInputError(given, "", tr("type what was cut, without a sign"))
    return made


def took_back(shop: Shop, visit: Visit, entry_id: str, stamp: Stamp) -> Entry:
    """Take any stored thing of the visit back, or put back again what was taken back; return what stands for it now.

    Raises:
        NoSuchRecordError: the visit has no such entry.
        EditedMeanwhileError: it was corrected or taken back by somebody else.
        ServiceFileError: what was done later cannot stand without it.
    """
    with shop.writing() as connection:
        entry = one_entry(connection, entry_id)
        if entry.visit_id != visit.id:
            raise NoSuchRecordError(
                tr(
                    "entry {entry_id} is not on sheet {visit_number}",
                    entry_id=entry_id[:40],
                    visit_number=visit.number,
                ),
                "",
                tr("look at the sheet"),
            )
        return put_back(connection, entry, stamp)


def _work_in(entries: Sequence[Entry]) -> list[Entry]:
    return [one for one in entries if one.kind == ADJUSTMENT]


def _size(text: str, adjustment: Adjustment, unit: str, instrument: Instrument, own_unit: str) -> float:
    """Return the amount typed, without its way: turns, or a length that may be typed as turns of its screw."""
    if text[:1] in ("+", *OTHER_WAY):
        raise CorrectInputError(
            tr('"{text}" is no amount', text=text[:40]), tr("write it like 1/8, 0.25 or 1 1/4 turn")
        )
    try:
        number, word = parse_number(text, TURN_WORDS)
    except CorrectInputError as cause:
        if unit == "mm":
            return abs(parse_length(text, own_unit).mm)
        raise CorrectInputError(
            tr('"{text}" is no amount', text=text[:40]), tr("write it like 1/8, 0.25 or 1 1/4 turn")
        ) from cause
    if unit == "mm" and not word:
        return abs(parse_length(text, own_unit).mm)
    if unit != "mm":
        return number
    per_turn = getattr(instrument.bridge, SCREWS.get(adjustment.adjust, ""), None)
    if per_turn is None:
        raise CorrectInputError(
            tr('"{text}": no screw is known here', text=text[:40]), "", tr("type the amount in mm")
        )
    return number * float(per_turn)
