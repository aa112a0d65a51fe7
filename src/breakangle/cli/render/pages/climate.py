"""What the air does, as a page: sentences, a line a string, and what is not known."""

from rich.console import Console
from rich.padding import Padding

from breakangle.cli.render.page import bullets, grid, heading, paragraph
from breakangle.cli.render.pages.strings import known
from breakangle.cli.render.units import Units
from breakangle.model.service import Room
from breakangle.model.words.speech import tr
from breakangle.services.climate.air import Climate


def print_climate(console: Console, found: Climate, units: Units) -> None:
    """Print what changes between two rooms, and what nobody knows."""
    paragraph(
        console,
        tr("From {room} to {room_2}", room=_room(found.before), room_2=_room(found.after)),
        style="bold",
    )
    bullets(console, [units.sentence(sentence) for sentence in found.sentences])
    heading(console, tr("Open strings, in cents, if nobody retunes"))
    table = grid(
        [(tr("string"), "left", 8), (tr("within the hour"), "right", 16), (tr("over weeks"), "right", 16)]
    )
    for string in reversed(found.strings):
        row = known(string.warmth_cents, 1), known(string.damp_cents, 0)
        table.add_row(f"{string.string} {string.note}", *row)
    console.print(Padding(table, (0, 0, 0, 1)))
    heading(console, tr("What is not known"))
    bullets(console, found.not_known)


def _room(room: Room) -> str:
    return tr(
        "{temperature_c:g} °C and {humidity_percent:g} %",
        temperature_c=room.temperature_c,
        humidity_percent=room.humidity_percent,
    )
