"""The hand-back sheet: what an owner takes home, as blocks in reading order."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import zip_longest

from breakangle.documents.labels.label import courses_words
from breakangle.documents.renderers.page import (
    Beside,
    Block,
    Break,
    Heading,
    Letterhead,
    Page,
    Paragraph,
    Picture,
    Points,
    Table,
)
from breakangle.documents.sheets.complaints import complaint_points
from breakangle.documents.sheets.done import done_words, planned_words
from breakangle.documents.sheets.found import before_after_rows, found_words, in_short, known_unlike
from breakangle.documents.sheets.hand_back_figures import RECKONED_SO, Figures, Pictures, figure_blocks
from breakangle.documents.sheets.left import Reasons, left_alone, still_open
from breakangle.documents.sheets.standing import Standing
from breakangle.documents.sheets.words import NO_BREAK, RECKONED, a_sentence, day_words
from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.reference.strings import make

KIND = mark("Hand-back sheet")
COMFORT_PERCENT = (40, 60)  # where wooden instruments are kept; common practice, no source
MOST_WATCHED = 4
FEW = 2
BEFORE_AFTER_SHARE = 0.6
LEAST_PT = 9.0
COMING_BACK = {
    "relief": mark("Relief, as the air changes"), "action": mark("Action, as the air changes"),
    "new strings": mark("New strings"),
    "a check": mark("A check"),
}  # fmt: skip


@dataclass(frozen=True)
class Photograph:
    """A photograph on the owner's sheet: `when` is `before` or `after`; two of one `pair` stand side by side."""

    when: str
    picture: Picture
    pair: int | None = None


@dataclass(frozen=True)
class HandBack:
    """Everything the sheet says, from wherever it is kept. `coming_back`: what, when and why; `price`: lines of a bill.

    `reasons` say why figures stay out, `declined` is what the owner wished left, `watch` the planner's own sentences.
    `needed_nothing`, `came_clear` and `clear` are its judgement: nothing was needed; nothing was found beside the
    figures, no note that touches, as it came and now. `asked`: what stood open at hand-back, and the reason written.
    `amended`: days and reasons of the amendments this sheet holds. `apart`: figures begin on a page of their own.
    `strings_since` is the day they were fitted, if known.
    """

    letterhead: Letterhead
    number: int
    owner: str
    complaint: str
    came: date
    left: date | None
    service: Service
    standing: Standing
    reasons: Reasons = field(default_factory=Reasons)
    declined: tuple[Adjustment, ...] = ()
    watch: tuple[str, ...] = ()
    coming_back: tuple[tuple[str, date, str], ...] = ()
    price: tuple[tuple[str, str], ...] = ()
    price_note: str = ""
    promised: date | None = None
    needed_nothing: bool = False
    came_clear: bool = False
    clear: bool = False
    strings_since: date | None = None
    owner_words: str = ""
    asked: tuple[tuple[str, str], ...] = ()
    signed: str = ""
    amended: tuple[tuple[date, str], ...] = ()
    photographs: tuple[Photograph, ...] = ()
    buzz: str = ""
    pictures: Pictures = field(default_factory=Pictures)
    apart: bool = True
    code_svg: str = ""
    code_words: str = ""

    @property
    def now(self) -> str:
        """Return what the present state is called: how it left, or how it stands while it is still here."""
        return tr("as it left") if self.left is not None else tr("as it stands")


