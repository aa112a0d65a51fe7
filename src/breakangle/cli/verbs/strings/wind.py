"""`breakangle wind`: slack to leave for a wanted number of winds on a post."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say, service_in
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "wind",
        help=tr("slack to leave for a wanted number of winds on a post"),
        description=tr(
            "Tell how much slack to leave for a wanted number of winds, as a length and as a "
            "mark past the post, and whether the winds fit the post: for a whole instrument, or "
            "for one string."
        ),
    )
    verb.add_argument(
        "file", metavar="FILE", nargs="?", help=tr("a service file, or - for a pipe; else --string")
    )
    verb.add_argument("--string", metavar="SIZE", help=tr("one string of this size, such as .010in"))
    verb.add_argument("--winds", metavar="COUNT", help=tr("winds wanted at pitch (what is usual)"))
    verb.add_argument("--post", metavar="KIND", help=tr("plain, slotted, locking, roller, bass"))
    verb.add_argument("--diameter", metavar="SIZE", help=tr("diameter of the post (what is usual)"))
    verb.add_argument("--room", metavar="SIZE", help=tr("length of post the winds can fill (what is usual)"))
    verb.add_argument("--lay", choices=("under", "over", "locked"), default="under", help=tr("how winds lie"))
    verb.add_argument("--next", metavar="LENGTH", help=tr("way to the next post, to tell the mark in posts"))
    verb.add_argument("--json", action="store_true", help=tr("as JSON"))
    add_units(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print how each string goes on its post.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.cli.render.pairs import number_in
    from breakangle.model.errors import CorrectInputError
    from breakangle.model.measure import parse_length
    from breakangle.services.strings.winding import Winding, wind, wind_set
    from breakangle.services.typed_values.sizes import STRING_MM

    units = units_asked(arguments)

    def length(text: str | None) -> float | None:
        return None if text is None else parse_length(text, units.name).mm

    winds = None if arguments.winds is None else number_in(arguments.winds)
    post, room, spacing = length(arguments.diameter), length(arguments.room), length(arguments.next)
    found: tuple[Winding, ...]
    if arguments.string is not None:
        size = parse_length(arguments.string, units.name, *STRING_MM).mm
        kind = arguments.post or "plain"
        found = (wind(size, winds, kind, post, room, arguments.lay, post_spacing_mm=spacing),)
    elif arguments.file is not None:
        service = service_in(arguments.file)
        found = wind_set(service, arguments.post, winds, post, room, arguments.lay, spacing)
    else:
        raise CorrectInputError(tr("no string is named"), tr("a service file, or --string SIZE"))
    if arguments.json:
        from breakangle.cli.render.as_json import json_text

        say(json_text(found))
        return 0
    from breakangle.cli.render.page import print_page
    from breakangle.cli.render.pages.wind import print_windings

    print_page(lambda console: print_windings(console, found, units))
    return 0
