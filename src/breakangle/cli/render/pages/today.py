"""The pages of `today` and `timeline`."""

from collections.abc import Sequence
from datetime import datetime

from rich.console import Console

from breakangle.cli.render.page import bullets, grid, heading, paragraph
from breakangle.cli.render.units import Units
from breakangle.model.words.speech import mark, tr
from breakangle.reference.messages import words
from breakangle.services.history.figures import Ends, Intonation
from breakangle.services.history.timeline import TimelineVisit
from breakangle.services.overview.today import Today
from breakangle.services.visits.visits import local_text
from breakangle.storage.records.worklist import Work

NOT_READ = "–"


def print_today(console: Console, day: Today, units: Units) -> None:
    """Print the day: work by state, what is due, what to order, the last backup."""
    if not any(day.work.values()):
        paragraph(console, tr("No instrument is here."))
    if day.pressing:
        heading(console, tr("promised for today or before"))
        one_of = mark("{instrument}, sheet {number}: {when}")
        said = [
            tr(one_of, instrument=one.instrument, number=one.number, when=_when(day, one))
            for one in day.pressing
        ]
        bullets(console, said)
    for state, works in day.work.items():
        if works:
            heading(console, f"{tr(state)} ({len(works)})")
            table = grid(
                [("", "right", 5), ("", "left", 24), ("", "left", 22), ("", "left", None)], head=False
            )
            for one in works:
                table.add_row(str(one.number), one.instrument, _whose(one), _when(day, one))
            console.print(table)
    if day.due:
        heading(console, tr("due"))
        said = [f"{one.on}: {one.instrument}, {one.what}. {_capital(one.why)}." for one in day.due]
        bullets(console, [units.sentence(one) for one in said])
    if not day.all_reckoned:
        paragraph(console, tr("Some due dates are still being worked out: `breakangle due` does it now."))
    if day.to_order:
        heading(console, tr("to order"))
        left = mark("{words}: {count} left")
        bullets(console, [tr(left, words=one.words, count=one.held_count) for one in day.to_order])
    old = tr(" (old: breakangle backup)") if day.last_backup_old else ""
    heading(console, tr("last backup: {moment}{old}", moment=_moment(day.last_backup_at), old=old))


def _whose(work: Work) -> str:
    return ", ".join(part for part in (work.owner or "", work.contact) if part)


def _when(day: Today, work: Work) -> str:
    """Return what was promised, else since when it is in its state."""
    promise = day.promise(work)
    return tr("since {local_text}", local_text=local_text(work.since)) if promise is None else words(promise)


def print_timeline(console: Console, name: str, rows: Sequence[TimelineVisit], units: Units) -> None:
    """Print the visits of one instrument; each figure as found, then as left."""
    heading(console, name)
    columns = [
        (tr("sheet"), "right", 5),
        (tr("date"), "left", 10),
        (tr("room %"), "right", 6),
        (tr("relief, {unit_of}", unit_of=units.unit_of("mm")), "left", None),
        (tr("action, {unit_of}", unit_of=units.unit_of("mm")), "left", None),
        (tr("worst, cents"), "left", None),
    ]
    table = grid(columns)
    for row in rows:
        figures = row.figures
        table.add_row(
            str(row.visit.number),
            local_text(row.visit.opened_at)[:10],
            NOT_READ if figures.humidity_percent is None else f"{figures.humidity_percent:.0f}",
            _found_left(figures.relief, units),
            _found_left(figures.action, units),
            f"{_note(row.intonation_found)} → {_note(row.intonation_left)}",
        )
    console.print(table)
    more = [
        tr("sheet {visit_number}: {event}", visit_number=row.visit.number, event=event)
        for row in rows
        for event in _events(row, units)
    ]
    if more:
        console.print()
        bullets(console, more)


def _events(one: TimelineVisit, units: Units) -> list[str]:
    found = [
        tr("worst note {when}: string {string}, fret {fret}", when=when, string=worst.string, fret=worst.fret)
        for when, worst in ((tr("as found"), one.intonation_found), (tr("as left"), one.intonation_left))
        if worst is not None
    ]
    found += [
        tr("new strings, ")
        + ", ".join(
            f"{note} {units.figure(mm, 'mm', 2)} {units.unit_of('mm')}" for _, note, mm in fitted.strings
        )
        for fitted in one.strings_fitted
    ]
    found += [
        tr("used: {used_count} × {used_words}", used_count=used.count, used_words=used.words)
        for used in one.used
    ]
    if one.photographs:
        found.append(tr("{photographs_count} photographs", photographs_count=len(one.photographs)))
    return found


def _found_left(ends: Ends, units: Units) -> str:
    pair = [NOT_READ if one is None else units.figure(one, "mm", 2) for one in (ends.found_mm, ends.left_mm)]
    if ends.elsewhere_mm is not None:
        return tr("{pair}; elsewhere {figure}", pair=pair[0], figure=units.figure(ends.elsewhere_mm, "mm", 2))
    return " → ".join(pair)


def _note(worst: Intonation | None) -> str:
    if worst is None:
        return NOT_READ
    sign = "−" if worst.cents < 0 else "+"
    return f"{sign}{abs(worst.cents):.1f}"


def _moment(at: datetime | None) -> str:
    return tr("none yet (breakangle backup)") if at is None else local_text(at)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
