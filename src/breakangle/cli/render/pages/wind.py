"""Windings as a page: one line a string, then what to do."""

from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding

from breakangle.cli.render.page import bullets, grid, heading
from breakangle.cli.render.units import Units
from breakangle.model.words.speech import tr
from breakangle.services.strings.winding import Winding


def print_windings(console: Console, found: Sequence[Winding], units: Units) -> None:
    """Print slack, mark and winds of every string, and the sentences they have in common once."""
    unit = units.unit_of("mm")
    table = grid(
        [(tr("string"), "left", 8), (tr("post"), "left", 9), (tr("winds"), "right", 6),
          (tr("slack, {unit}", unit=unit), "right", 12),
         (tr("mark past"), "right", 10), (tr("fills"), "right", 7), ("of", "right", 6)]
    )  # fmt: skip
    for one in reversed(found):
        table.add_row(
            "" if one.string is None else str(one.string), one.post, f"{one.winds:.1f}",
            units.rough(one.slack_mm), units.rough(one.mark_past_mm),
            units.rough(one.filled_mm, 1), units.rough(one.room_mm, 1),
        )  # fmt: skip
    console.print(Padding(table, (0, 0, 0, 1)))
    common = [said for said in found[0].sentences if all(said in one.sentences for one in found)]
    for one in reversed(found):
        own = [said for said in one.sentences if said not in common or len(found) == 1]
        if own:
            heading(
                console,
                tr("String {string}", string=one.string) if one.string is not None else tr("This string"),
            )
            bullets(console, [units.sentence(said) for said in own])
    if len(found) > 1 and common:
        heading(console, tr("All of them"))
        bullets(console, [units.sentence(said) for said in common])
