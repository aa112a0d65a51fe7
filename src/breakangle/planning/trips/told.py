"""A plan's trips, findings and questions in words, alike for terminal, screen and paper."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from breakangle.model.plan import Plan, Question, Step, Trip
from breakangle.model.reading import Reading
from breakangle.model.words.message import Message, Severity
from breakangle.model.words.said import figured, strings_in_words
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.reading_names import reading_named
from breakangle.planning.kinds.registry import adjustment_kinds, reading_kind
from breakangle.reference.messages import words

VERDICT, PLACE = "verdict", "place"
NEAR_EDGE = "ask.near_edge"  # a second reading of what stands inside its tolerance
BY_PULL = ("note", "gauge")  # what these ask of a string, its pull shows


@dataclass(frozen=True)
class ReadAfter:
    """What to read after a step or a trip: where, in words, and what it should then be, with one standard deviation."""

    words: str
    reading: Reading


@dataclass(frozen=True)
class TripTold:
    """One trip in words: `name`, `way` how it is done, `slacken` and `tools` before it begins, `minutes` it takes.

    `steps` are its steps with their numbers in the whole plan; `reads` is what to read at its end, `read_between` the
    numbers of the steps after which something is read before the trip ends.
    """

    number: int
    count: int
    name: str
    way: str
    slacken: str
    tools: tuple[str, ...]
    minutes: int
    steps: tuple[tuple[int, Step], ...]
    reads: tuple[ReadAfter, ...]
    read_between: frozenset[int]


@dataclass(frozen=True)
class Asked:
    """One question in words, with what it asks to read, the time it takes and what waits for its answer, in words.

    `as_told`: the string whose note and gauge may be right all the same, `all` where every string's may; else empty.
    """

    words: str
    reads: tuple[ReadAfter, ...]
    time: str
    waits: str
    as_told: str = ""


@dataclass(frozen=True)
class Found:
    """One finding in words: `severity` says how pressing it is."""

    words: str
    severity: Severity
    holds_cuts: bool


def read_after(readings: Sequence[Reading]) -> tuple[ReadAfter, ...]:
    """Return readings with their places in words."""
    return tuple(ReadAfter(reading_named(one), one) for one in readings)


def expected(reading: Reading) -> str:
    """Return in words where to read and what it should then be, ± what holds it 19 times in 20."""
    kind = reading_kind(reading)
    value, uncertainty = (float(getattr(reading, key)) for key in (kind.unit, f"uncertainty_{kind.unit}"))
    shown = f"{figured(value, kind.decimals)} {tr(kind.unit)} ± {figured(2 * uncertainty, kind.decimals)}"
    return f"{reading_named(reading)}: {shown}"


def trips_told(plan: Plan) -> tuple[TripTold, ...]:
    """Return the plan's trips in words, each with its steps."""
    numbered = list(enumerate(plan.steps, start=1))
    return tuple(
        TripTold(
            number=one.trip,
            count=len(plan.trips),
            name=_said(f"name_{one.name}"),
            way=_said(f"way_{one.name}"),
            slacken=_slacken(one),
            tools=tuple(_said(f"tool_{tool}") for tool in one.tools),
            minutes=whole_minutes(one.minutes),
            steps=tuple((number, step) for number, step in numbered if step.trip == one.trip),
            reads=read_after(_by_quantity(one.reads)),
            read_between=_read_between(numbered, one.trip),
        )
        for one in plan.trips
    )


def _by_quantity(readings: Sequence[Reading]) -> list[Reading]:
    """Return readings with those taken alike together, each time from the low string to the high one."""
    alike = [(one.quantity, one.fret, getattr(one, "held", ())) for one in readings]
    order = sorted(
        range(len(readings)), key=lambda index: (alike.index(alike[index]), -readings[index].string)
    )
    return [readings[index] for index in order]


def _read_between(numbered: Sequence[tuple[int, Step]], trip: int) -> frozenset[int]:
    """Return the numbers of the steps of a trip that are read by themselves: every turn of the rod but the last."""
    turns = [number for number, one in numbered if one.trip == trip and isinstance(one.adjustment, RodTurn)]
    return frozenset(turns[:-1])


def whole_minutes(minutes: float) -> int:
    """Return minutes as people say them: whole, and at least one."""
    return max(round(minutes), 1)


def time_taken(minutes: float) -> str:
    """Return a time in words: seconds under a minute, to the nearest five (`15 s`), else whole and half minutes."""
    seconds = max(5 * round(minutes * 12), 5)
    return f"{seconds} s" if seconds < 60 else f"{round(minutes * 2) / 2:g} min"


