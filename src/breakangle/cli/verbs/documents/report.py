"""`breakangle report`: the hand-back sheet or the bench sheet of a visit, or of all."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened, visit_of
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import mark, tr

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop

INTERRUPTED, REFUSED = 130, 1
STATES = {"made": mark("made"), "unchanged": mark("unchanged"), "refused": mark("refused")}


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "report",
        help=tr("the hand-back sheet or the bench sheet of a visit, or of all"),
        description=tr(
            "Make a visit's sheet as PDF, HTML or the text of a mail; with --all every visit's, "
            "into a folder. Broken off, the same command goes on where it was."
        ),
        epilog=tr(
            "exit codes: 0 made, 1 some were refused, 2 what was given cannot be right, 130 broken off"
        ),
    )
    verb.add_argument("number", metavar="NUMBER", nargs="?", help=tr("the number of the visit's sheet"))
    verb.add_argument("--all", action="store_true", help=tr("every visit's sheet, into the folder --out"))
    verb.add_argument("--sheet", choices=("hand-back", "bench"), default="hand-back", help=tr("which sheet"))
    verb.add_argument("--form", choices=("pdf", "html", "txt"), default="pdf", help=tr("txt is for a mail"))
    verb.add_argument("--paper", choices=("a4", "letter"), help=tr("else what the shop prints on"))
    verb.add_argument(
        "--out", metavar="PLACE", help=tr("file, or folder with --all (else beside you, by its name)")
    )
    verb.add_argument(
        "--base",
        metavar="ADDRESS",
        default="",
        help=tr("what comes before the instrument's name in the code"),
    )
    verb.add_argument("--without-pictures", action="store_true", help=tr("words and figures only"))
    add_units(verb)
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says, and return the exit code.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    from breakangle.model.errors import CorrectInputError

    with opened(arguments) as shop:
        if arguments.all:
            return _all(shop, arguments)
        if arguments.number is None:
            raise CorrectInputError(
                tr("no sheet is named"), tr("a number, or --all"), tr("list them with `breakangle visits`")
            )
        return _one(shop, arguments)


def _one(shop: "Shop", arguments: argparse.Namespace) -> int:
    from breakangle.cli.render.paper import write_bytes
    from breakangle.services.documents.sheets import sheet_file, sheet_name

    visit = visit_of(shop, arguments)
    address = f"{arguments.base}{visit.instrument_id}" if arguments.base else ""
    content = sheet_file(
        shop,
        visit,
        arguments.sheet,
        arguments.form,
        arguments.paper,
        address,
        not arguments.without_pictures,
        inch=units_asked(arguments).name == "in",
    )
    say(write_bytes(arguments.out or sheet_name(visit, arguments.sheet, arguments.form), content))
    return 0


def _all(shop: "Shop", arguments: argparse.Namespace) -> int:
    from breakangle.cli.render.paper import shown_progress
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.documents.batch import Batch, sheets_into, visits_of

    if not arguments.out:
        raise CorrectInputError(
            tr("no folder is named"), "", tr("such as: breakangle report --all --out sheets")
        )
    batch = Batch(
        arguments.sheet, arguments.form, arguments.paper, arguments.base, not arguments.without_pictures
    )
    visits = visits_of(shop)
    counts = dict.fromkeys(STATES, 0)
    try:
        for one in shown_progress(
            sheets_into(shop, Path(arguments.out), visits, batch), len(visits), "sheets"
        ):
            counts[one.state] += 1
            if one.state == "refused":
                sys.stderr.write(
                    tr("sheet {visit_number}: {told}\n", visit_number=one.visit.number, told=one.told)
                )
    except KeyboardInterrupt:
        broken_off = mark("{made} of {count}. Broken off: the same command goes on from here.")
        say(tr(broken_off, made=_words(counts), count=len(visits)))
        return INTERRUPTED
    say(tr("{made} of {count}, in {out}.", made=_words(counts), count=len(visits), out=arguments.out))
    return REFUSED if counts["refused"] else 0


def _words(counts: dict[str, int]) -> str:
    return ", ".join(f"{count} {STATES[state]}" for state, count in counts.items())
