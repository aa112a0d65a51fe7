"""What levelling comes to on a visit's instrument."""

from breakangle.services.frets.levelling import FretWork, fret_work
from breakangle.services.frets.wear import Worn, worn
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import history
from breakangle.storage.records.store import Shop


def visit_fret_work(
    shop: Shop, visit_id: str, strength: str | None = None, action_mm: tuple[float, float] | None = None
) -> FretWork:
    """Return what levelling comes to on a visit's instrument.

    Raises:
        NoSuchRecordError: no such visit.
        CorrectInputError: a strength that is not known, or an action that cannot be.
        ReadAgainError: readings that no instrument fits.
    """
    solved = solved_visit(shop, visit_id)
    return fret_work(solved.service, strength, action_mm, solved.estimate)


def fret_wear_of(shop: Shop, instrument_id: str) -> tuple[Worn, ...]:
    """Return how fast an instrument's frets wear, from the grooves read at all its visits.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    visits = history(shop, instrument_id)
    return worn([(one.opened_at.date(), service_of(shop, one.id)) for one in visits])