def hand_back_page(given: HandBack) -> Page:
    """Return the sheet: the first page plain, in words; every figure and the drawings on the second."""
    instrument = given.service.instrument_now()
    work = done_words(given.service.work, instrument)
    lead = in_short(given.standing, bool(work), given.needed_nothing, given.clear)
    blocks: list[Block] = [*_amended(given), Paragraph(lead, "lead")]
    blocks += [Paragraph(given.owner_words.strip())] if given.owner_words.strip() else []
    blocks += _told(given)
    blocks += _points(tr("What we found"), found_words(given.standing, given.came_clear and given.clear))
    blocks += [Heading(tr("What we did")), Points(work) if work else Paragraph(tr("Nothing was adjusted."))]
    blocks += _points(tr("Left at your wish"), declined_words(given.declined, instrument))
    blocks += _points(tr("What we left alone"), left_alone(given.standing, given.clear))
    blocks += _points(
        tr("What is still open, and why"), (*still_open(given.standing, given.reasons), *_asked(given))
    )
    blocks += _figures_and_pictures(given)
    ahead, coming = _ahead(given), _coming_back(given)
    care: tuple[Block, ...] = (Heading(tr("Take care")), Points(cautions(instrument)))
    # Under whichever column is shorter.
    left, right = ((*ahead, *care), coming) if len(given.coming_back) > FEW else (ahead, (*coming, *care))
    blocks += [Beside(left, right), *_signed(given)]
    figures = Figures(
        given.service, given.standing, given.left is not None, given.strings_since, given.buzz, given.pictures
    )
    blocks += [Break()] if given.apart else []
    return Page(
        kind=tr(KIND),
        title=instrument.name,
        letterhead=given.letterhead,
        facts=_facts(given, instrument),
        blocks=(*blocks, *figure_blocks(figures)),
        foot=tr("{shop}, sheet {number}", shop=given.letterhead.name, number=given.number),
        code_svg=given.code_svg,
        code_alt=tr("Code that opens this instrument's page: {code_words}", code_words=given.code_words)
        if given.code_svg
        else "",
        code_words=given.code_words,
        small_pt=LEAST_PT,
    )


def _points(heading: str, items: Sequence[str]) -> list[Block]:
    return [Heading(heading), Points(tuple(items))] if items else []


def _facts(given: HandBack, instrument: Instrument) -> tuple[tuple[str, str], ...]:
    room = given.service.room
    air = []
    if room is not None and room.humidity_percent is not None:
        air.append(tr("{humidity_percent:.0f} % humidity", humidity_percent=room.humidity_percent))
    if room is not None and room.temperature_c is not None:
        air.append(f"{room.temperature_c:.0f} °C")
    return (
        ("Owner", given.owner),
        (tr("Sheet"), str(given.number)),
        (tr("Taken in"), day_words(given.came)),
        (tr("Handed back"), day_words(given.left) if given.left else tr("not yet")),
        (tr("Promised for"), day_words(given.promised) if given.promised else ""),
        (tr("Tuned to"), courses_words(instrument)[0]),
        (tr("Our room"), ", ".join(air)),
    )


def _amended(given: HandBack) -> list[Block]:
    amended = mark("Amended on {day}: {reason} The sheet before it is kept as it was.")
    return [
        Paragraph(tr(amended, day=day_words(day), reason=a_sentence(reason))) for day, reason in given.amended
    ]


def _told(given: HandBack) -> list[Block]:
    return _points(
        tr("You told us"), complaint_points(given.service.complaints, given.complaint, given.reasons.written)
    )


def _asked(given: HandBack) -> tuple[str, ...]:
    return tuple(f"{a_sentence(question)} {a_sentence(reason)}" for question, reason in given.asked)


def _signed(given: HandBack) -> list[Block]:
    if not given.signed or given.left is None:
        return []
    day = day_words(given.left)
    return [Paragraph(tr("Handed back on {day}, signed {name}.", day=day, name=given.signed))]


def declined_words(declined: Sequence[Adjustment], instrument: Instrument) -> tuple[str, ...]:
    """Return what was planned and left at the owner's wish, like moves of several strings as one."""
    return tuple(
        tr("Not done: {words}", words=words[:1].lower() + words[1:])
        for words in planned_words(declined, instrument)
    )


def _figures_and_pictures(given: HandBack) -> list[Block]:
    """Return before and after, and the price: beside each other, or beside the photographs where there are any."""
    before_after, price = _before_after(given), _price(given)
    if given.photographs:
        return [Beside((*before_after, *price), _photographs(given.photographs), BEFORE_AFTER_SHARE)]
    if before_after and price:
        return [Beside(before_after, price, BEFORE_AFTER_SHARE)]
    return [*before_after, *price]


