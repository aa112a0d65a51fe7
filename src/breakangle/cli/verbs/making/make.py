"""`breakangle make`: the sheet of a making job: neck angle, nut, saddle, refret, bridge."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.choices import add_choices, chosen, say_options
from breakangle.cli.render.entry import say
from breakangle.cli.render.request import service_asked
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.model.service import Service
    from breakangle.services.making.kinds import MakingSheet


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "make",
        help=tr("sheets for making: neck angle and reset, nut, saddle, refret, bridge placement"),
        description=tr(
            "Work out a making job for an instrument. Without a job, list the jobs and what may be chosen."
        ),
        epilog=tr(
            "such as: breakangle make nut service.json --set crown=1.1; exit codes: 0 done, 2 "
            "what was given cannot be right"
        ),
    )
    verb.add_argument("job", nargs="?", metavar="JOB", help=tr("such as nut; without it all are listed"))
    add_choices(verb)
    verb.add_argument("--sheet", metavar="FILE", help=tr("write the sheet there (.pdf, .html or .txt)"))
    verb.add_argument(
        "--true-size",
        metavar="FILE",
        help=tr("write the template at true size that goes with it (.pdf, .svg or .dxf)"),
    )
    verb.add_argument("--json", action="store_true", help=tr("the figures as JSON (breakangle/make/1)"))
    add_units(verb)
    verb.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print the sheet, or the list of jobs.

    Raises:
        BreakangleError: a job, a file or a value that cannot be right.
    """
    from breakangle.documents.renderers.page_text import page_text
    from breakangle.documents.renderers.page_units import in_inches
    from breakangle.services.making.registry import making_file, making_job, making_page

    units = units_asked(arguments)
    if arguments.job is None:
        return _listed(units.name)
    if arguments.file is None:
        raise CorrectInputError(tr("no instrument is named"), tr("a service file"), tr("name one"))
    choices = chosen(arguments.options, "crown=1.1")
    job = making_job(arguments.job)
    service = service_asked(arguments.file, units, arguments.json)
    sheet = job.sheet(service, choices, units.name)
    name, inch = service.instrument.name, units.name == "in"
    if arguments.json:
        import json

        told = {"format": "breakangle/make/1", "job": job.name, "instrument": name, "lead": sheet.lead}
        say(json.dumps(told | {"figures": sheet.figures}, indent=1, ensure_ascii=False, allow_nan=False))
    else:
        page = making_page(sheet, name)
        say(page_text(in_inches(page) if inch else page).rstrip())
    if arguments.sheet:
        from breakangle.cli.render.paper import write_bytes

        form = arguments.sheet.rpartition(".")[2].lower()
        said = write_bytes(arguments.sheet, making_file(sheet, name, form, inch=inch))
        if not arguments.json:
            say(tr("written: {said}", said=said))
    if arguments.true_size:
        said = _true_size(arguments.true_size, service, sheet, units.name)
        if not arguments.json:
            say(tr("written: {said}", said=said))
    return 0


def _true_size(path: str, service: "Service", sheet: "MakingSheet", own_unit: str) -> str:
    from breakangle.cli.render.paper import write_bytes
    from breakangle.services.documents.templates import template_file

    if not sheet.papers:
        raise CorrectInputError(
            tr("nothing of this is drawn at true size"), tr("a sheet that has something to cut"), ""
        )
    one = sheet.papers[0]
    form = path.rpartition(".")[2].lower()
    drawn = template_file(service, one.template, form, options=one.text(), own_unit=own_unit)
    return write_bytes(path, drawn)


def _listed(own_unit: str) -> int:
    from breakangle.services.making.registry import making_jobs

    for job in making_jobs().values():
        say(f"{job.name}: {job.told}")
        say_options(job.options, own_unit)
    return 0
