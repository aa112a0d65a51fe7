"""The bench sheet: the same service as a form to fill in by hand, boxes in the order the work is done."""

from dataclasses import dataclass
from datetime import date

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Plan
from breakangle.model.reading import Target
from breakangle.model.service import Service
from breakangle.planning.readings.gap import Gap
from breakangle.planning.registry import reading_kind, target_kind
from breakangle.report.found import saying
from breakangle.report.page import (
    Beside,
    Blanks,
    Block,
    Boxes,
    Heading,
    Letterhead,
    Page,
    Paragraph,
    Points,
    Ruled,
)
from breakangle.report.standing import ORDER
from breakangle.report.words import day_words, strings_words

KIND = "Bench sheet"
BEFORE_TOUCHING = (
    "Clean, padded place; neck rest; eye protection for wire",
    "Photographs: front, back, headstock, anything damaged",
    "Read everything below before anything is touched",
)
LOOKED_AT = (
    "Frets level, not worn",
    "Board and cracks",
    "Nut and slots",
    "Bridge and saddles",
    "Tuners",
    "Electrics",
)
AT_THE_END = (
    "No buzz at the owner's strength of play, anywhere on the board",
    "Stays in tune after stretching",
    "String ends trimmed; wiped down",
    "Readings above written down; hand-back sheet gone through with the owner",
)


@dataclass(frozen=True)
class BenchSheet:
    """What is known before the sheet goes to the bench."""

    letterhead: Letterhead
    number: int
    owner: str
    complaint: str
    came: date
    service: Service
    plan: Plan
    code_svg: str = ""
    code_words: str = ""


def bench_sheet_page(given: BenchSheet) -> Page:
    """Return the form: take in, read, decide, do, read again, check."""
    instrument = given.service.instrument_now()
    blocks: list[Block] = [
        Heading("1  Take in"),
        _room(given.service),
        Beside((Points(BEFORE_TOUCHING, ticks=True),), (Points(LOOKED_AT, ticks=True),)),
        Heading("2  Read, before anything is touched"),
        _readings(given, instrument, "as it came", done=False),
        Heading("3  Do"),
        *_steps(given.plan),
        Heading("4  Read again"),
        _readings(given, instrument, "as it leaves", done=True),
        Heading("5  Check and hand back"),
        Points(AT_THE_END, ticks=True),
        Ruled("Notes, strings fitted, parts, time", 4),
    ]
    return Page(
        kind=KIND,
        title=instrument.name,
        letterhead=given.letterhead,
        facts=_facts(given, instrument),
        blocks=tuple(blocks),
        foot=f"{given.letterhead.name}, sheet {given.number}. Small figures in the boxes are what is wanted.",
        code_svg=given.code_svg,
        code_alt=f"Code that opens this instrument's page: {given.code_words}" if given.code_svg else "",
        code_words=given.code_words,
    )


def _facts(given: BenchSheet, instrument: Instrument) -> tuple[tuple[str, str], ...]:
    frets = f"{instrument.frets} frets, joint at fret {instrument.joint_fret}"
    return (
        ("Owner", given.owner),
        ("Sheet", str(given.number)),
        ("Taken in", day_words(given.came)),
        ("Complaint", given.complaint),
        ("Scale", f"{instrument.scale_mm:g} mm, {frets}"),
        ("Tuning", " ".join(one.note for one in reversed(instrument.in_order()))),
    )


def _room(service: Service) -> Block:
    air = service.room
    humidity = f"{air.humidity_percent:.0f}" if air and air.humidity_percent is not None else ""
    warmth = f"{air.temperature_c:.0f}" if air and air.temperature_c is not None else ""
    return Blanks(
        (
            ("Date", "", 1.0),
            ("Who", "", 1.4),
            ("Humidity, %", humidity, 1.0),
            ("Temperature, °C", warmth, 1.0),
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
    # Where nothing was done yet, nothing was read again either: what was read is how it came.
    stage = (len(given.service.work) or None) if done else 0
    rows, small = [], []
    for string in reversed(instrument.in_order()):
        wanted = {name: found[string.string] for name, found in columns.items() if string.string in found}
        rows.append(
            (f"{string.string}  {string.note}", *(_read(given, wanted.get(name), stage) for name in columns))
        )
        small.append(("", *(_wanted(wanted.get(name)) for name in columns)))
    head = (f"String, {when}", *(_column(name, found) for name, found in columns.items()))
    return Boxes(_how(columns), head, tuple(rows), tuple(small))


def _column(name: str, found: dict[int, Target]) -> str:
    unit = target_kind(next(iter(found.values()))).unit
    return f"{saying(name).name}, {unit}"


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
        return f"fret {fret} against the open string"
    holding = f"fret{'s' if len(held) > 1 else ''} {' and '.join(str(f) for f in held)} held"
    return f"over fret {fret}, {holding if held else 'open'}"


def _wanted(target: Target | None) -> str:
    if target is None:
        return ""
    kind = target_kind(target)
    return f"{kind.wanted(target):.{kind.decimals}f} ± {kind.tolerance(target):.{kind.decimals}f}"


def _read(given: BenchSheet, target: Target | None, stage: int | None) -> str:
    """Return what was read at that stage for just this figure, if anything; a dash where nothing is to be read."""
    if target is None:
        return "–"
    for reading in given.service.readings:
        if not isinstance(reading, Gap) or reading.after != stage:
            continue
        same = reading.string == target.string and reading.fret == getattr(target, "fret", None)
        if same and reading.held == getattr(target, "held", None):
            kind = reading_kind(reading)
            return f"{reading.mm:.{kind.decimals}f}"
    return ""


def _steps(plan: Plan) -> list[Block]:
    if not plan.steps:
        return [Ruled("What was adjusted: which, which way, how much", 6)]
    items = []
    for one in plan.steps:
        told = one.reason.split(": ")[0]
        screw = f" ({one.screw})" if one.screw and one.screw not in told else ""
        items.append(f"{told}{screw}. Done: ____________")
    care = dict.fromkeys(caution for one in plan.steps for caution in one.caution)
    return [
        *([Paragraph(" ".join(care), "small")] if care else []),
        Points(tuple(items), ticks=True),
        Ruled("Anything else, or otherwise than planned", 2),
    ]
