"""`breakangle fleet-learn`: what a neck of a make answers, from many of them."""

import argparse
import sys
from typing import Any

from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "fleet-learn",
        help=tr("what a neck of a make answers, from a run of `fleet learn`"),
        description=tr(
            "How much necks of a make, and makes, differ is worked out from all necks together; "
            "a make of few specimens is drawn to the others by as much as they tell. `breakangle "
            "plan --taught FILE` uses it."
        ),
    )
    verb.add_argument("folder", metavar="FOLDER", nargs="?", help=tr("the folder of a run of the job learn"))
    verb.add_argument("--makes", metavar="CSV", help=tr("a table with the columns item and make"))
    verb.add_argument(
        "--out", metavar="FILE", required=True, help=tr("where it goes; the former version stays beside")
    )
    verb.add_argument("--put-back", action="store_true", help=tr("put the former version of FILE back"))


def run(arguments: argparse.Namespace) -> int:
    """Write the next version, or put the former back, and print what changed.

    Raises:
        BreakangleError: a folder, table or file that cannot be used.
    """
    from breakangle.fleet.learned import populations_of, rows_in
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.history.population import changes, makes_listed, put_back, write_population

    if arguments.put_back:
        version = put_back(arguments.out)
    elif not arguments.folder:
        raise CorrectInputError(tr("no folder to learn from"), tr("FOLDER, or --put-back"))
    else:
        rows = rows_in(arguments.folder)
        makes = makes_listed(arguments.makes, [row["item"] for row in rows]) if arguments.makes else {}
        version = write_population(arguments.out, populations_of(rows, makes))
    sys.stdout.write(tr("{out}: version {version}\n", out=arguments.out, version=version))
    sys.stdout.write("".join(f"  {line}\n" for line in changes(arguments.out)))
    return 0
