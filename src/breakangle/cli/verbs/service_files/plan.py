"""`breakangle plan`: what to adjust, by how much, in which order and why."""

import argparse
import sys
from typing import Any

from breakangle.cli.render.entry import say, service_in
from breakangle.cli.render.taught_options import add_taught
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr

BEYOND_SETUP = 1
FORMS = ("plan/2", "plan/1")


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "plan",
        help=tr("the fewest adjustments, in order, with reasons and expected readings"),
        description=tr(
            "Solve the instrument's state from its readings; plan the fewest adjustments in order."
        ),
        epilog=tr("exit codes: 0 leave it or adjust, 1 beyond a set-up, 2 the file cannot be right"),
    )
    file = tr("a service file (JSON), or - to read one from a pipe")
    verb.add_argument("file", metavar="FILE", nargs="?", help=file)
    verb.add_argument(
        "--json",
        metavar="FORM",
        nargs="?",
        const=FORMS[0],
        help=tr("the plan as JSON: plan/2, or plan/1 for programs that do not know trips (default plan/2)"),
    )
    add_units(verb)
    verb.add_argument("--hand", choices=("light", "medium", "heavy"), help=tr("house targets for this hand"))
    verb.add_argument(
        "--no-buzz-at",
        choices=("light", "medium", "heavy"),
        help=tr("no note may be heard to buzz, played so"),
    )
    verb.add_argument(
        "--earlier",
        metavar="FILE",
        nargs="+",
        default=[],
        help=tr("earlier visits of the same instrument, oldest first: what its neck does is learned"),
    )
    add_taught(verb, tr("what many instruments taught (fleet-learn makes it), for one not seen before"))


def run(arguments: argparse.Namespace) -> int:
    """Print the plan and return the exit code: 1 where the verdict is beyond a set-up.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.services.service_files.service import plan_service

    units = units_asked(arguments)
    file, form = _file_and_form(arguments)
    service = service_in(file)
    earlier = [service_in(one) for one in arguments.earlier]
    expected = None
    if arguments.taught:
        from breakangle.services.history.population import expected_of

        found = expected_of(arguments.taught, service, arguments.make, arguments.year)
        expected = found.taught
        sys.stderr.write("".join(tr("expected of its {line}\n", line=line) for line in found.said))
    plan = plan_service(service, arguments.hand, earlier, arguments.no_buzz_at, expected)
    if form:
        from breakangle.services.service_files.plan_json import plan_text

        say(plan_text(plan, "plan/1" if form == "plan/1" else "plan/2"))
    else:
        from breakangle.cli.render.page import print_page
        from breakangle.cli.render.pages.plan import print_plan

        print_page(lambda console: print_plan(console, service, plan, units))
    return BEYOND_SETUP if plan.verdict == "beyond-setup" else 0


def _file_and_form(arguments: argparse.Namespace) -> tuple[str, str]:
    """Return the file, and the form of JSON asked for; empty where a page is.

    What stands behind --json and is no form is the file.

    Raises:
        CorrectInputError: no file, or a form that there is not.
    """
    from breakangle.model.errors import CorrectInputError

    file, form = arguments.file, arguments.json or ""
    if form and form not in FORMS and file is None:
        file, form = form, FORMS[0]
    if file is None:
        raise CorrectInputError(
            tr("breakangle plan: the following arguments are required: FILE"),
            "",
            tr("see breakangle plan --help"),
        )
    if form and form not in FORMS:
        raise CorrectInputError(
            tr("--json {form} is no form of a plan", form=form),
            tr("there are {forms}", forms=tr(" and ").join(FORMS)),
            tr("leave it out for plan/2"),
        )
    return file, form
