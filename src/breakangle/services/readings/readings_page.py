"""The page of readings: a box a place in the order a hand moves, what each should read, and which would tell most."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from breakangle.model.errors import BusyError, ReadAgainError
from breakangle.model.instrument import Instrument
from breakangle.model.reading import Reading
from breakangle.model.words.unit_said import unit_open
from breakangle.planning.estimate.estimate import Estimate
from breakangle.services.plans.plan_page import places_asked
from breakangle.services.plans.solved_visits import Solved, solved_visit
from breakangle.services.readings.typed_readings import SURPRISING_SPREADS, placed, reading_in
from breakangle.services.readings.ways import STATIONS, Ways, usual_places
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.reading_places import Expected, Place, expected, expected_beside, place_of
from breakangle.services.visits.unit_answers import Choice, choices_of
from breakangle.storage.records.records import Entry, Visit
from breakangle.storage.records.store import Shop

ASKED, OTHER = "asked", "other"


@dataclass(frozen=True)
class Box:
    """One place: what stands there (None: nothing since the last work), and what it should read.

    `before` is what was read there before the last of the work; `surprising`: it lies outside what was expected.
    `course` is the one that its string shares with others; `again`: what stands there is to be read once more.
    """

    place: Place
    station: str
    note: str
    entry: Entry | None = None
    reading: Reading | None = None
    expected: Expected | None = None
    surprising: bool = False
    before: Reading | None = None
    course: int | None = None
    again: bool = False

    @property
    def choices(self) -> tuple[Choice, ...]:
        """Return what the figure here could be, while its unit is asked for; empty where nothing is."""
        return choices_of(self.reading)


@dataclass(frozen=True)
class ReadingSheet:
    """Boxes in groups, each group under its station or string; `asked` would tell most.

    `for_plan` are the places that the plan waits for, where no other reading would tell more; `plan_later`: the plan
    is not worked out yet, and whoever wants to know asks `asked_next`.
    `trouble` says why nothing can be expected just now; empty where all is well.
    """

    groups: tuple[tuple[str, tuple[Box, ...]], ...]
    asked: Place | None
    trouble: str
    instrument: Instrument
    done_count: int
    for_plan: tuple[Place, ...] = ()
    plan_later: bool = False

    @property
    def boxes(self) -> tuple[Box, ...]:
        """Return every box in the order of the hand."""
        return tuple(box for _, group in self.groups for box in group)

    def box(self, place: Place) -> Box | None:
        """Return the box of a place; None if the page has none."""
        return next((one for one in self.boxes if one.place == place), None)


def reading_sheet(
    shop: Shop,
    visit: Visit,
    ways: Ways,
    also: Sequence[Place] = (),
    solved: Solved | None = None,
    only_also: bool = False,
    stored: bool = False,
    ask: bool = False,
) -> ReadingSheet:
    """Return the page of readings of a visit, in the bench's own ways.

    Args:
        shop: the shop.
        visit: the visit.
        ways: which frets are held and read, and in which order.
        also: further places to have a box, such as those a plan expects to be read.
        solved: the visit solved as it stands, where it is known already.
        only_also: leave out every other box, for a page that shows no more.
        stored: something was just stored, which is answered without what is expected where too many wait for that, and
            waits for no plan.
        ask: say what is asked also where `only_also` leaves out boxes.

    Raises:
        NoSuchRecordError: the visit is gone.
        BusyError: too many wait already, and nothing was stored.
    """
    solved, next_one, trouble = _solved(shop, visit, solved, stored)
    service = solved.service if solved else service_of(shop, visit.id)
    instrument, done = service.instrument_now(), len(service.work)
    asked = place_of(next_one) if next_one else None
    usual = usual_places(instrument, ways)
    known = {place for places in usual.values() for place in places}
    read = placed(shop, visit.id)
    extra = [*also, *([asked] if asked else []), *(place for _, place, after in read if after == done)]
    places = [(station, place) for station in STATIONS for place in usual[station]]
    places += [(_extra(place, asked), place) for place in _by_sort(extra) if place not in known]
    if only_also:
        places = [(station, place) for station, place in places if place in set(also)]
    boxes = _filled(places, read, done, instrument, solved.estimate if solved else None)
    wanted = solved if solved and not asked and (ask or not only_also) else None
    later = wanted is not None and stored and not Solved.plan.known(wanted)
    for_plan = places_asked(wanted) if wanted and not later else ()
    return ReadingSheet(_grouped(boxes, ways), asked, trouble, instrument, done, for_plan, later)


def asked_next(shop: Shop, visit: Visit) -> ReadingSheet:
    """Return of the page of readings what is asked to be read, without boxes; the plan is worked out for it.

    Raises:
        NoSuchRecordError: the visit is gone.
        BusyError: too many wait already.
    """
    return reading_sheet(shop, visit, Ways(), only_also=True, ask=True)


def _solved(
    shop: Shop, visit: Visit, known: Solved | None, stored: bool
) -> tuple[Solved | None, Reading | None, str]:
    """Return the visit solved and what is asked to be read next, or why it cannot be."""
    try:
        found = known or solved_visit(shop, visit.id)
        return found, found.asked, ""
    except BusyError:
        if not stored:
            raise
        return None, None, ""
    except ReadAgainError as cause:
        return None, None, str(cause)


def _by_sort(places: Iterable[Place]) -> list[Place]:
    """Return places once each, those read alike together, from the low string to the high one."""
    found = list(dict.fromkeys(places))
    sorts = [replace(one, string=0) for one in found]
    order = sorted(range(len(found)), key=lambda index: (sorts.index(sorts[index]), -found[index].string))
    return [found[index] for index in order]


def _extra(place: Place, asked: Place | None) -> str:
    return ASKED if place == asked else OTHER


def _filled(
    places: Sequence[tuple[str, Place]],
    read: Sequence[tuple[Entry, Place, int]],
    done: int,
    instrument: Instrument,
    now: Estimate | None,
) -> list[Box]:
    latest = {place: entry for entry, place, after in read if after == done}
    earlier = {place: entry for entry, place, after in read if after < done}
    fitting = [place for _, place in places if not list(place.blank().misfits(instrument))]
    told = expected(fitting, now) if now else {}
    note = {string.string: string.note for string in instrument.strings}
    found = []
    for station, place in places:
        there, before = latest.get(place), earlier.get(place)
        box = Box(
            place, station, note.get(place.string, ""), there,
            reading_in(there, place) if there else None, told.get(place), False,
            reading_in(before, place) if before else None, instrument.course_of(place.string),
        )  # fmt: skip
        found.append(box)
    return _judged(found, now, done) if now else found


def _judged(boxes: list[Box], now: Estimate, done: int) -> list[Box]:
    """Return the boxes, the filled ones beside what the other readings led one to expect of each."""
    filled = [one for one in boxes if one.reading and one.expected and not unit_open(one.reading)]
    readings = [one.reading.model_copy(update={"after": done}) for one in filled if one.reading is not None]
    beside = dict(zip((one.place for one in filled), expected_beside(readings, now), strict=True))
    values = {one.place: one.place.kind.value(one.reading, now.board) for one in filled if one.reading}
    found = []
    for one in boxes:
        told = beside.get(one.place)
        odd = told is not None and told.spreads_off(values[one.place]) > SURPRISING_SPREADS
        found.append(one if told is None else replace(one, expected=told, surprising=odd))
    return found


def _grouped(boxes: Iterable[Box], ways: Ways) -> tuple[tuple[str, tuple[Box, ...]], ...]:
    """Return the boxes by station, or by string with the stations in order within each."""
    found = list(boxes)
    if ways.order == "station":
        names = [ASKED, *STATIONS, OTHER]
        groups = [(name, tuple(one for one in found if one.station == name)) for name in names]
    else:
        strings = sorted({one.place.string for one in found}, reverse=True)
        groups = [(str(name), tuple(one for one in found if one.place.string == name)) for name in strings]
    return tuple((name, group) for name, group in groups if group)
