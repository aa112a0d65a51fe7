"""The bench sheet: the same service as a form to fill in by hand, boxes in the order the work is done."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from breakangle.documents.labels.label import courses_words
from breakangle.documents.renderers.page import (
    Beside,
    Blanks,
    Block,
    Boxes,
    Heading,
    Letterhead,
    Page,
    Paragraph,
    Picture,
    Points,
    Ruled,
)
from breakangle.documents.sheets.also_read import also_read
from breakangle.documents.sheets.found import saying
from breakangle.documents.sheets.looked_at import looked_at
from breakangle.documents.sheets.standing import ORDER
from breakangle.documents.sheets.words import day_words, strings_words
from breakangle.model.instrument import Instrument, String
from breakangle.model.plan import Plan
from breakangle.model.reading import Reading, Target
from breakangle.model.service import Service
from breakangle.model.words.said import figured
from breakangle.model.words.speech import mark, tr, tr_n
from breakangle.planning.estimate.target_state import place_of, place_read
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import adjustment_kind, reading_kind, target_kind
from breakangle.planning.state.board import Board
from breakangle.planning.trips.part_way import part_way
from breakangle.planning.trips.told import (
    TripTold,
    asked_in_order,
    expected,
    first_to_read,
    held_back,
    trips_told,
)

KIND = mark("Bench sheet")
TICKS_SHARE = 0.55  # of the width, beside a trip's drawing
BEFORE_TOUCHING = (
    mark("Clean, padded place; neck rest; eye protection for wire"),
    mark("Photographs: front, back, headstock, anything damaged"),
    mark("Read everything below before anything is touched"),
)
AT_THE_END = (
    mark("No buzz at the owner's strength of play, anywhere on the board"),
    mark("Stays in tune after stretching"),
    mark("String ends trimmed; wiped down"),
    mark("Readings above written down; hand-back sheet gone through with the owner"),
)


@dataclass(frozen=True)
class BenchSheet:
    """What is known before the sheet goes to the bench; `drawings` are those of the plan's trips, by their numbers.

    `board` tells a pitch in Hz in cents, and so an intonation from the two pitches it is read by.
    """

    letterhead: Letterhead
    number: int
    owner: str
    complaint: str
    came: date
    service: Service
    plan: Plan
    code_svg: str = ""
    code_words: str = ""
    drawings: Mapping[int, Picture] = field(default_factory=dict)
    board: Board | None = None


def bench_sheet_page(given: BenchSheet) -> Page:
    """Return the form: take in, read, decide, do, read again, check."""
    instrument = given.service.instrument_now()
    blocks: list[Block] = [
        Heading(tr("1  Take in")),
        _room(given.service),
        Beside((Points(BEFORE_TOUCHING, ticks=True),), (Points(looked_at(instrument), ticks=True),)),
        Heading(tr("2  Read, before anything is touched")),
        _readings(given, instrument, tr("as it came"), done=False),
        *_also_read(given, done=False),
        Heading(tr("3  Do")),
        *_steps(given),
        Heading(tr("4  Read again")),
        _readings(given, instrument, tr("as it leaves"), done=True),
        *_also_read(given, done=True),
        Heading(tr("5  Check and hand back")),
        Points(AT_THE_END, ticks=True),
        Ruled(tr("Notes, strings fitted, parts, time"), 4),
    ]
    return Page(
        kind=tr(KIND),
        title=instrument.name,
        letterhead=given.letterhead,
        facts=_facts(given, instrument),
        blocks=tuple(blocks),
        foot=tr(
            "{letterhead_name}, sheet {given_number}. Small figures in the boxes are what is wanted.",
            letterhead_name=given.letterhead.name,
            given_number=given.number,
        ),
        code_svg=given.code_svg,
        code_alt=tr("Code that opens this instrument's page: {code_words}", code_words=given.code_words)
        if given.code_svg
        else "",
        code_words=given.code_words,
    )


def _facts(given: BenchSheet, instrument: Instrument) -> tuple[tuple[str, str], ...]:
    frets = tr(
        "{frets} frets, joint at fret {joint_fret}", frets=instrument.frets, joint_fret=instrument.joint_fret
    )
    return (
        (tr("Owner"), given.owner),
        (tr("Sheet"), str(given.number)),
        (tr("Taken in"), day_words(given.came)),
        (tr("Complaint"), given.complaint),
        (tr("Scale"), f"{instrument.scale_mm:g} mm, {frets}"),
        (tr("Tuning"), courses_words(instrument)[0]),
    )


def _room(service: Service) -> Block:
    air = service.room
    humidity = f"{air.humidity_percent:.0f}" if air and air.humidity_percent is not None else ""
    warmth = f"{air.temperature_c:.0f}" if air and air.temperature_c is not None else ""
    return Blanks(
        (
            (tr("Date"), "", 1.0),
            (tr("Who"), "", 1.4),
            (tr("Humidity, %"), humidity, 1.0),
            (tr("Temperature, °C"), warmth, 1.0),
        )
    )


def _readings(given: BenchSheet, instrument: Instrument, when: str, done: bool) -> Block:
    """Return boxes for every figure that is wanted: a row for each string, a column for each sort of figure."""
    columns: dict[str, dict[int, Target]] = {}
    for one in given.plan.targets.wanted:
        columns.setdefault(str(target_kind(one).role(one)[0]), {}).setdefault(one.string, one)
    columns = dict(
        sorted(columns.items(), key=lambda one: ORDER.index(one[0]) if one[0] in ORDER else len(ORDER))
    )
    stage = _stage(given, done)
    rows, small = [], []
    for string in reversed(instrument.in_order()):
        wanted = {name: found[string.string] for name, found in columns.items() if string.string in found}
        rows.append(
            (_string_named(string, instrument), *(_read(given, wanted.get(name), stage) for name in columns))
        )
        small.append(("", *(_wanted(wanted.get(name)) for name in columns)))
    head = (tr("String, {when}", when=when), *(_column(name, found) for name, found in columns.items()))
    return Boxes(_how(columns), head, tuple(rows), tuple(small))


def _string_named(string: String, instrument: Instrument) -> str:
    """Return a row's string, such as `12  E2, course 6`."""
    course = instrument.course_of(string.string)
    return f"{string.string}  {string.note}" + (
        tr(", course {course}", course=course) if course is not None else ""
    )


