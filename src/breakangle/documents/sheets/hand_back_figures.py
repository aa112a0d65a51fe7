"""The hand-back sheet's second page: every figure of every string, and its drawings, for who wants them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from breakangle.documents.renderers.page import Block, Heading, Paragraph, Picture, Table
from breakangle.documents.sheets.done import moved_kinds
from breakangle.documents.sheets.found import before_after_rows, saying
from breakangle.documents.sheets.standing import Figure, Group, Standing, by_string
from breakangle.documents.sheets.words import RECKONED, a_sentence, day_words, how_sure, listed, printed
from breakangle.model.instrument import Instrument, String
from breakangle.model.measure import INCH_MM
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr, tr_n
from breakangle.reference.strings import make

RECKONED_SO = mark("≈ marks what is calculated from the other readings and the work, and was not read so.")


@dataclass(frozen=True)
class Pictures:
    """The drawings of one sheet, each with its name."""

    named: tuple[tuple[str, Picture], ...] = ()


@dataclass(frozen=True)
class Figures:
    """What the second page says; `has_left`: the instrument, so that its present state is how it left."""

    service: Service
    standing: Standing
    has_left: bool
    strings_since: date | None
    buzz: str
    pictures: Pictures


def figure_blocks(given: Figures) -> list[Block]:
    """Return the second page's blocks."""
    blocks = _settings(given, given.service.instrument_now())
    blocks += [Paragraph(given.buzz)] if given.buzz else []
    return [*blocks, *_pictures(given.pictures)]


def _settings(given: Figures, instrument: Instrument) -> list[Block]:
    """Return a row for each string: what is on, and how it stands."""
    columns = [(group, by_string(group.judged(after=True), instrument)) for group in given.standing.groups]
    columns = [(group, found) for group, found in columns if found]
    head = [tr("string"), tr("note"), tr("what is on")]
    head += [f"{saying(group.name).name.lower()}, {tr(group.unit)}" for group, _ in columns]
    rows = []
    for one in reversed(instrument.in_order()):
        course = instrument.course_of(one.string)
        cells = [
            str(one.string),
            one.note + (tr(", course {course}", course=course) if course else ""),
            string_words(one),
        ]
        for group, found in columns:
            read = found.get(one.string)
            wanted = any(figure.string == one.string for figure in group.figures)
            cells.append(_after(read) if read else tr("not read") if wanted else "–")
        rows.append(tuple(cells))
    notes = [how_well([group for group, _ in columns], after=True)]
    if given.service.work:
        notes.append(how_well(given.standing.groups, after=False))
    before_after = [cell for row in before_after_rows(given.standing) for cell in row]
    if any(group.reckoned(True) for group, _ in columns) and not any(RECKONED in one for one in before_after):
        notes.append(tr(RECKONED_SO))
    if "restring" in moved_kinds(given.service.work):
        notes.append(tr("Strings fitted at this visit."))
    elif given.strings_since is not None:
        notes.append(tr("Strings on since {day_words}.", day_words=day_words(given.strings_since)))
    notes.append(tr("Tuned to A4 = {reference_hz:g} Hz.", reference_hz=given.service.reference_hz))
    return [
        Heading(
            tr("Strings and settings as they left")
            if given.has_left
            else tr("Strings and settings as they stand")
        ),
        Table("", tuple(head), tuple(rows), 3),
        Paragraph(" ".join(note for note in notes if note), "small"),
    ]


def _after(read: Figure) -> str:
    return printed(read.printed(True), read.after_spread, read.unit, read.read(True) is not None)


def how_well(groups: Sequence[Group], after: bool) -> str:
    """Return how well the figures of these groups are known, or were as it came, those known alike together."""
    found: dict[str, list[str]] = {}
    for group in groups:
        if group.judged(after):
            sure = how_sure(group.spread(after), group.unit)
            found.setdefault(sure, []).append(saying(group.name).name.lower())
    parts = [
        tr_n(
            "{listed} is known {sure}",
            "{listed} are known {sure}",
            len(names),
            listed=listed(names),
            sure=sure,
        )
        if after
        else tr_n(
            "{listed} was known {sure}",
            "{listed} were known {sure}",
            len(names),
            listed=listed(names),
            sure=sure,
        )
        for sure, names in found.items()
    ]
    if not parts:
        return ""
    known = ", ".join(parts)
    return a_sentence(known if after else tr("as it came, {known}", known=known))


def string_words(one: String) -> str:
    """Return what a string is: its make, and its diameter in mm and thousandths of an inch."""
    inches = f"{one.diameter_mm / INCH_MM:.3f}".removeprefix("0")
    return f"{make(one.make).title} {one.diameter_mm:.2f} mm ({inches} in)"


def _pictures(pictures: Pictures) -> list[Block]:
    return [block for name, picture in pictures.named for block in (Heading(name), picture)]
