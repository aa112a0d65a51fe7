"""`breakangle fleet-learn`: what a neck of a make answers, from many of them."""

import argparse
import sys
from typing import Any

from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "fleet-learn",
        help=tr("what to expect of an instrument of a make and year, from a run of `fleet learn`"),
        description=tr(
            "How much instruments of a make, its years, and makes differ is worked out from all "
            "of them together: necks, saddles, crowns and seasons. A make of few specimens is "
            "drawn to the others by as much as they tell. `breakangle plan --taught FILE` uses "
            "it, `breakangle climate` what it says of seasons."
        ),
    )
    verb.add_argument("folder", metavar="FOLDER", nargs="?", help=tr("the folder of a run of the job learn"))
    verb.add_argument(
        "--makes",
        metavar="CSV",
        help=tr("a table with the columns item and make; year and instrument may stand beside them"),
    )
    verb.add_argument(
        "--shop",
        action="store_true",
        help=tr("the run was over the shop: which visits are of one instrument is known"),
    )
    verb.add_argument("--example", action="store_true", help=tr("the same of the example workshop"))
    verb.add_argument(
        "--out", metavar="FILE", required=True, help=tr("where it goes; the former version stays beside")
    )
    verb.add_argument("--put-back", action="store_true", help=tr("put the former version of FILE back"))
    add_units(verb)


def run(arguments: argparse.Namespace) -> int:
    """Write the next version, or put the former back, and print what changed.

    Raises:
        BreakangleError: a folder, table or file that cannot be used.
    """
    from breakangle.cli.render.shop_entry import opened
    from breakangle.fleet.learned import populations_of, rows_in, visits_in, with_instruments
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.history.makes_table import makes_listed
    from breakangle.services.history.population import changes, put_back, write_population

    units = units_asked(arguments).name
    if arguments.put_back:
        version = put_back(arguments.out)
    elif not arguments.folder:
        raise CorrectInputError(tr("no folder to learn from"), tr("FOLDER, or --put-back"))
    else:
        rows = rows_in(arguments.folder)
        whose = makes_listed(arguments.makes, [row["item"] for row in rows]) if arguments.makes else {}
        if arguments.shop or arguments.example:
            with opened(arguments) as shop:
                whose = with_instruments(whose, visits_in(shop))
        version = write_population(arguments.out, populations_of(rows, whose))
    sys.stdout.write(tr("{out}: version {version}\n", out=arguments.out, version=version))
    sys.stdout.write("".join(f"  {line}\n" for line in changes(arguments.out, units)))
    return 0
