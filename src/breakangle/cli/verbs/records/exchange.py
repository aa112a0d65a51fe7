"""`export`, `import`, `attach`, `example-shop`: whole shops and files in and out."""

import argparse
from pathlib import Path
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, now, opened, stamp_of, visit_of


def add(verbs: Any) -> None:
    """Add the verbs and their options."""
    verb = verbs.add_parser(
        "export",
        help="write the whole shop to one zip",
        description="Write everything to one zip: JSON lines, recordings, photographs, a manifest with hashes.",
    )
    verb.add_argument("file", metavar="FILE", help="the zip to write")
    add_shop(verb)
    verb = verbs.add_parser(
        "import",
        help="merge a whole-shop zip into the shop",
        description="Merge a zip written by `export`: nothing is doubled, nothing overwritten silently.",
    )
    verb.add_argument("file", metavar="FILE", help="the zip to read")
    add_shop(verb)
    verb = verbs.add_parser(
        "attach",
        help="keep a photograph or recording with a visit",
        description="Keep a photograph or recording with a visit; what it is, its name's ending tells.",
    )
    add_number(verb)
    verb.add_argument("kind", choices=("photograph", "recording"))
    verb.add_argument("file", metavar="FILE")
    add_shop(verb, writes=True)
    verb = verbs.add_parser(
        "example-shop",
        help="make or remove the example workshop",
        description="Make an invented workshop of two years beside your own shop, or remove it whole. Every verb of "
        "the shop works on it with --example.",
    )
    verb.add_argument("what", choices=("load", "remove"))


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says and say what was done.

    Raises:
        BreakangleError: a file that cannot be used, or a shop that cannot be reached.
    """
    if arguments.verb == "example-shop":
        return _example(arguments.what)
    with opened(arguments) as shop:
        if arguments.verb == "attach":
            from breakangle.services.workshop.attachments import attach_file

            visit = visit_of(shop, arguments)
            kept = attach_file(shop, stamp_of(arguments), visit, arguments.kind, Path(arguments.file))
            say(f"{kept.id} {kept.name}, {kept.size_bytes} bytes.")
            return 0
        from breakangle.services.records.upkeep import merge_in, take_out

        if arguments.verb == "export":
            say(f"{arguments.file}: {take_out(shop, arguments.file)} records.")
            return 0
        done = merge_in(shop, arguments.file)
    say(f"{done.added_count} records are new, {done.updated_count} were brought up to date.")
    for old, new in done.renumbered.items():
        say(f"Sheet {old} there is sheet {new} here.")
    for one in done.kept:
        say(f"{one} differs there; yours was kept.")
    return 0


def _example(what: str) -> int:
    from breakangle.services.example_workshop.workshop import load_example, remove_example
    from breakangle.services.workshop.opening import where

    if what == "load":
        say(f"{load_example(where().folder, now())}: made. Try: breakangle visits --example")
    else:
        remove_example(where().folder)
        say("The example workshop is removed.")
    return 0
