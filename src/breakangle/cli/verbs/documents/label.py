"""`label`: labels for cases and neck pockets, with settings and a code that holds an opaque name."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "label",
        help=tr("labels with an instrument's settings and a code"),
        description=tr(
            "Make labels of 74 by 37 mm for case or neck pocket: tuning, strings, settings, and "
            "a code. Nothing on them says whose the instrument is."
        ),
    )
    verb.add_argument("numbers", nargs="+", metavar="NUMBER", help=tr("the sheets whose settings they carry"))
    verb.add_argument("--paper", choices=("a4", "letter"), help=tr("else what the shop prints on"))
    verb.add_argument(
        "--single", action="store_true", help=tr("each on a page of its own size, for a label printer")
    )
    verb.add_argument(
        "--base", metavar="ADDRESS", default="", help=tr("what comes before the name in the code")
    )
    verb.add_argument("--out", metavar="FILE", default="labels.pdf", help=tr("default labels.pdf"))
    add_units(verb)
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Make the labels.

    Raises:
        BreakangleError: no such sheet, or what was read tells nothing.
    """
    from breakangle.cli.render.paper import write_bytes
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.documents.labels import labels_file
    from breakangle.services.visits.visits import visit_numbered

    wrong = [number for number in arguments.numbers if not number.isdecimal()]
    if wrong:
        raise CorrectInputError(tr('"{wrong}" is no sheet number', wrong=wrong[0]), tr("a whole number"), "")
    with opened(arguments) as shop:
        visits = [visit_numbered(shop, int(number)) for number in arguments.numbers]
        content = labels_file(
            shop,
            visits,
            arguments.paper,
            arguments.base,
            arguments.single,
            units_asked(arguments).name == "in",
        )
    say(write_bytes(arguments.out, content))
    return 0
