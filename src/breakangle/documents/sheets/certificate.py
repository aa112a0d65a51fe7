"""The certificate of an instrument that leaves its maker: every figure as it left, beside what was wanted of it."""

from dataclasses import dataclass

from breakangle.documents.renderers.page import Block, Facts, Letterhead, Page, Paragraph, Table
from breakangle.documents.sheets.found import saying
from breakangle.documents.sheets.hand_back_figures import how_well, string_words
from breakangle.documents.sheets.standing import Figure, Standing
from breakangle.documents.sheets.words import NO_BREAK, figure, number, printed
from breakangle.model.instrument import Instrument
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr

KIND = mark("Certificate")
LEAD = mark("Every figure below was read before this instrument left, and every one is inside its tolerance.")


@dataclass(frozen=True)
class Certificate:
    """What a certificate says: the instrument with its readings, how it stands, whose it is and when it was made out.

    `serial` is what the maker calls the instrument by; `maker` and `day` are left out where they are empty.
    """

    service: Service
    standing: Standing
    serial: str
    maker: str = ""
    day: str = ""


def outside_words(standing: Standing) -> tuple[str, ...]:
    """Return each figure that keeps an instrument from its certificate, in words: out of tolerance, or not read."""
    found = []
    for group in standing.groups:
        name = saying(group.name).name.lower()
        for one in group.figures:
            if not one.judged(after=True):
                found.append(
                    tr("{name}, string {string}: not read, or not well enough", name=name, string=one.string)
                )
            elif not one.inside(after=True):
                reads = figure(one.printed(after=True), one.after_spread, one.unit)
                found.append(
                    tr(
                        "{name}, string {string}: {reads}, wanted {wanted}",
                        name=name,
                        string=one.string,
                        reads=reads,
                        wanted=_wanted(one),
                    )
                )
    return tuple(found)


def certificate_page(given: Certificate) -> Page:
    """Return the certificate as plain data, for any renderer."""
    instrument = given.service.instrument_now()
    facts = [
        (tr("serial number"), given.serial),
        (tr("scale"), f"{instrument.scale_mm:g} mm"),
        (tr("tuned to"), f"A4 = {given.service.reference_hz:g} Hz"),
    ]
    if given.day:
        facts.append((tr("made out on"), given.day))
    blocks: tuple[Block, ...] = (
        Paragraph(tr(LEAD), "lead"),
        Facts(tuple(facts)),
        _strings(instrument),
        Table(
            tr("Set-up as it left"),
            (tr("figure"), tr("string"), tr("fret"), tr("reads"), tr("wanted")),
            _rows(given.standing),
            1,
        ),
        Paragraph(how_well(given.standing.groups, after=True), "small"),
    )
    return Page(tr(KIND), instrument.name, Letterhead(given.maker), (), blocks)


def _strings(instrument: Instrument) -> Table:
    rows = tuple((str(one.string), one.note, string_words(one)) for one in instrument.in_order())
    return Table(tr("Strings"), (tr("string"), tr("note"), tr("what is on")), rows, 3)


def _rows(standing: Standing) -> tuple[tuple[str, ...], ...]:
    return tuple(
        (
            saying(group.name).name,
            str(one.string),
            str(one.fret),
            f"{printed(one.printed(True), one.after_spread, one.unit, one.read(True) is not None)}{_unit(one)}",
            _wanted(one),
        )
        for group in standing.groups
        for one in group.figures
    )


def _wanted(one: Figure) -> str:
    wanted, tolerance = (number(value, 0.0, one.unit) for value in (one.wanted, one.tolerance))
    return f"{wanted}{_unit(one)} ± {tolerance}"  # as lengths are said, so that they can be said in inches


def _unit(one: Figure) -> str:
    return NO_BREAK + tr(one.unit)
