"""`take-in`, `visits`, `visit`: instruments come in, are worked on, go back."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.terminal.entry import PIPE, say
from breakangle.cli.terminal.shop_entry import (
    add_number,
    add_shop,
    number_of,
    opened,
    piped,
    stamp_of,
    visit_of,
)

if TYPE_CHECKING:
    from breakangle.shop.store import Shop

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
    verb.add_argument("--owner", metavar="NAME", help="with a file: whose it is; a new name is a new owner")
    verb.add_argument("--humidity", metavar="PERCENT", type=float, help="with --again: of the room")
    verb.add_argument("--temperature", metavar="C", type=float, help="with --again: of the room")
    add_shop(verb, writes=True)
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
    verb.add_argument("--plan", action="store_true", help="plan it from all the shop knows, as JSON")
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
    from breakangle.desk.shop_sheets import file_content, take_in, take_in_again
    from breakangle.model.errors import CorrectInputError

    stamp = stamp_of(arguments)
    if (arguments.file is None) == (arguments.number is None):
        given = "neither a file nor --again" if arguments.file is None else "a file and --again"
        raise CorrectInputError(given, "one of the two", "give a service file, or --again NUMBER")
    if arguments.number is not None:
        if arguments.owner is not None:
            given = "--owner with --again: the instrument has its owner already"
            raise CorrectInputError(given, "", "breakangle change instrument, with owner_id=")
        air = arguments.temperature, arguments.humidity
        visit, record = take_in_again(shop, stamp, number_of(arguments), arguments.complaint, *air)
        say(f"Sheet {visit.number}: {record.name}, waiting.")
        return
    if arguments.humidity is not None or arguments.temperature is not None:
        raise CorrectInputError("the room's air beside a file", "", "write it into the file, as its room")
    content = piped() if arguments.file == PIPE else file_content(arguments.file)
    brought, record = take_in(shop, stamp, content, arguments.file, arguments.owner, arguments.complaint)
    known = "" if brought.new_visit else " was here already"
    say(f"Sheet {brought.visit.number}: {record.name}{known}, {brought.added_count} new entries.")


def _list(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.desk.shop_sheets import visit_list
    from breakangle.desk.shop_visits import local_text

    for one in visit_list(shop, arguments.state):
        at = local_text(one.opened_at)
        say(f"{one.number:5}  {at}  {one.state:12}  {one.instrument}  {one.complaint}".rstrip())


def _one(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.desk.shop_learning import plan_visit
    from breakangle.desk.shop_moves import move_visit
    from breakangle.desk.shop_service_files import export_visit, visit_text
    from breakangle.desk.shop_sheets import bring_back_visit, delete_visit, write_notes

    if arguments.undelete:
        visit = bring_back_visit(shop, number_of(arguments), stamp_of(arguments))
        return say(f"Sheet {visit.number} is back.")
    visit = visit_of(shop, arguments)
    if arguments.state:
        visit = move_visit(shop, visit, arguments.state, stamp_of(arguments))
    if arguments.notes is not None:
        visit = write_notes(shop, visit, arguments.notes, stamp_of(arguments))
    if arguments.delete:
        delete_visit(shop, visit, stamp_of(arguments))
        again = f"breakangle visit {visit.number} --undelete"
        say(f"Sheet {visit.number} is deleted; until 30 days from now: {again}")
    elif arguments.plan:
        say(plan_visit(shop, visit.id).text())
    elif arguments.file == PIPE:
        say(visit_text(shop, visit.id))
    elif arguments.file:
        export_visit(shop, visit.id, arguments.file)
    else:
        _show(shop, visit.number)
    return None


def _show(shop: "Shop", number: int) -> None:
    from breakangle.desk.shop_sheets import sheet
    from breakangle.desk.shop_visits import local_text

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
        said = f"{one.body or 'withdrawn'}{why}  {one.taken_by}, {local_text(one.taken_at)}{gauge}"
        say(f"{' ' if shown.counts else '×'} {one.place:3} {one.id} {said}")
    for used in found.used:
        say(f"used: {used.count} × {used.words}")
