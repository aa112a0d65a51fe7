"""`breakangle visit`: one visit: show, move, plan, write, delete."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import PIPE, say
from breakangle.cli.render.shop_entry import (
    add_number,
    add_shop,
    number_of,
    opened,
    stamp_of,
    visit_of,
)
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import mark, tr

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop

# The states as they are said; the words themselves are keys.
STATE_WORDS = mark("waiting"), mark("on the bench"), mark("settling"), mark("ready"), mark("handed back")
STATES = ("waiting", "on the bench", "settling", "ready", "handed back")


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "visit",
        help=tr("one visit: show, move, plan, write, delete"),
        description=tr("Show a visit with every entry, superseded ones included; or do one thing with it."),
    )
    add_number(verb)
    verb.add_argument("--state", choices=STATES, help=tr("move it there"))
    verb.add_argument("--notes", help=tr("write the notes anew"))
    verb.add_argument(
        "--file", metavar="FILE", help=tr("write its service file there, - for standard output")
    )
    verb.add_argument(
        "--promised", metavar="DAY", help=tr("the day it is promised for, as 2027-03-01; or none")
    )
    verb.add_argument("--plan", action="store_true", help=tr("plan it from all the shop knows"))
    verb.add_argument("--json", action="store_true", help=tr("with --plan: as JSON"))
    add_units(verb)
    verb.add_argument("--delete", action="store_true", help=tr("delete it; for 30 days it can be restored"))
    verb.add_argument("--undelete", action="store_true", help=tr("restore it"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    with opened(arguments) as shop:
        _one(shop, arguments)
    return 0


def _one(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.visit_sheets.sheets import bring_back_visit, delete_visit, promise, write_notes
    from breakangle.services.visits.moves import move_visit
    from breakangle.services.visits.service_files import export_visit, visit_text

    if arguments.undelete:
        visit = bring_back_visit(shop, number_of(arguments), stamp_of(arguments))
        return say(tr("Sheet {visit_number} is back.", visit_number=visit.number))
    visit = visit_of(shop, arguments)
    if arguments.state == STATES[-1] and visit.state != arguments.state:
        again = tr("breakangle hand-back {visit_number}", visit_number=visit.number)
        raise CorrectInputError(
            tr("going back is asked about first"), "", tr("see what stands open: {again}", again=again)
        )
    if arguments.state:
        visit = move_visit(shop, visit, arguments.state, stamp_of(arguments))
    if arguments.notes is not None:
        visit = write_notes(shop, visit, arguments.notes, stamp_of(arguments))
    if arguments.promised is not None:
        visit = promise(shop, visit, arguments.promised, stamp_of(arguments))
    if arguments.delete:
        delete_visit(shop, visit, stamp_of(arguments))
        again = tr("breakangle visit {visit_number} --undelete", visit_number=visit.number)
        say(
            tr(
                "Sheet {visit_number} is deleted; until 30 days from now: {again}",
                visit_number=visit.number,
                again=again,
            )
        )
    elif arguments.plan:
        _plan(shop, visit.id, arguments)
    elif arguments.file == PIPE:
        say(visit_text(shop, visit.id))
    elif arguments.file:
        export_visit(shop, visit.id, arguments.file)
    else:
        _show(shop, visit.number)
    return None


def _show(shop: "Shop", number: int) -> None:
    from breakangle.services.visit_sheets.sheets import sheet
    from breakangle.services.visits.reasons import reason_said
    from breakangle.services.visits.visits import local_text

    found = sheet(shop, number)
    visit = found.visit
    say(
        tr(
            "Sheet {number}: {instrument_name}, {state}, since {local_text}",
            number=number,
            instrument_name=found.instrument.name,
            state=tr(visit.state),
            local_text=local_text(visit.moved_at or visit.opened_at),
        )
    )
    for words in (visit.complaint, visit.notes):
        if words:
            say(words)
    for shown in found.entries:
        one = shown.entry
        gauge = f", {shown.gauge}" if shown.gauge else ""
        why = f" ({reason_said(one.reason)})" if one.reason else ""
        late = tr(", entered {local_text}", local_text=local_text(one.entered_at)) if one.entered_at else ""
        said = f"{one.body or tr('withdrawn')}{why}  {one.taken_by}, {local_text(one.taken_at)}{late}{gauge}"
        say(f"{' ' if shown.counts else '×'} {one.place:3} {one.id} {said}")
    for used in found.used:
        say(tr("used: {used_count} × {used_words}", used_count=used.count, used_words=used.words))


def _plan(shop: "Shop", visit_id: str, arguments: argparse.Namespace) -> None:
    """Print the visit's plan as a page, or as JSON."""
    from breakangle.cli.render.page import print_page
    from breakangle.cli.render.pages.plan import print_plan
    from breakangle.services.history.learning import plan_visit
    from breakangle.services.service_files.plan_json import plan_text
    from breakangle.services.visits.entries import service_of

    plan = plan_visit(shop, visit_id)
    if arguments.json:
        say(plan_text(plan))
        return
    service, units = service_of(shop, visit_id), units_asked(arguments)
    print_page(lambda console: print_plan(console, service, plan, units, number_of(arguments)))
