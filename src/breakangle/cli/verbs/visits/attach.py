"""`breakangle attach`: keep a photograph or recording with a visit."""

import argparse
from pathlib import Path
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, opened, stamp_of, visit_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "attach",
        help=tr("keep a photograph or recording with a visit"),
        description=tr("Keep a photograph or recording with a visit; what it is, its name's ending tells."),
    )
    add_number(verb)
    verb.add_argument("kind", choices=("photograph", "recording"))
    verb.add_argument("file", metavar="FILE")
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says and say what was done.

    Raises:
        BreakangleError: a file that cannot be used, or a shop that cannot be reached.
    """
    from breakangle.services.workshop.attachments import attach_file

    with opened(arguments) as shop:
        visit = visit_of(shop, arguments)
        kept = attach_file(shop, stamp_of(arguments), visit, arguments.kind, Path(arguments.file))
        say(
            tr(
                "{id} {kept_name}, {size_bytes} bytes.",
                id=kept.id,
                kept_name=kept.name,
                size_bytes=kept.size_bytes,
            )
        )
    return 0
