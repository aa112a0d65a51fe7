"""The board as a page: what every fret of every string has, in columns of strings."""

from collections.abc import Callable, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from breakangle.cli.render.page import bullets, grid, heading, paragraph
from breakangle.cli.render.units import Units
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import capital, tr
from breakangle.planning.kinds.registry import reading_kind
from breakangle.services.service_files.compare import taken_in_words, value_of
from breakangle.services.service_files.predict import Prediction, Row, StringPrediction

STRINGS_ACROSS = 9


def _blocks(strings: Sequence[StringPrediction]) -> list[Sequence[StringPrediction]]:
    """Return the strings in blocks that fit a page, the lowest string first as it lies on the board."""
    lowest_first = list(reversed(strings))
    return [lowest_first[at : at + STRINGS_ACROSS] for at in range(0, len(lowest_first), STRINGS_ACROSS)]


def _of_strings(first: str, block: Sequence[StringPrediction]) -> Table:
    return grid([(first, "right", 4), *((f"{one.string} {one.note}", "right", 6) for one in block)])


def _board(
    console: Console,
    strings: Sequence[StringPrediction],
    rows: Callable[[StringPrediction], tuple[Row, Row]],
    figure: Callable[[float], str],
) -> None:
    """Print a row for each fret and a column for each string, with the widest doubt of each below."""
    for block in _blocks(strings):
        table = _of_strings(tr("fret"), block)
        values = [rows(one) for one in block]
        for fret in range(len(values[0][0])):
            cells = [figure(one) if (one := value[fret]) is not None else "" for value, _ in values]
            table.add_row(str(fret + 1), *cells)
        widest = [max((one for one in spread if one is not None), default=0.0) for _, spread in values]
        table.add_row(Text("±", style="dim"), *(Text(figure(2 * one), style="dim") for one in widest))
        console.print(Padding(table, (0, 0, 0, 1)))


def _conventions(console: Console, found: Prediction, units: Units) -> None:
    """Print relief, action and the like: a row for each way of reading, a column for each string."""
    groups: dict[tuple[str, str], dict[int, Reading]] = {}
    for one in found.conventions:
        groups.setdefault((one.words, taken_in_words(one.reading)), {})[one.reading.string] = one.reading
    for (words, taken), by_string in groups.items():
        kind = reading_kind(next(iter(by_string.values())))
        paragraph(
            console,
            tr(
                "{what} in {unit}, {taken}",
                what=capital(tr(words)),
                unit=units.unit_of(kind.unit),
                taken=taken,
            ),
            indent=1,
        )
        for block in _blocks(found.strings):
            table = _of_strings("", block)
            cells = [
                value_of(by_string[one.string], kind.unit) if one.string in by_string else None
                for one in block
            ]
            for place, sign in enumerate(("", "±")):
                shown = (
                    units.figure((1 + place) * cell[place], kind.unit, kind.decimals) if cell else ""
                    for cell in cells
                )
                table.add_row(
                    Text(sign, style="dim"), *(Text(one, style="dim" if sign else "") for one in shown)
                )
            console.print(Padding(table, (0, 0, 0, 1)))


def print_board(console: Console, service: Service, found: Prediction, units: Units) -> None:
    """Print the whole board's prediction in `units`."""
    paragraph(console, f"{service.instrument.name}: {service.instrument.kind}", style="bold")
    heading(console, tr("As a gauge and a tuner would read it"))
    _conventions(console, found, units)
    heading(console, tr("Open string over each crown, {unit_of}", unit_of=units.unit_of("mm")))
    _board(
        console,
        found.strings,
        lambda one: (one.clearance_mm, one.clearance_uncertainty_mm),
        lambda value: units.figure(value, "mm", 2),
    )
    heading(console, tr("Stopped note from its tempered pitch, the open string in tune, cents"))
    _board(
        console,
        found.strings,
        lambda one: (one.cents, one.cents_uncertainty),
        lambda value: units.figure(value, "cents", 1),
    )
    paragraph(
        console,
        tr("± holds 19 times in 20, at the fret known least; sharp is positive."),
        indent=1,
        style="dim",
    )
    if found.notes:
        heading(console, tr("Notes"))
        bullets(console, [units.sentence(note) for note in found.notes])
