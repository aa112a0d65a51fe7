"""`take-in`, `visits`, `visit`: instruments come in, are worked on, go back."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import PIPE, say
from breakangle.cli.render.shop_entry import (
    add_number,
    add_shop,
    number_of,
    opened,
    piped,
    stamp_of,
    visit_of,
)
from breakangle.cli.render.units import add_units, units_asked

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop

STATES = ("waiting", "on the bench", "settling", "ready", "handed back")


def add(verbs: Any) -> None:
    """Add the verbs and their options."""
    verb = verbs.add_parser(
        "take-in",
        help="store a service file as a visit, or open a visit of an instrument that has been here",
        description="Store a service file as a visit of its instrument; the same file twice is one visit. Or, with "
        "--again, open a new visit of the instrument of an earlier sheet.",
    )
    verb.add_argument("file", metavar="FILE", nargs="?", help="a service file, or - for a pipe")
    verb.add_argument("--again", dest="number", metavar="NUMBER", help="the number of an earlier sheet")
    verb.add_argument("--complaint", default="", help="what the owner says is wrong")
    verb.add_argument(
        "--owner", metavar="NAME", help="with a file: whose it is; a name that may be here is asked about"
    )
    verb.add_argument(
        "--whose", metavar="RECORD", default="", help="with --owner, where asked: same, new, or a record"
    )
    verb.add_argument(
        "--instrument",
        metavar="NUMBER",
        default="",
        help="with a file, where asked whether the instrument is here already: a sheet of its, or new",
    )
    verb.add_argument(
        "--on", metavar="DAY", default="", help="the day it came in, as 2027-03-01, where that was earlier"
    )
    verb.add_argument("--humidity", metavar="PERCENT", type=float, help="with --again: of the room")
    verb.add_argument("--temperature", metavar="C", type=float, help="with --again: of the room")
    add_shop(verb, writes=True)
    _add_list_and_one(verbs)


def _add_list_and_one(verbs: Any) -> None:
    verb = verbs.add_parser(
        "visits", help="list the visits by state", description="List the visits, newest first."
    )
    verb.add_argument("--state", choices=STATES, help="only these")
    add_shop(verb)
    verb = verbs.add_parser(
        "visit",
        help="one visit: show, move, plan, write, delete",
        description="Show a visit with every entry, superseded ones included; or do one thing with it.",
    )
    add_number(verb)
    verb.add_argument("--state", choices=STATES, help="move it there")
    verb.add_argument("--notes", help="write the notes anew")
    verb.add_argument("--file", metavar="FILE", help="write its service file there, - for standard output")
    verb.add_argument("--promised", metavar="DAY", help="the day it is promised for, as 2027-03-01; or none")
    verb.add_argument("--plan", action="store_true", help="plan it from all the shop knows")
    verb.add_argument("--json", action="store_true", help="with --plan: as JSON")
    add_units(verb)
    verb.add_argument("--delete", action="store_true", help="delete it; for 30 days it can be restored")
    verb.add_argument("--undelete", action="store_true", help="restore it")
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    todo = {"take-in": _take_in, "visits": _list, "visit": _one}[arguments.verb]
    with opened(arguments) as shop:
        todo(shop, arguments)
    return 0


def _take_in(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.cli.render.request import say_asked
    from breakangle.cli.render.units import Units
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.plans.solved_visits import asked_of_typed
    from breakangle.services.typed_values.past_days import day_typed
    from breakangle.services.visit_sheets.sheets import file_content, take_in, take_in_again

    stamp = stamp_of(arguments)
    came_in = day_typed(arguments.on, stamp.at)
    if (arguments.file is None) == (arguments.number is None):
        given = "neither a file nor --again" if arguments.file is None else "a file and --again"
        raise CorrectInputError(given, "one of the two", "give a service file, or --again NUMBER")
    if arguments.number is not None:
        if arguments.owner is not None:
            given = "--owner with --again: the instrument has its owner already"
            raise CorrectInputError(given, "", "breakangle change instrument, with owner_id=")
        air = arguments.temperature, arguments.humidity
        visit, record = take_in_again(shop, stamp, number_of(arguments), arguments.complaint, *air, came_in)
        say(f"Sheet {visit.number}: {record.name}, waiting.")
        return
    if arguments.humidity is not None or arguments.temperature is not None:
        raise CorrectInputError("the room's air beside a file", "", "write it into the file, as its room")
    content = piped() if arguments.file == PIPE else file_content(arguments.file)
    brought, record = take_in(
        shop,
        stamp,
        content,
        arguments.file,
        arguments.owner,
        arguments.complaint,
        arguments.whose,
        arguments.instrument,
        came_in,
    )
    known = "" if brought.new_visit else " was here already"
    say(f"Sheet {brought.visit.number}: {record.name}{known}, {brought.added_count} new entries.")
    say_asked(asked_of_typed(shop, brought.visit.id), Units("mm"), sheet=brought.visit.number)


def _list(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.services.visit_sheets.sheets import visit_list
    from breakangle.services.visits.visits import local_text

    for one in visit_list(shop, arguments.state):
        at = local_text(one.opened_at)
        say(f"{one.number:5}  {at}  {one.state:12}  {one.instrument}  {one.complaint}".rstrip())


def _one(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.visit_sheets.sheets import bring_back_visit, delete_visit, promise, write_notes
    from breakangle.services.visits.moves import move_visit
    from breakangle.services.visits.service_files import export_visit, visit_text

    if arguments.undelete:
        visit = bring_back_visit(shop, number_of(arguments), stamp_of(arguments))
        return say(f"Sheet {visit.number} is back.")
    visit = visit_of(shop, arguments)
    if arguments.state == STATES[-1] and visit.state != arguments.state:
        again = f"breakangle hand-back {visit.number}"
        raise CorrectInputError("going back is asked about first", "", f"see what stands open: {again}")
    if arguments.state:
        visit = move_visit(shop, visit, arguments.state, stamp_of(arguments))
    if arguments.notes is not None:
        visit = write_notes(shop, visit, arguments.notes, stamp_of(arguments))
    if arguments.promised is not None:
        visit = promise(shop, visit, arguments.promised, stamp_of(arguments))
    if arguments.delete:
        delete_visit(shop, visit, stamp_of(arguments))
        again = f"breakangle visit {visit.number} --undelete"
        say(f"Sheet {visit.number} is deleted; until 30 days from now: {again}")
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
    from breakangle.services.visits.visits import local_text

    found = sheet(shop, number)
    visit = found.visit
    say(
        f"Sheet {number}: {found.instrument.name}, {visit.state}, since {local_text(visit.moved_at or visit.opened_at)}"
    )
    for words in (visit.complaint, visit.notes):
        if words:
            say(words)
    for shown in found.entries:
        one = shown.entry
        gauge = f", {shown.gauge}" if shown.gauge else ""
        why = f" ({one.reason})" if one.reason else ""
        late = f", entered {local_text(one.entered_at)}" if one.entered_at else ""
        said = f"{one.body or 'withdrawn'}{why}  {one.taken_by}, {local_text(one.taken_at)}{late}{gauge}"
        say(f"{' ' if shown.counts else '×'} {one.place:3} {one.id} {said}")
    for used in found.used:
        say(f"used: {used.count} × {used.words}")


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
    print_page(lambda console: print_plan(console, service, plan, units))
