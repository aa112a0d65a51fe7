"""`breakangle where`: where the shop's records, files and backups are."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.model.words.speech import mark, tr


def add(verbs: Any) -> None:
    """Add the verb."""
    verbs.add_parser(
        "where",
        help=tr("where the shop's records, files and backups are"),
        description=tr("Say where the shop's records, recordings, photographs and backups are."),
        epilog=tr("BREAKANGLE_DATA names another folder, BREAKANGLE_DATABASE_URL a PostgreSQL server."),
    )


def run(arguments: argparse.Namespace) -> int:
    """Print each place, made or not."""
    del arguments
    from breakangle.services.workshop.opening import where

    found = where()
    places = (
        (mark("records"), found.records),
        (mark("files"), found.blobs),
        (mark("backups"), found.backups),
    )
    for name, place in places:
        say(f"{name:8} {place}")
    say(
        tr(
            "example  {example}{not_}",
            example=found.example,
            not_="" if found.example.exists() else tr(" (not made)"),
        )
    )
    return 0
