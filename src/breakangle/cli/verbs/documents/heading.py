"""`breakangle heading`: the shop's own heading, logo and paper."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "heading",
        help=tr("the shop's own heading, logo and paper"),
        description=tr(
            "Show or set what stands at the head of every sheet, and the paper the shop prints on."
        ),
    )
    verb.add_argument("--name", help=tr("the shop's name"))
    verb.add_argument(
        "--line",
        action="append",
        default=[],
        metavar="WORDS",
        help=tr("a line below it; may be repeated; an empty word takes all away"),
    )
    verb.add_argument(
        "--logo", metavar="FILE", help=tr("PNG, JPEG, GIF or WebP; an empty word takes it away")
    )
    verb.add_argument("--paper", choices=("a4", "letter"), help=tr("what the shop prints on"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says, and return the exit code.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    with opened(arguments) as shop:
        return _heading(shop, arguments)


def _heading(shop: "Shop", arguments: argparse.Namespace) -> int:
    from breakangle.cli.render.paper import bytes_of
    from breakangle.services.workshop.paper_heading import (
        letterhead_of,
        paper_of,
        set_heading,
        set_logo,
        set_paper,
    )

    if arguments.name is not None or arguments.line:
        name = arguments.name if arguments.name is not None else letterhead_of(shop).name
        lines = tuple(arguments.line) or letterhead_of(shop).lines
        set_heading(shop, stamp_of(arguments), name, lines)
    if arguments.logo is not None:
        content = bytes_of(arguments.logo) if arguments.logo else b""
        set_logo(shop, stamp_of(arguments), Path(arguments.logo).name, content)
    if arguments.paper:
        set_paper(shop, stamp_of(arguments), arguments.paper)
    head = letterhead_of(shop)
    logo = tr("with a logo") if head.logo_svg else tr("no logo")
    say(
        "\n".join(
            [
                head.name,
                *head.lines,
                tr("({logo}; prints on {paper_of_words})", logo=logo, paper_of_words=paper_of(shop).words),
            ]
        )
    )
    return 0
