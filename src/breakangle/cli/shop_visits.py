"""`take-in`, `visits`, `visit`: instruments come in, are worked on, go back."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.terminal.entry import PIPE, say
from breakangle.cli.terminal.shop_entry import add_number, add_shop, opened, stamp_of, visit_of

if TYPE_CHECKING:
    from breakangle.shop.records import Visit
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
    verb.add_argument("--owner", metavar="NAME", help="whose it is; a new name is a new owner")
    verb.add_argument("--humidity", metavar="PERCENT", type=float, help="of the room")
    verb.add_argument("--temperature", metavar="C", type=float, help="of the room")
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
    import sys
    from pathlib import Path

    from breakangle.desk.service import LARGEST_FILE_BYTES, read_service
    from breakangle.desk.shop_service_files import bring_in
    from breakangle.desk.shop_visits import open_visit
    from breakangle.model.errors import CorrectInputError
    from breakangle.shop.records import InstrumentRecord

    stamp = stamp_of(arguments)
    if (arguments.file is None) == (arguments.number is None):
        raise CorrectInputError(
            "a file and --again", "one of the two", "give a service file, or --again NUMBER"
        )
    if arguments.number is not None:
        record = shop.get(InstrumentRecord, visit_of(shop, arguments).instrument_id)
        visit = open_visit(
            shop, stamp, record, arguments.complaint, arguments.temperature, arguments.humidity
        )
        say(f"Sheet {visit.number}: {record.name}, waiting.")
        return
    if arguments.file == PIPE:
        content = sys.stdin.buffer.read(LARGEST_FILE_BYTES + 1)
    else:
        read_service(arguments.file)
        content = Path(arguments.file).read_bytes()
    brought = bring_in(shop, content, arguments.file, stamp)
    record = shop.get(InstrumentRecord, brought.visit.instrument_id)
    if arguments.owner:
        shop.change(record, stamp, owner_id=_owner(shop, arguments.owner, stamp))
    if arguments.complaint:
        shop.change(brought.visit, stamp, complaint=arguments.complaint)
    known = "" if brought.new_visit else " was here already"
    say(f"Sheet {brought.visit.number}: {record.name}{known}, {brought.added_count} new entries.")


def _owner(shop: "Shop", name: str, stamp: Any) -> str:
    from breakangle.desk.shop_visits import add_owner
    from breakangle.shop.records import Owner

    found = shop.every(Owner, name=name)
    return found[0].id if found else add_owner(shop, stamp, name).id


def _list(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.desk.shop_visits import local_text
    from breakangle.shop.records import InstrumentRecord, Visit

    names = {one.id: one.name for one in shop.every(InstrumentRecord, deleted=True)}
    where = {"state": arguments.state} if arguments.state else {}
    for one in sorted(shop.every(Visit, **where), key=lambda visit: -visit.number):
        at = local_text(one.opened_at)
        say(f"{one.number:5}  {at}  {one.state:12}  {names[one.instrument_id]}  {one.complaint}".rstrip())


def _one(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.desk.shop_learning import plan_visit
    from breakangle.desk.shop_service_files import export_visit, visit_text
    from breakangle.desk.shop_visits import move_visit

    if arguments.undelete:
        return _undelete(shop, arguments)
    visit = visit_of(shop, arguments)
    if arguments.state:
        visit = move_visit(shop, visit, arguments.state, stamp_of(arguments))
    if arguments.notes is not None:
        visit = shop.change(visit, stamp_of(arguments), notes=arguments.notes)
    if arguments.delete:
        shop.delete(visit, stamp_of(arguments))
        say(
            f"Sheet {visit.number} is deleted; until 30 days from now: breakangle visit {visit.number} --undelete"
        )
    elif arguments.plan:
        say(plan_visit(shop, visit.id).text())
    elif arguments.file == PIPE:
        say(visit_text(shop, visit.id))
    elif arguments.file:
        export_visit(shop, visit.id, arguments.file)
    else:
        _show(shop, visit)
    return None


def _undelete(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.shop.records import Visit

    found = [one for one in shop.every(Visit, deleted=True) if str(one.number) == arguments.number]
    if not found:
        raise CorrectInputError(f"there is no sheet {arguments.number}", "", "list them: breakangle visits")
    shop.restore(Visit, found[0].id, stamp_of(arguments))
    say(f"Sheet {arguments.number} is back.")


def _show(shop: "Shop", visit: "Visit") -> None:
    from breakangle.desk.shop_visits import local_text
    from breakangle.shop.entries import entries_of, standing
    from breakangle.shop.records import Gauge, InstrumentRecord

    record = shop.get(InstrumentRecord, visit.instrument_id, deleted=True)
    say(f"Sheet {visit.number}: {record.name}, {visit.state}, since {local_text(visit.opened_at)}")
    for words in (visit.complaint, visit.notes):
        if words:
            say(words)
    entries = entries_of(shop, visit.id)
    counts = {one.id for one in standing(entries)}
    gauges = {one.id: one.name for one in shop.every(Gauge, deleted=True)}
    for one in entries:
        sign = " " if one.id in counts else "×"
        gauge = f", {gauges[one.gauge_id]}" if one.gauge_id else ""
        why = f" ({one.reason})" if one.reason else ""
        said = f"{one.body or 'withdrawn'}{why}  {one.taken_by}, {local_text(one.taken_at)}{gauge}"
        say(f"{sign} {one.place:3} {one.id} {said}")
