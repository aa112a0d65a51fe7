"""The hand-back sheet: what an owner takes home, as blocks in reading order."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from breakangle.model.instrument import Instrument, String
from breakangle.model.measure import INCH_MM
from breakangle.model.service import Service
from breakangle.report.done import done_words, moved_kinds
from breakangle.report.found import (
    before_after_rows,
    found_words,
    in_short,
    known_unlike,
    left_alone,
    saying,
)
from breakangle.report.page import (
    Beside,
    Block,
    Heading,
    Letterhead,
    Page,
    Paragraph,
    Picture,
    Points,
    Table,
)
from breakangle.report.standing import Group, Standing, by_string
from breakangle.report.words import NO_BREAK, a_sentence, day_words, how_sure, listed, number

KIND = "Hand-back sheet"
COMFORT_PERCENT = (40, 60)  # where wooden instruments are kept; common practice, no source
MOST_WATCHED = 4
FEW = 2
BEFORE_AFTER_SHARE = 0.6
COMING_BACK = {
    "relief": "Relief, as the air changes", "action": "Action, as the air changes", "new strings": "New strings",
    "a check": "A check",
}  # fmt: skip


@dataclass(frozen=True)
class PictureRow:
    """One picture, or two beside each other, each with its name."""

    left: tuple[str, Picture]
    right: tuple[str, Picture] | None = None


@dataclass(frozen=True)
class Pictures:
    """The pictures of one sheet: rows of two, then those that fill the width."""

    rows: tuple[PictureRow, ...] = ()
    below: tuple[Picture, ...] = ()


@dataclass(frozen=True)
class HandBack:
    """Everything the sheet says, from wherever it is kept. `coming_back`: what, when and why; `price`: lines of a bill.

    `beyond` and `watch` are the planner's own sentences. `strings_since` is the day they were fitted, if known.
    """

    letterhead: Letterhead
    number: int
    owner: str
    complaint: str
    came: date
    left: date | None
    service: Service
    standing: Standing
    beyond: tuple[str, ...] = ()
    watch: tuple[str, ...] = ()
    coming_back: tuple[tuple[str, date, str], ...] = ()
    price: tuple[tuple[str, str], ...] = ()
    price_note: str = ""
    strings_since: date | None = None
    notes: str = ""
    buzz: str = ""
    pictures: Pictures = Pictures()
    code_svg: str = ""
    code_words: str = ""

    @property
    def now(self) -> str:
        """Return what the present state is called: how it left, or how it stands while it is still here."""
        return "as it left" if self.left is not None else "as it stands"


def hand_back_page(given: HandBack) -> Page:
    """Return the sheet: words first, pictures on what follows."""
    instrument = given.service.instrument_now()
    standing = given.standing
    work = done_words(given.service.work, given.service.instrument)
    blocks: list[Block] = [Paragraph(in_short(standing, bool(work)), "lead"), Heading("What we found")]
    blocks.append(Points(found_words(standing)))
    blocks += [Heading("What we did"), _did(work, given)]
    kept = left_alone(standing, given.beyond)
    if kept:
        still = any(group.outside(after=True) for group in standing.groups)
        blocks += [Heading(f"What we left alone{', and what is still open' if still else ''}"), Points(kept)]
    before_after, price = _before_after(given), _price(given)
    blocks += (
        [Beside(before_after, price, BEFORE_AFTER_SHARE)]
        if before_after and price
        else [*before_after, *price]
    )
    blocks += [Paragraph(given.buzz)] if given.buzz else []
    blocks += _settings(given, instrument)
    ahead, coming = _ahead(given), _coming_back(given)
    care: tuple[Block, ...] = (Heading("Take care"), Points(cautions(instrument)))
    # Under whichever column is shorter.
    left, right = ((*ahead, *care), coming) if len(given.coming_back) > FEW else (ahead, (*coming, *care))
    blocks.append(Beside(left, right))
    blocks += _pictures(given.pictures)
    return Page(
        kind=KIND,
        title=instrument.name,
        letterhead=given.letterhead,
        facts=_facts(given),
        blocks=tuple(blocks),
        foot=f"{given.letterhead.name}, sheet {given.number}",
        code_svg=given.code_svg,
        code_alt=f"Code that opens this instrument's page: {given.code_words}" if given.code_svg else "",
        code_words=given.code_words,
    )


def _facts(given: HandBack) -> tuple[tuple[str, str], ...]:
    room = given.service.room
    air = []
    if room is not None and room.humidity_percent is not None:
        air.append(f"{room.humidity_percent:.0f} % humidity")
    if room is not None and room.temperature_c is not None:
        air.append(f"{room.temperature_c:.0f} °C")
    return (
        ("Owner", given.owner),
        ("Sheet", str(given.number)),
        ("Taken in", day_words(given.came)),
        ("Handed back", day_words(given.left) if given.left else "not yet"),
        ("You told us", given.complaint),
        ("Our room", ", ".join(air)),
    )


def _did(work: Sequence[str], given: HandBack) -> Block:
    if not work:
        return Paragraph("Nothing was adjusted.")
    items = list(work)
    if given.notes.strip():
        items.append(a_sentence(given.notes))
    return Points(tuple(items))


def _before_after(given: HandBack) -> tuple[Block, ...]:
    rows = before_after_rows(given.standing)
    if not rows:
        return ()
    head: tuple[str, ...] = ("", "as it came", given.now, "wanted")
    if not given.service.work:
        rows, head = tuple((row[0], *row[2:]) for row in rows), ("", given.now, "wanted")
    heading = Heading("Before and after" if given.service.work else "How it reads")
    found: list[Block] = [heading, Table("", head, rows)]
    told = []
    if not given.standing.read_after and given.service.work:
        told.append(
            "It was not read again after the last adjustment: these figures follow from the readings before it."
        )
    if given.service.work:
        told.append(known_unlike(given.standing, given.now))
    if any("cents" in row[0] for row in rows):
        told.append("A cent is a hundredth of a semitone; few people hear less than five.")
    words = " ".join(one for one in told if one)
    return (*found, *([Paragraph(words, "small")] if words else []))


def _settings(given: HandBack, instrument: Instrument) -> list[Block]:
    """Return a row for each string: what is on, and how it stands."""
    columns = [(group, by_string(group.judged(after=True), instrument)) for group in given.standing.groups]
    columns = [(group, found) for group, found in columns if found]
    head = [
        "string",
        "note",
        "what is on",
        *(f"{saying(group.name).name.lower()}, {group.unit}" for group, _ in columns),
    ]
    rows = []
    for one in instrument.in_order():
        cells = [str(one.string), one.note, string_words(one)]
        for group, found in columns:
            read = found.get(one.string)
            cells.append(number(read.after, read.after_spread, group.unit) if read else "–")
        rows.append(tuple(cells))
    notes = [_how_well([group for group, _ in columns])]
    if "restring" in moved_kinds(given.service.work):
        notes.append("Strings fitted at this visit.")
    elif given.strings_since is not None:
        notes.append(f"Strings on since {day_words(given.strings_since)}.")
    notes.append(f"Tuned to A4 = {given.service.reference_hz:g} Hz.")
    return [
        Heading(f"Strings and settings {given.now.replace('it', 'they', 1).replace('stands', 'stand')}"),
        Table("", tuple(head), tuple(rows), 3),
        Paragraph(" ".join(one for one in notes if one), "small"),
    ]


def _how_well(groups: Sequence[Group]) -> str:
    """Return how well the figures of these groups are known, those known alike together."""
    found: dict[str, list[str]] = {}
    for group in groups:
        found.setdefault(how_sure(group.spread(after=True), group.unit), []).append(
            saying(group.name).name.lower()
        )
    parts = [
        f"{listed(names)} {'are' if len(names) > 1 else 'is'} known {sure}" for sure, names in found.items()
    ]
    return a_sentence(", ".join(parts)) if parts else ""


def string_words(one: String) -> str:
    """Return what a string is: its make, and its diameter in mm and thousandths of an inch."""
    inches = f"{one.diameter_mm / INCH_MM:.3f}".removeprefix("0")
    return f"{one.make.replace('-', ' ')} {one.diameter_mm:.2f} mm ({inches} in)"


def _ahead(given: HandBack) -> tuple[Block, ...]:
    low, high = COMFORT_PERCENT
    room = given.service.room
    humidity = room.humidity_percent if room is not None else None
    read = f" It was set up at {humidity:.0f}{NO_BREAK}%." if humidity is not None else ""
    watch = [a_sentence(one) for one in given.watch[:MOST_WATCHED]]
    watch.append(
        f"Wood moves with the air: keep it between {low} and {high} % humidity, away from heaters and sun.{read}"
    )
    return (Heading("What to watch"), Points(tuple(watch)))


def _coming_back(given: HandBack) -> tuple[Block, ...]:
    if not given.coming_back:
        return ()
    told = [
        f"{COMING_BACK.get(what, what.capitalize())}: about {day_words(on)} ({why.replace(' -', ' −')})."
        for what, on, why in given.coming_back
    ]
    return (Heading("When to come back"), Points(tuple(told)))


def cautions(instrument: Instrument) -> tuple[str, ...]:
    """Return what an owner should take care of on this instrument."""
    found = []
    if any("steel" in one.make for one in instrument.strings):
        found.append("Changing strings: slacken before you cut, and wear eye protection. Wire whips.")
    else:
        found.append("Changing strings: slacken before you cut.")
    if instrument.rod.kind != "none":
        found.append(
            "The truss rod: leave it to us, or a quarter turn at most at a time, and never by force."
        )
    if instrument.bridge.kind == "floating":
        found.append("The floating bridge: its springs are under load; change one string at a time.")
    return tuple(found)


def _price(given: HandBack) -> tuple[Block, ...]:
    if not given.price:
        return ()
    blocks: list[Block] = [Heading("Price"), Table("", ("", ""), given.price, 1, last=True)]
    return (*blocks, Paragraph(given.price_note, "small")) if given.price_note else tuple(blocks)


def _pictures(pictures: Pictures) -> list[Block]:
    found: list[Block] = []
    for row in pictures.rows:
        sides = [(Heading(one[0]), one[1]) if one is not None else () for one in (row.left, row.right)]
        found.append(Beside(sides[0], sides[1]))
    return [*found, *pictures.below]
