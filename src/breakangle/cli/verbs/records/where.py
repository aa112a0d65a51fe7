"""`breakangle where`: where the shop's records, files and backups are."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say


def add(verbs: Any) -> None:
    """Add the verb."""
    verbs.add_parser(
        "where",
        help="where the shop's records, files and backups are",
        description="Say where the shop's records, recordings, photographs and backups are.",
        epilog="BREAKANGLE_DATA names another folder, BREAKANGLE_DATABASE_URL a PostgreSQL server.",
    )


def run(arguments: argparse.Namespace) -> int:
    """Print each place, made or not."""
    del arguments
    from breakangle.services.workshop.opening import where

    found = where()
    for name, place in (("records", found.records), ("files", found.blobs), ("backups", found.backups)):
        say(f"{name:8} {place}")
    say(f"example  {found.example}{'' if found.example.exists() else ' (not made)'}")
    return 0