def minutes_in_all(plan: Plan) -> int:
    """Return what the plan's trips take together, in whole minutes."""
    return whole_minutes(sum(one.minutes for one in plan.trips))


def asked_in_order(plan: Plan) -> tuple[Asked, ...]:
    """Return the plan's questions in words, the deciding one first."""
    told = [
        Asked(
            words(one.message if _new_reason(one, before) else _same_reason(one)),
            read_after(one.readings),
            time_taken(one.minutes),
            _waits(_adjusters(one.decides)) if before is None or one.decides != before.decides else "",
            may_be_as_told(one),
        )
        for before, one in zip([None, *plan.questions], plan.questions, strict=False)
    ]
    return tuple(told)


def only_surer(plan: Plan) -> bool:
    """Return whether nothing waits for what is asked: all is right, and what is read again only makes it surer."""
    if plan.verdict != "leave" or not plan.questions:
        return False
    return all(one.message.key == NEAR_EDGE and one.decides == (VERDICT,) for one in plan.questions)


def asked_heading(plan: Plan) -> str:
    """Return what stands over the plan's questions."""
    return tr("To be surer") if only_surer(plan) else tr("Answer first")


def may_be_as_told(one: Question) -> str:
    """Return the string whose note and gauge a question doubts by its pull, `all` for every one's; else empty."""
    return str(one.message.values.get("string", "all")) if one.ask in BY_PULL else ""


def as_told_message(string: str, sheet: int | None = None) -> Message:
    """Return how to answer that a string's note and gauge, or `all` of them, are right: in a file, or on a sheet."""
    key = "typed.all_as_told" if string == "all" else "typed.as_told"
    values: dict[str, str | int] = {} if string == "all" else {"string": string}
    if sheet is not None:
        return Message(key=f"{key}_on_sheet", values=values | {"sheet": sheet})
    return Message(key=key, values=values)


def _new_reason(one: Question, before: Question | None) -> bool:
    """Return whether a question has a reason of its own, not that of the question before it: a reason is said once."""
    if before is None or PLACE not in one.message.values or one.message.key != before.message.key:
        return True
    own, other = ({**each.message.values, PLACE: ""} for each in (one, before))
    return own != other


def _same_reason(one: Question) -> Message:
    return Message(key="ask.same_reason", values={PLACE: one.message.values[PLACE]}, about=one.message.about)


def found_in_order(plan: Plan) -> tuple[Found, ...]:
    """Return the plan's findings in words, as they stand."""
    return tuple(Found(words(one.message), one.message.severity, one.holds_cuts) for one in plan.findings)


def first_to_read(plan: Plan) -> str:
    """Return the sentence that names the one reading that decides what comes next; empty where none does."""
    if plan.verdict != "read-first":
        return ""
    if not plan.questions:
        return _said("read_first_unnamed")
    first = plan.questions[0]
    if first.ask != "reading" or not first.readings:
        return words(first.message)
    return words(Message(key="plan.read_first", values={"what": reading_named(first.readings[0])}))


def held_back(plan: Plan) -> str:
    """Return in one sentence what is not done before the questions are answered; empty where nothing waits."""
    keys = dict.fromkeys(key for one in plan.questions for key in _adjusters(one.decides))
    waits = _waits(tuple(keys))
    return words(Message(key="trips.held_back", values={"what": waits})) if waits else ""


def _said(name: str) -> str:
    return words(Message(key=f"trips.{name}"))


def _slacken(trip: Trip) -> str:
    """Return what is slackened, in words: a rod and a slot have their own ways."""
    special = {"at-pitch": "maker", "nut": "string"}
    return _said(f"slacken_{special.get(trip.name, trip.slacken)}")


def _adjusters(decides: Sequence[str]) -> tuple[str, ...]:
    return tuple(key for key in decides if key != VERDICT)


def _waits(keys: Sequence[str]) -> str:
    """Return adjusters, named as forms name them (`nut-slot_6`), in words: strings of one kind together."""
    kinds = adjustment_kinds()
    ends: dict[str, list[str]] = defaultdict(list)
    strings: dict[str, list[int]] = {}
    for key in keys:
        name, _, place = key.partition("_")
        said = str(kinds[name].words) if name in kinds else name
        own = strings.setdefault(said, [])
        if place.isdigit():
            own.append(int(place))
        elif place:
            ends[said].append(tr("{place} end", place=tr(place)))
    parts = [
        ", ".join([said, *ends[said], *([strings_in_words(sorted(own))] if own else [])])
        for said, own in strings.items()
    ]
    return "; ".join(parts)
