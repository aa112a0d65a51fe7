"""`breakangle strings`: what each string pulls, weighs and feels like, and sizes for wished pulls."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import add_file, say, service_in
from breakangle.cli.render.typed_options import whole
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.services.strings.string_set import UnitMass


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "strings",
        help=tr("pull, feel and breaking margin of the set; sizes for wished pulls"),
        description=tr(
            "Show what each string of the instrument pulls in its tuning, how hard and how far "
            "it bends, and how near it works to breaking. With --find: the sizes for wished "
            "pulls."
        ),
    )
    add_file(verb)
    verb.add_argument(
        "--printed",
        nargs="+",
        default=[],
        metavar="STRING=G/M",
        help=tr("unit masses as printed by their makers"),
    )
    verb.add_argument(
        "--weighed",
        nargs="+",
        default=[],
        metavar="STRING=GRAMS/LENGTH",
        help=tr("your own weighing, such as 6=6.71/1000mm"),
    )
    verb.add_argument(
        "--bent",
        nargs="+",
        default=[],
        metavar="STRING=DOWN/UP",
        help=tr(
            "cents a bend moved an open string after tuning down to pitch, and up to it, such as 6=-5.5/-0.5"
        ),
    )
    verb.add_argument("--bend-fret", type=whole, default=12, metavar="FRET", help=tr("where it is bent (12)"))
    _add_find(verb)
    verb.add_argument("--example", action="store_true", help=tr("with --shelf: the example workshop's"))
    verb.add_argument("--json", action="store_true", help=tr("as JSON"))
    add_units(verb)


def _add_find(verb: Any) -> None:
    verb.add_argument("--find", action="store_true", help=tr("sizes that pull as wished: alike, unless told"))
    verb.add_argument("--wish", nargs="+", default=[], metavar="STRING=N", help=tr("with --find: pulls in N"))
    verb.add_argument("--total", metavar="N", help=tr("with --find: pull of all together (as it is)"))
    verb.add_argument(
        "--balance",
        nargs="+",
        default=[],
        metavar="STRING=SHARE",
        help=tr("with --find: shares of it (1 each)"),
    )
    verb.add_argument(
        "--shelf", action="store_true", help=tr("with --find: only what lies on the shop's shelf")
    )


def run(arguments: argparse.Namespace) -> int:
    """Print the set, or sizes for wished pulls.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.cli.render.as_json import json_text
    from breakangle.cli.render.page import print_page
    from breakangle.cli.render.pages.strings import print_choices, print_set
    from breakangle.cli.render.pairs import by_string, number_in
    from breakangle.model.typed_number import decimals_typed
    from breakangle.services.strings.string_set import printed, strings, with_masses

    units = units_asked(arguments)
    service = service_in(arguments.file)
    masses = by_string(
        arguments.printed, lambda text: printed(number_in(text), decimals_typed(text)), "6=6.83"
    )
    masses |= by_string(arguments.weighed, lambda text: _weighed(text, units.name), "6=6.71/1000mm")
    if arguments.find:
        from breakangle.services.strings.sizes import find_gauges

        choices = find_gauges(
            with_masses(service, masses),
            by_string(arguments.wish, number_in, "1=75"),
            None if arguments.total is None else number_in(arguments.total),
            by_string(arguments.balance, number_in, "1=0.95"),
            _shelf(arguments) if arguments.shelf else None,
        )
        if arguments.json:
            say(json_text(choices))
        else:
            print_page(lambda console: print_choices(console, service, choices, units))
        return 0
    bends = by_string(arguments.bent, _bent, "6=-5.5/-0.5")
    found = strings(service, masses, arguments.bend_fret, bends)
    if arguments.json:
        say(json_text(found))
    else:
        print_page(lambda console: print_set(console, service, found, units))
    return 0


def _bent(text: str) -> tuple[float, float]:
    from breakangle.cli.render.pairs import number_in
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.strings.string_set import bent

    down, slash, up = text.replace("−", "-").partition("/")
    if not slash:
        raise CorrectInputError(
            f'"{text}"', tr("cents after tuning down over cents after tuning up, such as -5.5/-0.5")
        )
    return bent(number_in(down), number_in(up))


def _weighed(text: str, own_unit: str) -> "UnitMass":
    from breakangle.cli.render.pairs import number_in
    from breakangle.model.errors import CorrectInputError
    from breakangle.model.measure import parse_length
    from breakangle.services.strings.string_set import weighed

    grams, slash, length = text.partition("/")
    if not slash:
        raise CorrectInputError(f'"{text}"', tr("grams over length, such as 6.71/1000mm"))
    return weighed(number_in(grams), parse_length(length, own_unit).mm)


def _shelf(arguments: argparse.Namespace) -> Any:
    from breakangle.cli.render.shop_entry import opened
    from breakangle.services.strings.stock import shelf_strings

    with opened(arguments) as shop:
        return shelf_strings(shop)
