"""The complaints of a visit as a page shows them: what decides each, what is known so far, what could be answered."""

from dataclasses import dataclass

from breakangle.documents.sheets.complaints import complaint_words
from breakangle.documents.sheets.done import done_words
from breakangle.documents.sheets.standing import as_it_came
from breakangle.model.errors import ReadAgainError
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.services.plans.solved_visits import Solved, solved_visit
from breakangle.services.plans.standings import standings
from breakangle.services.readings.complaint_readings import Decided, decided
from breakangle.services.readings.readings_page import ReadingSheet, reading_sheet
from breakangle.services.readings.ways import Ways
from breakangle.services.visits.complaints import complaints_in, text_of
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop


@dataclass(frozen=True)
class ComplaintTold:
    """One complaint: its words, its text to send back, what decides it, and what was known of it as it came."""

    words: str
    seen: str
    decided: Decided
    came: tuple[Message, ...]


@dataclass(frozen=True)
class ComplaintSheet:
    """All complaints of a visit, the boxes of what decides them, and what was done, to begin an answer with."""

    complaints: tuple[ComplaintTold, ...]
    boxes: ReadingSheet
    done: str
    trouble: str


def complaint_sheet(shop: Shop, visit: Visit, ways: Ways) -> ComplaintSheet:
    """Return the complaints of a visit with what decides them, in the bench's own ways of reading.

    Raises:
        NoSuchRecordError: the visit is gone.
    """
    solved, trouble = _solved(shop, visit)
    complaints = complaints_in(visit)
    boxes = reading_sheet(shop, visit, ways, (), solved)
    if solved is None:
        bare = tuple(decided(complaint, _bare(boxes), None, None, ways) for complaint in complaints)
        told = tuple(_told(one, ()) for one in bare)
        return ComplaintSheet(told, boxes, "", trouble)
    now = [
        decided(complaint, solved.service, solved.estimate, solved.judgement, ways)
        for complaint in complaints
    ]
    places = tuple(dict.fromkeys(place for one in now for place in one.places))
    boxes = reading_sheet(shop, visit, ways, places, solved)
    came = _came(shop, visit, solved, ways) if complaints else []
    told = tuple(_told(one, was.evidence) for one, was in zip(now, came, strict=True))
    done = " ".join(done_words(solved.service.work, solved.service.instrument_now()))
    return ComplaintSheet(told, boxes, done, trouble)


def _solved(shop: Shop, visit: Visit) -> tuple[Solved | None, str]:
    try:
        return solved_visit(shop, visit.id), ""
    except ReadAgainError as cause:
        return None, str(cause)


def _bare(boxes: ReadingSheet) -> Service:
    """Return the instrument alone, where its readings contradict each other."""
    return Service(instrument=boxes.instrument)


def _came(shop: Shop, visit: Visit, solved: Solved, ways: Ways) -> list[Decided]:
    """Return what decided each complaint as the instrument came, before any work."""
    complaints = complaints_in(visit)
    if not solved.service.work:
        return [
            decided(complaint, solved.service, solved.estimate, solved.judgement, ways)
            for complaint in complaints
        ]
    found = standings(shop, visit)
    return [
        decided(complaint, as_it_came(found.service), found.before, found.came, ways)
        for complaint in complaints
    ]


def _told(one: Decided, came: tuple[Message, ...]) -> ComplaintTold:
    return ComplaintTold(complaint_words(one.complaint), text_of(one.complaint), one, came)