def _column(name: str, found: dict[int, Target]) -> str:
    unit = target_kind(next(iter(found.values()))).unit
    return f"{saying(name).name}, {tr(unit)}"


def _how(columns: dict[str, dict[int, Target]]) -> str:
    """Return how each column is read: over which fret, what held; strings that are read otherwise by their numbers."""
    told = []
    for name, found in columns.items():
        ways: dict[str, list[int]] = {}
        for string, one in found.items():
            ways.setdefault(_way(one), []).append(string)
        usual, *others = sorted(ways, key=lambda way: -len(ways[way]))
        apart = "".join(f" ({strings_words(ways[way])}: {way})" for way in others)
        told.append(f"{saying(name).name}: {usual}{apart}")
    return "; ".join(told) + "."


def _way(target: Target) -> str:
    """Return how one figure is read."""
    held, fret = getattr(target, "held", None), getattr(target, "fret", 0)
    if held is None:
        return tr("fret {fret} against the open string", fret=fret)
    holding = tr_n("fret {f} held", "frets {f} held", len(held), f=tr(" and ").join(str(f) for f in held))
    return tr("over fret {fret}, {holding}", fret=fret, holding=holding if held else tr("open"))


def _wanted(target: Target | None) -> str:
    if target is None:
        return ""
    kind = target_kind(target)
    return f"{kind.wanted(target):.{kind.decimals}f} ± {kind.tolerance(target):.{kind.decimals}f}"


