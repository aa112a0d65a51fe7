"""A swap as a page: the answer, what moves, slots and balance, the plan that it leads to."""

from itertools import groupby

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from breakangle.cli.render.page import bullets, grid, heading, paragraph
from breakangle.cli.render.pages.strings import known
from breakangle.cli.render.units import Units
from breakangle.model.words.speech import capital, tr
from breakangle.planning.state.uncertain_value import Known
from breakangle.services.service_files.compare import told
from breakangle.services.swap.comparison import Swap
from breakangle.services.swap.results import SwapFigure, SwapString, slots_in_words

EVERY = 3  # frets between rows of the board: enough to see how the gaps move


def print_swap(console: Console, found: Swap, units: Units) -> None:
    """Print what a swap does: what speaks against it, then the answer."""
    for caution in found.cautions:
        paragraph(console, units.sentence(caution.words), style="bold" if caution.refuses else "")
    paragraph(console, found.sentence, style="bold")
    bullets(console, [units.sentence(reason[:1].upper() + reason[1:]) + "." for reason in found.reasons])
    heading(console, tr("Pull"))
    paragraph(console, tr("Before: {old_words}", old_words=found.old.words), indent=1)
    paragraph(console, tr("After:  {new_words}", new_words=found.new.words), indent=1)
    change = found.pull_change_n
    way = tr("more") if change.value >= 0.0 else tr("less")
    paragraph(
        console,
        tr(
            "The neck carries {known} N {way}.",
            known=known(Known(abs(change.value), change.uncertainty), 0),
            way=way,
        ),
        1,
    )
    _figures(console, found, units)
    _board(console, found, units)
    if found.slots:
        heading(console, tr("Nut slots"))
        bullets(console, [f"{one[:1].upper()}{one[1:]}." for one in slots_in_words(found.slots)])
    _floating(console, found, units)
    heading(console, tr("What it would lead to, if it then reads so"))
    _plan(console, found, units)
    heading(console, tr("Notes"))
    bullets(console, [units.sentence(note) for note in found.notes])


def _figures(console: Console, found: Swap, units: Units) -> None:
    heading(console, tr("What was wanted, before and after"))
    columns: list[tuple[str, str, int | None]] = [("", "left", 8), ("wanted", "right", 14)]
    columns += [("before", "right", 14), ("after", "right", 14), ("out", "right", 6)]
    head = True
    for (words, taken, unit), group in groupby(found.figures, lambda one: (one.words, one.taken, one.unit)):
        paragraph(
            console,
            tr("{what} in {unit}, {taken}", what=capital(words), unit=units.unit_of(unit), taken=taken),
            indent=1,
        )
        table = grid(columns, head)
        for one in group:
            table.add_row(*_cells(one, units))
        console.print(Padding(table, (0, 0, 0, 2)))
        head = False
    paragraph(console, tr("± holds 19 times in 20; out: chance to be outside then; ?: not read."), 1, "dim")


def _cells(one: SwapFigure, units: Units) -> list[str]:
    def with_spread(value: float, spread: float) -> str:
        return (
            f"{units.figure(value, one.unit, one.decimals)} ± {units.figure(spread, one.unit, one.decimals)}"
        )

    return [
        tr("string {string}", string=one.string),
        with_spread(one.wanted, one.tolerance),
        with_spread(one.before.value, 2 * one.before.uncertainty),
        with_spread(one.after.value, 2 * one.after.uncertainty),
        f"{100 * one.outside_chance:.0f} %" if one.judged else "?",
    ]


def _board(console: Console, found: Swap, units: Units) -> None:
    """Print how the open strings' clearances move, every few frets; the JSON has every fret."""
    strings: list[SwapString] = list(reversed(found.strings))
    heading(
        console,
        tr(
            "Change of clearance in {unit_of}, open strings, over every third fret",
            unit_of=units.unit_of("mm"),
        ),
    )
    columns = [(f"{one.string} {one.note}", "right", 7) for one in strings]
    table = grid([(tr("fret"), "right", 4), *columns])
    frets = len(strings[0].clearance_change_mm)
    shown = sorted({0, *range(EVERY - 1, frets, EVERY)})
    for fret in shown:
        row = [string.clearance_change_mm[fret] for string in strings]
        table.add_row(
            str(fret + 1), *("" if one is None else units.figure(one.value, "mm", 2) for one in row)
        )
    widest = [
        max((k.uncertainty for k in string.clearance_change_mm if k), default=0.0) for string in strings
    ]
    doubt = [Text(units.figure(2 * one, "mm", 2), style="dim") for one in widest]
    table.add_row(Text("±", style="dim"), *doubt)
    console.print(Padding(table, (0, 0, 0, 1)))


def _floating(console: Console, found: Swap, units: Units) -> None:
    balance = found.floating
    if balance is None:
        return
    heading(console, tr("Floating bridge"))
    travel = balance.claw_travel_mm
    way = tr("Tighten") if travel.value > 0.0 else tr("Slacken")
    rise = balance.rise_if_left_mm
    said = (
        tr(
            "The springs pull {known} N now, then {known_2} N.",
            known=known(balance.force_before_n, 0),
            known_2=known(balance.force_after_n, 0),
        ),
        tr(
            "{way} the claw by {travel:.1f} mm ± {uncertainty:.1f}, both screws alike.",
            way=way,
            travel=abs(travel.value),
            uncertainty=2 * travel.uncertainty,
        ),
        tr(
            "Left alone, the saddles would move {rise:+.2f} mm ± {uncertainty:.2f} in height.",
            rise=rise.value,
            uncertainty=2 * rise.uncertainty,
        ),
    )
    bullets(console, [units.sentence(one) for one in said])


def _plan(console: Console, found: Swap, units: Units) -> None:
    if not found.plan.steps:
        refused = any(caution.refuses for caution in found.cautions)
        nothing = tr("Nothing to adjust before it is read.") if found.cuts_wait else tr("Nothing to adjust.")
        paragraph(console, found.plan.notes[0] if refused else nothing, indent=1)
    for number, step in enumerate(found.plan.steps, start=1):
        paragraph(console, f"{number}. {units.sentence(told(step, found.service).do)}", indent=1)
    if found.cuts_wait:
        paragraph(console, units.sentence(found.cuts_wait), indent=1, style="yellow")
