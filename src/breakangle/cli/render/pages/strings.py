"""A set of strings as a page: pulls, feel, margins; and sizes for wished pulls."""

from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding

from breakangle.cli.render.page import bullets, grid, heading, paragraph
from breakangle.cli.render.units import Units
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.planning.state.uncertain_value import Known
from breakangle.services.strings.sizes import Candidate, GaugeChoice
from breakangle.services.strings.string_set import STRETCH_PULL_MM, SetFigures


def known(value: Known, decimals: int) -> str:
    """Return a value and its ±, which holds 19 times in 20."""
    return f"{value.value:.{decimals}f} ± {2 * value.uncertainty:.{decimals}f}".replace("-", "−")


def print_set(console: Console, service: Service, found: SetFigures, units: Units) -> None:
    """Print what the strings pull and weigh, how they feel, and how near they work to breaking."""
    paragraph(console, f"{service.instrument.name}: {service.instrument.kind}", style="bold")
    paragraph(console, found.words)
    heading(console, tr("Pull and mass"))
    table = grid(
        [(tr("string"), "left", 8), (tr("size"), "right", 8), (tr("pull, N"), "right", 12), (tr("of mean"), "right", 8),
         (tr("mass, g/m"), "right", 16), (tr("from"), "left", 8), (tr("held, cents"), "right", 12)]
    )  # fmt: skip
    for one in reversed(found.strings):
        table.add_row(
            f"{one.string} {one.note}", units.figure(one.diameter_mm, "mm", 2), known(one.tension_n, 1),
            f"{100 * one.tension_of_mean_ratio:.0f} %", known(one.unit_mass_g_per_m, 3), tr(one.unit_mass_from),
            _held(one.held_back_cents),
        )  # fmt: skip
    console.print(Padding(table, (0, 0, 0, 1)))
    feel = mark("Feel: a semitone's bend at fret {fret}; and margin to breaking")
    heading(console, tr(feel, fret=found.strings[0].bend_fret))
    travels = tr("travel, {unit}", unit=units.unit_of("mm"))
    table = grid(
        [(tr("string"), "left", 8), (tr("force, N"), "right", 12), (travels, "right", 15),
         (tr("at pitch"), "right", 10), (tr("stretched"), "right", 10), (tr("most pull"), "right", 10)]
    )  # fmt: skip
    for one in reversed(found.strings):
        travel = one.bend_travel_mm
        table.add_row(
            f"{one.string} {one.note}", known(one.bend_force_n, 1),
            f"{units.rough(travel.value, 1)} ± {units.rough(2 * travel.uncertainty, 1)}",
            _share(one.working_share), _share(one.stretching_share), units.rough(one.most_pull_mm),
        )  # fmt: skip
    console.print(Padding(table, (0, 0, 0, 1)))
    _feel_words(console, units)
    of_string = mark("String {string}: {note}.")
    notes = [
        tr(of_string, string=string.string, note=note) for string in found.strings for note in string.notes
    ]
    if notes:
        heading(console, tr("Notes"))
        bullets(console, [units.sentence(one) for one in notes])


def _held(band: Known) -> str:
    """Return from how little to how much friction at the nut may hold back."""
    return f"{max(band.low, 0.0):.0f}-{band.high:.0f}"


def _feel_words(console: Console, units: Units) -> None:
    stretch = units.rough(STRETCH_PULL_MM)
    paragraph(
        console,
        tr(
            "± holds 19 times in 20. At pitch, stretched: share of the breaking load, by the "
            "weakest and the strongest wire of that size, at pitch and pulled {stretch} "
            "{unit_of} aside at the middle. Most pull: aside, to nine tenths of the weakest. "
            "Held: by friction at the nut after tuning.",
            stretch=stretch,
            unit_of=units.unit_of("mm"),
        ),
        indent=1,
        style="dim",
    )


def print_choices(console: Console, service: Service, choices: Sequence[GaugeChoice], units: Units) -> None:
    """Print for every string the size that pulls as wished, and the next ones."""
    paragraph(
        console,
        tr("{instrument_name}: sizes for wished pulls", instrument_name=service.instrument.name),
        style="bold",
    )
    table = grid(
        [(tr("string"), "left", 6), (tr("now"), "right", 6), ("pull, N", "right", 8), (tr("wished"), "right", 7),
         (tr("take"), "right", 6), ("pull, N", "right", 13), ("", "left", None)]
    )  # fmt: skip
    for one in reversed(choices):
        best = one.best
        table.add_row(
            f"{one.string} {one.note}", _size(one.now, units), f"{one.now_tension_n.value:.1f}", f"{one.wished_n:.1f}",
            "" if best is None else _size(best.candidate, units),
            "" if best is None else known(best.tension_n, 1), one.words,
        )  # fmt: skip
    console.print(Padding(table, (0, 0, 0, 1)))
    total = sum(choice.best.tension_n.value for choice in choices if choice.best is not None)
    words = tr("Together {total:.0f} N. See what it does here: breakangle swap.", total=total)
    paragraph(console, words, indent=1)


def _size(one: Candidate, units: Units) -> str:
    return units.figure(one.diameter_mm, "mm", 2)


def _share(share: tuple[float, float]) -> str:
    low, high = (round(100 * one) for one in share)
    return f"{low} %" if low == high else f"{low}-{high} %"
