"""`template`: paper at true size from an instrument's geometry, as PDF, SVG or DXF."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.choices import add_choices, chosen, say_options
from breakangle.cli.render.entry import say, service_in
from breakangle.cli.render.shop_entry import add_shop, opened, visit_of
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr

if TYPE_CHECKING:
    from breakangle.model.service import Service


EPILOG = mark(
    "such as: breakangle template fret-positions service.json --set nut=moved --form dxf; exit codes: 0 done, "
    "1 a print that was measured is not true, 2 what was given cannot be right"
)


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "template",
        help=tr("templates at true size: frets, nut slots, saddle, gauges, as PDF, SVG or DXF"),
        description=tr(
            "Draw a template of an instrument at true size. Without a name, list the templates "
            "and what may be chosen of each."
        ),
        epilog=tr(EPILOG),
    )
    verb.add_argument(
        "name", nargs="?", metavar="TEMPLATE", help=tr("such as fret-positions; without it all are listed")
    )
    add_choices(verb)
    verb.add_argument(
        "--visit", metavar="NUMBER", dest="number", help=tr("the instrument of this sheet instead of a file")
    )
    verb.add_argument(
        "--family", metavar="KIND", help=tr("an instrument in a family's usual sizes instead of a file")
    )
    verb.add_argument("--form", choices=("pdf", "svg", "dxf"), default="pdf", help=tr("default pdf"))
    verb.add_argument(
        "--paper", choices=("a4", "letter"), help=tr("of the PDF: else what the shop prints on, or A4")
    )
    verb.add_argument("--out", metavar="FILE", help=tr("else beside you, by the template's name"))
    verb.add_argument(
        "--measured", metavar="LENGTH", help=tr("what a printed bar of 100 mm measured: is the print true?")
    )
    add_units(verb)
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Draw, list, or judge a print, and return the exit code: 1 where a print is not true.

    Raises:
        BreakangleError: what was given cannot be right.
    """
    own_unit = units_asked(arguments).name
    if arguments.measured is not None:
        return _measured(arguments.measured, own_unit)
    if arguments.name is None:
        return _listed(own_unit)
    from breakangle.cli.render.paper import write_bytes
    from breakangle.services.documents.templates import template_file

    service, paper = _service_and_paper(arguments)
    options = chosen(arguments.options, "nut=moved")
    content = template_file(service, arguments.name, arguments.form, paper, options, own_unit)
    say(write_bytes(arguments.out or f"{arguments.name}.{arguments.form}", content))
    return 0


def _measured(text: str, own_unit: str) -> int:
    from breakangle.model.measure import parse_length
    from breakangle.services.documents.templates import printed_scale

    found = printed_scale(parse_length(text, own_unit).mm)
    say(found.told)
    return 0 if found.good else 1


def _listed(own_unit: str) -> int:
    from breakangle.services.documents.templates import templates

    for kind in templates():
        say(f"{kind.name}: {kind.told}")
        say_options(kind.options, own_unit)
    return 0


def _service_and_paper(arguments: argparse.Namespace) -> tuple["Service", Any]:
    """Return whose template it is, and the paper."""
    given = [one for one in (arguments.file, arguments.number, arguments.family) if one is not None]
    if len(given) != 1:
        raise CorrectInputError(
            tr("{given_count} instruments are named", given_count=len(given))
            if given
            else tr("no instrument is named"),
            tr("one: a FILE, --visit NUMBER or --family KIND"),
            tr("name one"),
        )
    if arguments.number is not None:
        from breakangle.services.documents.templates import shop_paper
        from breakangle.services.visits.entries import service_of

        with opened(arguments) as shop:
            return service_of(shop, visit_of(shop, arguments).id), shop_paper(shop, arguments.paper)
    if arguments.family is not None:
        from breakangle.reference.families import family
        from breakangle.services.service_files.example import empty_service

        kin = family(arguments.family)
        return empty_service(kin, kin.words), arguments.paper or "a4"
    return service_in(arguments.file), arguments.paper or "a4"
