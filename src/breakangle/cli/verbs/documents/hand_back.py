"""`hand-back`: what stands open is asked, then the visit is closed with its sheet; later amended, for a reason."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, opened, stamp_of, visit_of
from breakangle.cli.render.units import Units, add_units, units_asked
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.records import Visit
    from breakangle.storage.records.store import Shop

COLUMNS = 80


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "hand-back",
        help=tr("hand an instrument back: see what stands open, close the visit, amend it later"),
        description=tr(
            "List what stands open, each with its key. With --sign, close the visit: every open "
            "thing needs a reason, such as --reason figures:action='the owner wants it high'. "
            "The sheet is then kept as it is."
        ),
    )
    add_number(verb)
    verb.add_argument(
        "--reason", metavar="KEY=WORDS", action="append", default=[], help=tr("why it goes back so")
    )
    verb.add_argument("--sign", metavar="NAME", help=tr("close the visit, signed by that name"))
    verb.add_argument(
        "--on", choices=("a4", "letter"), help=tr("the paper its sheet is kept for; else the shop's")
    )
    verb.add_argument(
        "--left",
        metavar="DAY",
        default="",
        help=tr("the day it went back, as 2027-03-01, where that was earlier"),
    )
    verb.add_argument("--base", default="", metavar="ADDRESS", help=tr("what the code on the sheet opens"))
    verb.add_argument(
        "--amend", metavar="WHY", help=tr("open a closed visit for an amendment, with its reason")
    )
    verb.add_argument("--leave", action="store_true", help=tr("close it again where nothing was amended"))
    add_units(verb)
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: something stands open, what was given cannot be right, or the shop cannot be reached.
    """
    from breakangle.services.documents.hand_back.amend import leave_amendment, open_amendment

    with opened(arguments) as shop:
        visit = visit_of(shop, arguments)
        if arguments.amend is not None:
            open_amendment(shop, visit, arguments.amend, stamp_of(arguments))
            say(
                tr(
                    "Sheet {visit_number} is open for an amendment; close it: breakangle hand-back "
                    "{visit_number} --sign",
                    visit_number=visit.number,
                )
            )
        elif arguments.leave:
            leave_amendment(shop, visit, stamp_of(arguments))
            say(tr("Sheet {visit_number} is closed as it was.", visit_number=visit.number))
        elif arguments.sign is not None:
            _close(shop, visit, arguments)
        else:
            _list(shop, visit, units_asked(arguments))
    return 0


def _close(shop: "Shop", visit: "Visit", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.documents.hand_back.close import Closes, close_visit

    reasons = {}
    for one in arguments.reason:
        key, equals, words = one.partition("=")
        if not equals:
            raise CorrectInputError(
                tr('the reason "{one}"', one=one[:40]),
                "KEY=WORDS",
                tr("keys: breakangle hand-back {visit_number}", visit_number=visit.number),
            )
        reasons[key] = words
    address = f"{arguments.base}{visit.number}" if arguments.base else ""
    given = Closes(reasons, arguments.sign, arguments.on, address, left_on=arguments.left)
    closing = close_visit(shop, visit, stamp_of(arguments), given)
    say(
        tr(
            "Sheet {visit_number} is closed, signed {signed_by}; kept, to print: breakangle "
            "report {visit_number}",
            visit_number=visit.number,
            signed_by=closing.signed_by,
        )
    )


def _list(shop: "Shop", visit: "Visit", units: Units) -> None:
    from textwrap import fill

    from breakangle.reference.messages import words
    from breakangle.services.documents.hand_back.close import gate_of
    from breakangle.services.documents.hand_back.frozen import closed_told
    from breakangle.services.visits.visits import local_text

    for one in reversed(closed_told(shop, visit)):
        why = f" ({one.reason})" if one.reason else ""
        say(
            tr(
                "closed {number}  {local_text}  {signed_by}{why}  {pdf_hash}",
                number=one.number,
                local_text=local_text(one.at),
                signed_by=one.signed_by,
                why=why,
                pdf_hash=one.pdf_hash[:16],
            )
        )
    if visit.closed_at is not None:
        return
    asked = gate_of(shop, visit)
    for each in asked:
        say(fill(f"{each.key}: {units.sentence(words(each.message))}", COLUMNS))
    if not asked:
        say(
            tr(
                "Nothing stands open: breakangle hand-back {visit_number} --sign NAME",
                visit_number=visit.number,
            )
        )