def _photographs(photographs: Sequence[Photograph]) -> tuple[Block, ...]:
    """Return pairs side by side, then the others below each other; of many, before on the left, after on the right."""
    pairs: dict[int, list[Picture]] = {}
    for one in photographs:
        if one.pair is not None:
            pairs.setdefault(one.pair, []).append(one.picture)
    blocks: list[Block] = [Beside(tuple(two[:1]), tuple(two[1:])) for two in pairs.values()]
    alone = [photograph for photograph in photographs if photograph.pair is None]
    if len(alone) <= FEW:
        return (*blocks, *(one.picture for one in alone))
    before, after = ([one.picture for one in alone if one.when == when] for when in ("before", "after"))
    rows = zip_longest(before, after)
    return (*blocks, *(Beside((left,) if left else (), (right,) if right else ()) for left, right in rows))


def _before_after(given: HandBack) -> tuple[Block, ...]:
    rows = before_after_rows(given.standing)
    if not rows:
        return ()
    head: tuple[str, ...] = ("", tr("as it came"), given.now, tr("wanted"))
    if not given.service.work:
        rows, head = tuple((row[0], *row[2:]) for row in rows), ("", given.now, tr("wanted"))
    heading = Heading(tr("Before and after") if given.service.work else tr("How it reads"))
    found: list[Block] = [heading, Table("", head, rows)]
    told = []
    if not given.standing.read_after and given.service.work:
        told.append(
            tr(
                "It was not read again after the last adjustment: these figures follow from the readings before it."
            )
        )
    if any(RECKONED in cell for row in rows for cell in row[1:]):
        told.append(tr(RECKONED_SO))
    if given.service.work:
        told.append(known_unlike(given.standing, given.now))
    if any(tr("cents") in row[0] for row in rows):
        told.append(tr("A cent is a hundredth of a semitone."))
    words = " ".join(one for one in told if one)
    return (*found, *([Paragraph(words, "small")] if words else []))


def _ahead(given: HandBack) -> tuple[Block, ...]:
    low, high = COMFORT_PERCENT
    room = given.service.room
    humidity = room.humidity_percent if room is not None else None
    was = mark(" It was set up at {humidity:.0f}{no_break}%.")
    read = tr(was, humidity=humidity, no_break=NO_BREAK) if humidity is not None else ""
    watch = [a_sentence(one) for one in given.watch[:MOST_WATCHED]]
    air = mark(
        "Wood moves with the air: keep it between {low} and {high} % humidity, away from heaters and sun."
    )
    watch.append(tr(air, low=low, high=high) + read)
    return (Heading(tr("What to watch")), Points(tuple(watch)))


def _visit_for(what: str) -> str:
    return tr(COMING_BACK.get(what, what.capitalize()))


def _coming_back(given: HandBack) -> tuple[Block, ...]:
    if not given.coming_back:
        return ()
    about = mark("{what}: about {day} ({why}).")
    told = [
        tr(about, what=_visit_for(what), day=day_words(on), why=why.replace(" -", " −"))
        for what, on, why in given.coming_back
    ]
    return (Heading(tr("When to come back")), Points(tuple(told)))


def cautions(instrument: Instrument) -> tuple[str, ...]:
    """Return what an owner should take care of on this instrument."""
    wire = any(make(string.make).has_wire for string in instrument.strings)
    eyes = tr(", and wear eye protection. Wire whips.") if wire else "."
    found = [tr("Changing strings: slacken before you cut{eyes}", eyes=eyes)]
    if instrument.rod.kind != "none":
        found.append(
            tr("The truss rod: leave it to us, or a quarter turn at most at a time, and never by force.")
        )
    if instrument.bridge.kind == "floating":
        found.append(tr("The floating bridge: its springs are under load; change one string at a time."))
    return tuple(found)


def _price(given: HandBack) -> tuple[Block, ...]:
    if not given.price:
        return ()
    blocks: list[Block] = [Heading(tr("Price")), Table("", ("", ""), given.price, 1, last=True)]
    return (*blocks, Paragraph(given.price_note, "small")) if given.price_note else tuple(blocks)
