"""The levelling sheet: the fret map, what to mind, and what to read again when the beam is put down."""

from dataclasses import dataclass

from breakangle.documents.renderers.page import (
    Boxes,
    Facts,
    Heading,
    Letterhead,
    Page,
    Paragraph,
    Points,
    Table,
)
from breakangle.model.words.speech import tr

FINEST_MM = 0.005  # less is nothing on the map; common practice, no source


@dataclass(frozen=True)
class LevellingSheet:
    """What the sheet says: `off_mm` by string (1 first) and fret; `sides_mm` by fret, bass and treble side.

    `strings` in the order of the map's columns; `frets` those that lose metal; `unread` those nobody read.
    """

    title: str
    letterhead: Letterhead
    strings: tuple[int, ...]
    frets: tuple[int, ...]
    off_mm: tuple[tuple[float, ...], ...]
    sides_mm: tuple[tuple[float, float], ...]
    unread: tuple[int, ...]
    verdict: str
    first: tuple[str, ...]
    after: tuple[str, ...]
    cautions: tuple[str, ...]
    least_mm: float


def levelling_page(sheet: LevellingSheet) -> Page:
    """Return the sheet as plain data, for any renderer."""
    blocks: list[Heading | Paragraph | Points | Table | Boxes | Facts] = [Paragraph(sheet.verdict, "lead")]
    if sheet.first:
        blocks += [Heading(tr("First")), Points(sheet.first)]
    if sheet.cautions:
        blocks += [Heading(tr("Mind")), Points(sheet.cautions)]
    if sheet.frets:
        blocks += [
            _map(sheet),
            Facts(
                ((tr("never lower than"), tr("{least_mm:.2f} mm above the board", least_mm=sheet.least_mm)),)
            ),
        ]
    blocks.append(Points(sheet.after))
    if sheet.frets:
        rows = tuple((str(fret), *[""] * len(sheet.strings)) for fret in sheet.frets)
        head = (tr("fret"), *(tr("string {item}", item=one) for one in sheet.strings))
        blocks.append(Boxes(tr("Read again after levelling, crown by crown"), head, rows))
    return Page(
        kind=tr("Levelling sheet"),
        title=sheet.title,
        letterhead=sheet.letterhead,
        facts=(),
        blocks=tuple(blocks),
    )


def _map(sheet: LevellingSheet) -> Table:
    head = (
        tr("fret"),
        *(tr("string {item}", item=one) for one in sheet.strings),
        tr("bass side"),
        tr("treble side"),
    )
    rows = []
    for fret in sheet.frets:
        cells = [_cell(sheet.off_mm[string - 1][fret - 1]) for string in sheet.strings]
        sides = [_cell(one) for one in sheet.sides_mm[fret - 1]]
        rows.append((f"{fret}{(tr(' (not read)') if fret in sheet.unread else '')}", *cells, *sides))
    return Table(tr("Metal off each crown"), head, tuple(rows))


def _cell(mm: float) -> str:
    return f"{mm:.2f} mm" if mm >= FINEST_MM else ""
