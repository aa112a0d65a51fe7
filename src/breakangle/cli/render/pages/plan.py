"""The plan as a page: verdict, questions, findings, what is and what would be, notes, trips with their steps."""

from itertools import groupby

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from breakangle.cli.render.page import bullets, grid, heading, paragraph
from breakangle.cli.render.pages.trips import print_asked, print_found, print_trips
from breakangle.cli.render.units import Units
from breakangle.model.plan import Plan, Response
from breakangle.model.service import Service
from breakangle.model.words.speech import capital, mark, tr, tr_n
from breakangle.planning.trips.told import first_to_read, held_back, minutes_in_all
from breakangle.reference.messages import words as message_words
from breakangle.services.frets.lead import frets_lead
from breakangle.services.making.registry import jobs_for
from breakangle.services.service_files.compare import Figure, figures, undecided

OUTSIDE, NOT_READ = mark("out"), "?"


def verdict_in_words(plan: Plan) -> str:
    """Return the verdict in plain words."""
    count = len(plan.steps)
    if plan.verdict == "read-first":
        return first_to_read(plan)
    if plan.verdict == "beyond-setup":
        few = tr("This step gets") if count == 1 else tr("These {count} steps get", count=count)
        rest = tr(" {few} as near as the adjusters go.", few=few) if count else ""
        return tr("Beyond a set-up. Something stays out that no adjuster can put right; see below.") + rest
    if plan.verdict == "adjust":
        trips = len(plan.trips)
        steps = tr_n("{count} step", "{count} steps", count, count=count)
        in_trips = tr_n(
            "{steps} in {count} trip", "{steps} in {count} trips", trips, steps=steps, count=trips
        )
        return tr("Adjust. {work}, about {minutes} min.", work=in_trips, minutes=minutes_in_all(plan))
    return undecided(plan) or tr("Leave it. Everything that can be judged is inside its tolerance.")


def _mark(judged: bool, inside: bool) -> Text:
    if not judged:
        return Text(NOT_READ, style="dim")
    return Text("") if inside else Text(OUTSIDE, style="bold red")


def _comparison(console: Console, rows: tuple[Figure, ...], units: Units, changed: bool) -> None:
    """Print a row for each target, in groups of one kind read one way."""
    columns: list[tuple[str, str, int | None]] = [("", "left", 10), (tr("wanted"), "right", 15)]
    columns += [(tr("now"), "right", 15), ("", "left", 3)]
    columns += [(tr("after"), "right", 15), ("", "left", 3)] if changed else []
    head = True
    for (words, taken, unit), group in groupby(rows, lambda one: (one.words, one.taken, one.unit)):
        paragraph(
            console,
            tr("{what} in {unit}, {taken}", what=capital(words), unit=units.unit_of(unit), taken=taken),
            indent=1,
        )
        table = grid(columns, head)
        for one in group:
            table.add_row(*_cells(one, units, changed))
        console.print(Padding(table, (0, 0, 0, 2)))
        head = False
    paragraph(console, _key(rows, changed), indent=1, style="dim")


def _key(rows: tuple[Figure, ...], changed: bool) -> str:
    signs = [tr("± holds 19 times in 20")]
    if any(row.judged and not (row.inside_now and (row.inside_then or not changed)) for row in rows):
        signs.append(tr("{outside}: outside its tolerance", outside=OUTSIDE))
    if not all(row.judged for row in rows):
        signs.append(tr("{not_read}: not judged, no reading tells enough", not_read=NOT_READ))
    return "; ".join(signs) + "."


def _cells(one: Figure, units: Units, changed: bool) -> list[Text]:
    def with_spread(value: float, spread: float) -> Text:
        shown = (units.figure(number, one.unit, one.decimals) for number in (value, spread))
        return Text(" ± ".join(shown))

    cells = [
        Text(tr("string {string}", string=one.string)),
        with_spread(one.wanted, one.tolerance),
        with_spread(one.now, 2 * one.now_uncertainty),
        _mark(one.judged, one.inside_now),
    ]
    if changed:
        cells += [with_spread(one.then, 2 * one.then_uncertainty), _mark(one.judged, one.inside_then)]
    return cells


def _answer(one: Response, units: Units) -> str:
    """Return one response in words; the words say per what, so a length stands alone."""
    value, spread = f"{one.value:.2f}".replace("-", "−"), f"{2 * one.uncertainty:.2f}"
    if one.unit == "mm per turn":
        return units.sentence(f"{one.words}: {value} mm ± {spread}")
    return f"{one.words}: {value} ± {spread} {tr(one.unit)}"


def print_plan(
    console: Console, service: Service, plan: Plan, units: Units, sheet: int | None = None
) -> None:
    """Print the plan for `service` in `units`; `sheet`: its number in the shop, None for a file."""
    rows = figures(plan)
    paragraph(console, f"{service.instrument.name}: {service.instrument.kind}", style="bold")
    verdict = verdict_in_words(plan)
    paragraph(console, verdict)
    waits = held_back(plan)
    if waits:
        paragraph(console, units.sentence(waits))
    print_asked(console, plan, units, sheet)
    print_found(console, plan, units)
    lead = frets_lead(service, plan)
    if lead:
        heading(console, tr("Frets (breakangle frets)"))
        bullets(console, [units.sentence(message_words(one)) for one in lead])
    jobs = jobs_for(plan.findings, service.instrument)
    if jobs:
        heading(console, tr("To be made (breakangle make)"))
        bullets(console, [f"{one.name}: {one.told}" for one in jobs])
    heading(console, tr("As it is") + (tr(", and as it would be") if plan.steps else ""))
    _comparison(console, rows, units, bool(plan.steps))
    notes = [units.sentence(note) for note in plan.notes if note != verdict]
    if notes:
        heading(console, tr("Before you start") if plan.steps else tr("Notes"))
        bullets(console, notes)
    print_trips(console, service, plan, units)
    if plan.now.responses:
        heading(console, tr("What this instrument answers"))
        bullets(console, [_answer(response, units) for response in plan.now.responses])
