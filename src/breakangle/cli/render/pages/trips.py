"""The trips of a plan on a page: what is asked first, what was found, then each trip with its steps and readings."""

from rich.console import Console

from breakangle.cli.render.page import bullets, heading, paragraph
from breakangle.cli.render.units import Units
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr
from breakangle.planning.trips.told import (
    as_told_message,
    asked_heading,
    asked_in_order,
    expected,
    found_in_order,
    trips_told,
)
from breakangle.reference.messages import words
from breakangle.services.service_files.compare import Told, told


def print_asked(console: Console, plan: Plan, units: Units, sheet: int | None = None) -> None:
    """Print the questions, the deciding one first, with what each takes and what waits for it."""
    asked = asked_in_order(plan)
    if not asked:
        return
    heading(console, asked_heading(plan))
    for number, (one, question) in enumerate(zip(asked, plan.questions, strict=True), start=1):
        waits = tr(" Waits for it: {waits}.", waits=one.waits) if one.waits else ""
        paragraph(console, f"({number}) {units.sentence(one.words)} {one.time}.{waits}", indent=1)
        if question.ask == "inches":
            on_sheet = Message(key="typed.answer_on_sheet", values={"sheet": sheet or 0})
            in_file = Message(key="typed.answer_in_file")
            paragraph(console, words(in_file if sheet is None else on_sheet), indent=5)
        if one.as_told:
            paragraph(console, words(as_told_message(one.as_told, sheet)), indent=5)


def print_found(console: Console, plan: Plan, units: Units) -> None:
    """Print what was found over many readings."""
    found = found_in_order(plan)
    if found:
        heading(console, tr("Found"))
        bullets(console, [units.sentence(one.words) for one in found])


def print_trips(console: Console, service: Service, plan: Plan, units: Units) -> None:
    """Print each trip: what to slacken and lay ready, its steps, and what to read at its end."""
    before: Told | None = None
    for trip in trips_told(plan):
        heading(
            console,
            tr(
                "Trip {trip_number} of {trip_count}: {sentence}",
                trip_number=trip.number,
                trip_count=trip.count,
                sentence=units.sentence(trip.name),
            ),
        )
        tools = tr(" Tools: {tools}.", tools=", ".join(trip.tools)) if trip.tools else ""
        paragraph(
            console,
            tr(
                "About {minutes} min. Slacken: {slacken}.{tools}",
                minutes=trip.minutes,
                slacken=trip.slacken,
                tools=tools,
            ),
            style="dim",
        )
        paragraph(console, trip.way, style="dim")
        for number, one in trip.steps:
            step = told(one, service)
            _step(console, number, step, before, units, reads=number in trip.read_between)
            before = step
        if trip.reads:
            paragraph(console, tr("At the end read:"))
            bullets(console, [units.sentence(expected(read.reading)) for read in trip.reads])


def _step(
    console: Console, number: int, step: Told, before: Told | None, units: Units, *, reads: bool
) -> None:
    """Print one step; a care said just before is not said again."""
    by_screw = f"  ({step.screw})" if step.screw and step.screw not in step.do else ""
    paragraph(console, f"{number}. {units.sentence(step.do)}{by_screw}", style="bold")
    paragraph(console, units.sentence(step.why), indent=3)
    fresh = [one for one in step.caution if before is None or one not in before.caution]
    if fresh:
        paragraph(console, tr("Care: ") + units.sentence(" ".join(fresh)), indent=3, style="yellow")
    if reads:
        for one in step.expect[:4]:
            paragraph(
                console, tr("Then read {sentence}", sentence=units.sentence(one)), indent=3, style="dim"
            )