def _read(given: BenchSheet, target: Target | None, stage: int | None) -> str:
    """Return what was read at that stage for just this figure, if anything; a dash where nothing is to be read."""
    if target is None:
        return "–"
    taken = [one for one in given.service.readings if one.after == stage]
    for reading in reversed(taken):
        if place_read(reading) != place_of(target):
            continue
        kind = reading_kind(reading)
        if isinstance(reading, Gap):
            return f"{reading.mm:.{kind.decimals}f}"
        opened = [one for one in taken if _is_open(one) and one.string == reading.string]
        if opened and given.board is not None:
            cents = kind.value(reading, given.board) - kind.value(opened[-1], given.board)
            return figured(cents, target_kind(target).decimals)
    return ""


def _is_open(reading: Reading) -> bool:
    return isinstance(reading, Pitch) and reading.fret == 0 and reading.harmonic is None


def _stage(given: BenchSheet, done: bool) -> int | None:
    """Return after how much work a table's readings were taken: nothing done yet, nothing was read again either."""
    return (len(given.service.work) or None) if done else 0


def _also_read(given: BenchSheet, done: bool) -> list[Block]:
    """Return every reading that no box holds as it was read: pitches, and what was read elsewhere or on the way."""
    last = len(given.service.work)
    boxed = {place_of(one) for one in given.plan.targets.wanted if target_kind(one).unit == "mm"}
    taken = [
        reading
        for reading in given.service.readings
        if ((reading.after == last > 0) if done else (reading.after < last or last == 0))
        and (place_read(reading) not in boxed or 0 < reading.after < last)
    ]
    return also_read(taken, given.service.work, given.service.instrument_now())


def _steps(given: BenchSheet) -> list[Block]:
    """Return what is to be read first, and the trips with their steps to tick off."""
    plan, instrument = given.plan, given.service.instrument_now()
    asked = [tr("{words} Read: ____________", words=one.words) for one in asked_in_order(plan)]
    first = [one for one in (first_to_read(plan), held_back(plan)) if one]
    before: list[Block] = [Paragraph(one, "lead") for one in first]
    before += [Points(tuple(asked), ticks=True)] if asked else []
    if not plan.steps:
        return [*before, Ruled(tr("What was adjusted: which, which way, how much"), 6)]
    trips: list[Block] = [
        block for trip in trips_told(plan) for block in _trip(trip, plan, instrument, given.drawings)
    ]
    return [*before, *trips, Ruled(tr("Anything else, or otherwise than planned"), 2)]


def _trip(trip: TripTold, plan: Plan, instrument: Instrument, drawings: Mapping[int, Picture]) -> list[Block]:
    """Return one trip: what to slacken and lay ready, its drawing, its steps to tick off, what to read at its end."""
    items = []
    for _, one in trip.steps:
        told = adjustment_kind(one.adjustment).told(one.adjustment, instrument)
        screw = f" ({one.screw})" if one.screw and one.screw not in told else ""
        stop = part_way(one, plan, instrument)
        done = tr("Done: {line}", line="_" * 12)
        items.append(" ".join(part for part in (f"{told}{screw}.", stop, done) if part))
    ticks, drawing = Points(tuple(items), ticks=True), drawings.get(trip.number)
    care = dict.fromkeys(caution for _, one in trip.steps for caution in one.caution)
    tools = tr(" Tools: {tools}.", tools=", ".join(trip.tools)) if trip.tools else ""
    reads = "; ".join(expected(read.reading) for read in trip.reads)
    ready = mark("About {minutes} min. Slacken: {slacken}.{tools}")
    named, slacken = mark("Trip {number} of {count}: {name}"), trip.slacken
    ready = tr(ready, minutes=trip.minutes, slacken=slacken, tools=tools)
    return [
        Paragraph(tr(named, number=trip.number, count=trip.count, name=trip.name), with_next=True),
        Paragraph(" ".join([ready, trip.way, *care]), "small", with_next=True),
        Beside((ticks,), (drawing,), TICKS_SHARE) if drawing else ticks,
        *([Paragraph(tr("At the end read: {reads}.", reads=reads), "small")] if reads else []),
    ]
