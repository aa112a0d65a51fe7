"""One instrument as its page tells of it: what it is, whose, its visits, what its neck does, what comes due."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Response
from breakangle.planning.state.effects.season import season_prior
from breakangle.planning.trips.step_reasons import responses
from breakangle.services.history.drift import Drift, Due, drift, due_for, room_by_month
from breakangle.services.history.timeline import TimelineVisit, timeline
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.typed_values.sizes import scale_ends_mm
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.records import Attachment, InstrumentRecord, Owner, Visit
from breakangle.storage.records.store import Shop


@dataclass(frozen=True)
class InstrumentTold:
    """An instrument, its visits (newest first) with what each found and left, and what has been learned of it.

    `day` is the day it is told on: what is due before it is overdue.
    """

    day: date

    record: InstrumentRecord
    instrument: Instrument
    owner: Owner | None
    visits: tuple[TimelineVisit, ...]
    answers: tuple[Response, ...]
    relief_drift: Drift
    action_drift: Drift
    due: tuple[Due, ...]
    photographs: tuple[Attachment, ...]

    @property
    def here(self) -> Visit | None:
        """Return the visit that is not handed back yet, if there is one."""
        return next((visit.visit for visit in self.visits if visit.visit.handed_back_at is None), None)

    @property
    def scale_ends_mm(self) -> tuple[float, float]:
        """Return the scales in mm of the lowest string and of string 1, which differ where frets are fanned."""
        return scale_ends_mm(self.instrument)

    @property
    def post(self) -> Mapping[str, Any]:
        """Return what is told of the tuners' posts: `kind`, `diameter_mm`, or neither."""
        found = (self.instrument.model_extra or {}).get("tuner_post")
        return found if isinstance(found, dict) else {}

    @property
    def rod_reached_from(self) -> str:
        """Return where the rod is reached from; empty where it was not told."""
        return str((self.instrument.model_extra or {}).get("rod_reached_from", ""))


def instrument_told(shop: Shop, key: str) -> InstrumentTold:
    """Return all that is known of one instrument.

    Raises:
        NoSuchRecordError: no such instrument.
        ReadAgainError: readings of its last visit that no instrument fits.
    """
    record = shop.get(InstrumentRecord, key)
    visits = timeline(shop, key)
    figures = [visit.figures for visit in visits]
    prior = season_prior(instrument_of(record))
    attached = shop.every(Attachment, instrument_id=key)
    return InstrumentTold(
        day=datetime.now().astimezone().date(),
        record=record,
        instrument=instrument_of(record),
        owner=shop.get(Owner, record.owner_id, deleted=True) if record.owner_id else None,
        visits=tuple(reversed(visits)),
        answers=responses(solved_visit(shop, visits[-1].visit.id).estimate) if visits else (),
        relief_drift=drift(figures, prior=prior.relief),
        action_drift=drift(figures, action=True, prior=prior.action),
        due=due_for(record, room_by_month(shop), figures),
        photographs=tuple(one for one in attached if one.kind == "photograph"),
    )
