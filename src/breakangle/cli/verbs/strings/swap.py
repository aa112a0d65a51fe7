"""`breakangle swap`: what another set or tuning does on this instrument, and whether it needs a set-up after."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import add_file, say, service_in
from breakangle.cli.render.request import service_asked
from breakangle.cli.render.typed_options import whole
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.planning.state.floating_bridge import FloatingBridge
    from breakangle.planning.state.uncertain_value import Known

SLOT_SPREAD_MM = 0.02  # how well a slot's width is measured with files; common practice, no source
WHOLE_STATES = ("predicted", "service")


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "swap",
        help=tr("what another set or tuning does here: pull, relief, gaps, slots, balance"),
        description=tr(
            "Predict what new strings or another tuning do on this instrument, with uncertainty, "
            "and say whether it will need a set-up after."
        ),
        epilog=tr("sizes are of string 1 first; each string keeps its make"),
    )
    add_file(verb)
    verb.add_argument("sizes", nargs="*", metavar="SIZE", help=tr("a whole set, such as .011in .014in ..."))
    verb.add_argument("--same", action="store_true", help=tr("a fresh set of the same sizes"))
    verb.add_argument("--tune", nargs="+", default=[], metavar="STRING=NOTE", help=tr("other notes: 6=D2"))
    verb.add_argument("--a4", metavar="HZ", help=tr("another pitch of A4"))
    verb.add_argument("--slot", nargs="+", default=[], metavar="STRING=WIDTH", help=tr("nut slots measured"))
    verb.add_argument("--springs", type=whole, metavar="COUNT", help=tr("springs of a floating bridge (3)"))
    verb.add_argument("--spring-rate", metavar="N/MM", help=tr("pull of one spring for each mm"))
    verb.add_argument("--hand", choices=("light", "medium", "heavy"), help=tr("house targets for this hand"))
    verb.add_argument(
        "--earlier", metavar="FILE", nargs="+", default=[], help=tr("earlier visits, oldest first")
    )
    verb.add_argument("--json", action="store_true", help=tr("as JSON"))
    add_units(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print what the swap does.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.cli.render.pairs import by_string, number_in
    from breakangle.services.strings.typed_strings import set_typed
    from breakangle.services.swap.comparison import swap

    units = units_asked(arguments)
    service = service_asked(arguments.file, units, arguments.json)
    new = service.instrument_now().in_order() if arguments.same else ()
    if arguments.sizes:
        new = set_typed(service, arguments.sizes, units.name)
    found = swap(
        service,
        new,
        by_string(arguments.tune, str, "6=D2"),
        None if arguments.a4 is None else number_in(arguments.a4),
        by_string(arguments.slot, _slot, "6=1.2mm"),
        _floating(arguments),
        arguments.hand,
        [service_in(one) for one in arguments.earlier],
    )
    if arguments.json:
        from breakangle.cli.render.as_json import json_text

        say(json_text(found, without=WHOLE_STATES))
        return 0
    from breakangle.cli.render.page import print_page
    from breakangle.cli.render.pages.swap import print_swap

    print_page(lambda console: print_swap(console, found, units))
    return 0


def _slot(text: str) -> "Known":
    from breakangle.model.measure import parse_length
    from breakangle.planning.state.uncertain_value import Known

    return Known(parse_length(text, "mm", 0.05, 8.0).mm, SLOT_SPREAD_MM)


def _floating(arguments: argparse.Namespace) -> "FloatingBridge":
    from breakangle.cli.render.pairs import number_in
    from breakangle.model.errors import CorrectInputError
    from breakangle.planning.state.floating_bridge import FloatingBridge
    from breakangle.planning.state.uncertain_value import Known

    rate = None
    if arguments.spring_rate is not None:
        value = number_in(arguments.spring_rate)
        if not 0.1 <= value <= 20.0:
            raise CorrectInputError(tr("a spring of {value:g} N/mm", value=value), tr("from 0.1 to 20 N/mm"))
        rate = Known(value, 0.05 * value)
    if arguments.springs is not None and not 1 <= arguments.springs <= 8:
        raise CorrectInputError(tr("{springs} springs", springs=arguments.springs), tr("from 1 to 8"))
    return FloatingBridge(spring_count=arguments.springs, spring_rate_n_per_mm=rate)
