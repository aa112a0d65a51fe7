"""What levelling comes to on a visit's instrument, and that it was done as a fret map showed it."""

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.adjustments.fret_level import FretLevel
from breakangle.services.frets.levelling import FretWork, fret_work
from breakangle.services.frets.wear import Worn, worn
from breakangle.services.plans.done import step_given
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.visits.entries import put_entry, sent_before, service_of
from breakangle.services.visits.parsed_sheets import ADJUSTMENT
from breakangle.services.visits.visits import history
from breakangle.storage.records.entries import hold_visit
from breakangle.storage.records.marks import visit_marks
from breakangle.storage.records.records import Entry
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp


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


def map_mark(shop: Shop, visit_id: str) -> str:
    """Return a mark of what a visit's fret map is worked out from: asked for before the map is, it is never too new."""
    with shop.reading() as connection:
        return visit_marks(connection, visit_id)[visit_id]


def levelling_done(shop: Shop, visit_id: str, step: str, mark: str, stamp: Stamp, key: str | None) -> Entry:
    """Store that the metal of a fret map is off, as the map that was shown says, and return the entry.

    Args:
        shop: the shop.
        visit_id: the visit.
        step: the work as it was shown, in JSON.
        mark: `map_mark` of when it was shown.
        stamp: who, and when.
        key: the sender's own name for this; sent again with it, nothing is stored twice.

    Raises:
        CorrectInputError: no fret levelling, or something was stored since the map was shown.
        ServiceFileError: frets or strings that this instrument does not have.
        NoSuchRecordError: no such visit.
    """
    work = step_given(step)
    if not isinstance(work, FretLevel):
        raise CorrectInputError(
            tr("this is no levelling of frets"),
            tr("a fret map that orders metal"),
            tr("look at the map again"),
        )
    with shop.writing() as connection:
        stored = sent_before(connection, key, stamp)
        if stored is not None:
            return stored
        hold_visit(connection, visit_id)
        if visit_marks(connection, visit_id)[visit_id] != mark:
            raise CorrectInputError(
                tr("the fret map has changed since it was shown, and nothing was stored"),
                tr("the map as it is now"),
                tr("look at it again"),
            )
        return put_entry(connection, visit_id, ADJUSTMENT, work, stamp, key=key)


def fret_wear_of(shop: Shop, instrument_id: str) -> tuple[Worn, ...]:
    """Return how fast an instrument's frets wear, from the grooves read at all its visits.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    visits = history(shop, instrument_id)
    return worn([(one.opened_at.date(), service_of(shop, one.id)) for one in visits])
