"""`breakangle fleet`: one job over many instruments, on this machine or on several."""

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.fleet_keys import add_keys, keys_of
from breakangle.cli.render.fleet_outcome import outcome_words
from breakangle.cli.render.fleet_progress import Teller
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.fleet.items import Item
    from breakangle.fleet.run import Outcome

FAILED = 1
STRENGTHS = ("light", "medium", "heavy")
JOBS = ("plan", "figures", "certify", "predict", "buzz", "lowest", "learn", "simulate", "listen")
CERTIFY, PLAN = "certify", "plan"
MOST = 1_000_000  # builds of one design; more tell nothing new
PER_PROCESSOR = 4  # workers at most: each is of one thread, and takes 160 MB and more
# What only some jobs take, and which.
SETTINGS = {
    "hand": (PLAN,),
    "strength": ("buzz", "lowest"),
    "builds": ("simulate",),
    "seed": ("simulate",),
    "dated": (CERTIFY,),
    "maker": (CERTIFY,),
    "paper": (CERTIFY,),
}


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = _parser(verbs)
    verb.add_argument("job", metavar="JOB", help=_jobs_told())
    verb.add_argument(
        "places", metavar="PLACE", nargs="*", help=tr("files, folders, or Parquet sets of service files")
    )
    verb.add_argument(
        "--shop",
        action="store_true",
        help=tr("every instrument of the shop, as last seen (learn: at each visit)"),
    )
    verb.add_argument("--example", action="store_true", help=tr("every instrument of the example workshop"))
    verb.add_argument(
        "--list",
        metavar="FILE",
        help=tr("a text file that names such places, one a line; - reads them from a pipe"),
    )
    verb.add_argument("--out", metavar="FOLDER", required=True, help=tr("where the answers go"))
    verb.add_argument(
        "--workers",
        type=_workers,
        default=2,
        metavar="N",
        help=tr("processes on this machine (default 2); one for each processor does all that it can"),
    )
    verb.add_argument(
        "--engine",
        choices=("local",),
        default="local",
        help=tr("processes of this machine (unless --scheduler)"),
    )
    verb.add_argument(
        "--scheduler", metavar="ADDRESS", help=tr("a scheduler's workers in the place of processes here")
    )
    add_keys(verb)
    _add_settings(verb)
    verb.add_argument("--failed-again", action="store_true", help=tr("try what failed before once more"))


def _jobs_told() -> str:
    """Return the jobs, each with what it makes."""
    from breakangle.fleet.jobs import job_named

    jobs = "; ".join(f"{name}: {tr(job_named(name).WORDS)}" for name in JOBS)
    return tr("{jobs} (listen takes recordings, the others service files)", jobs=jobs)


def _parser(verbs: Any) -> Any:
    return verbs.add_parser(
        "fleet",
        help=tr("one job over many instruments, such as plan, figures, certify, simulate or listen"),
        description=tr(
            "Do one job on every service file (or recording) and write one table. What is done "
            "is kept: the same command goes on where it was broken off. One bad file stops none "
            "of the rest."
        ),
        epilog=tr(
            "exit codes: 0 all done, 1 some items failed (failures.parquet), 2 what was given cannot be right"
        ),
    )


def _add_settings(verb: Any) -> None:
    """Add what only some jobs take."""
    verb.add_argument("--hand", choices=STRENGTHS, help=tr("plan: house targets for this hand"))
    verb.add_argument(
        "--taught", metavar="FILE", help=tr("plan: what many instruments taught (fleet-learn makes it)")
    )
    verb.add_argument(
        "--makes",
        metavar="CSV",
        help=tr("plan, with --taught: a table with the columns item and make; year may stand beside them"),
    )
    verb.add_argument(
        "--strength", choices=STRENGTHS, help=tr("buzz, lowest: how hard it is played (medium)")
    )
    verb.add_argument(
        "--builds", type=_whole, metavar="N", help=tr("simulate: builds of each design (10000)")
    )
    verb.add_argument(
        "--seed", type=_whole, metavar="N", help=tr("simulate: the same one draws the same builds")
    )
    verb.add_argument(
        "--dated", metavar="DAY", help=tr("certify: the day that certificates say, such as 2026-11-30")
    )
    verb.add_argument("--maker", metavar="NAME", help=tr("certify: whose certificates they are"))
    verb.add_argument("--paper", choices=("a4", "letter"), help=tr("certify: what they are printed on (a4)"))
    add_units(verb)


def run(arguments: argparse.Namespace) -> int:
    """Do the job on every item; return 1 where some failed.

    Raises:
        BreakangleError: what cannot be right.
    """
    try:
        outcome = _outcome(arguments)
    except KeyboardInterrupt:
        sys.stderr.write(tr("\nstopped; the same command goes on from here\n"))
        raise
    _tell_outcome(arguments, outcome)
    return FAILED if outcome.failed else 0


def _outcome(arguments: argparse.Namespace) -> "Outcome":
    from breakangle.fleet.addresses import checked_address
    from breakangle.fleet.engine import elsewhere, local
    from breakangle.fleet.run import run as run_job

    if arguments.job == CERTIFY:
        from breakangle.fleet.jobs.certify import certified_day

        certified_day(arguments.dated)
    settings = _settings(arguments)
    if arguments.job == CERTIFY and (units := units_asked(arguments).name) != "mm":
        settings["units"] = units  # tables of numbers are in mm, as their columns say
    keys = keys_of(arguments)
    if arguments.scheduler:
        checked_address(arguments.scheduler, keys)  # before a large archive is read
    items = _items(arguments)
    workers = min(arguments.workers, len(items))
    engine = elsewhere(arguments.scheduler, keys) if arguments.scheduler else local(workers)
    with engine as there:
        return run_job(
            arguments.job,
            items,
            arguments.out,
            there,
            settings=settings,
            failed_again=arguments.failed_again,
            told=Teller(),
        )


def _tell_outcome(arguments: argparse.Namespace, outcome: "Outcome") -> None:
    """Print what the run came to and where it is; write certificates as files."""
    if sys.stderr.isatty():
        sys.stderr.write("\n")
    sys.stdout.write("".join(f"{line}\n" for line in outcome_words(outcome)))
    if arguments.job == CERTIFY:
        from breakangle.fleet.certificates import certificates_into

        given = certificates_into(outcome.results, Path(arguments.out) / "certificates")
        sys.stdout.write(
            tr(
                "{passed} certificates in {folder}, {kept_back} kept back\n",
                passed=given.passed,
                folder=given.folder,
                kept_back=given.kept_back,
            )
        )
        if given.kept_back:
            sys.stdout.write(tr("what keeps them back: the columns outside, open and steps\n"))


def _settings(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return what was set for the job.

    Raises:
        CorrectInputError: something that the job does not use.
    """
    from breakangle.model.errors import CorrectInputError

    found = {name: value for name in SETTINGS if (value := getattr(arguments, name)) is not None}
    for name in found:
        if arguments.job not in SETTINGS[name]:
            raise CorrectInputError(
                tr("{job} does not use --{name}", job=arguments.job, name=name), _who_uses(SETTINGS[name])
            )
    if arguments.taught:
        found["taught"] = _taught(arguments)
    elif arguments.makes:
        raise CorrectInputError(
            tr("--makes without --taught"),
            tr("plan says by it what others taught of a make"),
            tr("name both, or give it to breakangle fleet-learn"),
        )
    return found


def _who_uses(jobs: tuple[str, ...]) -> str:
    *others, last = jobs
    if others:
        return tr("{others} and {last} do", others=", ".join(others), last=last)
    return tr("{last} does", last=last)


def _taught(arguments: argparse.Namespace) -> str:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.history.population import taught_text

    if arguments.job != PLAN:
        raise CorrectInputError(
            tr("{job} does not use what others taught", job=arguments.job), tr("plan does")
        )
    return taught_text(arguments.taught)


def _whole(text: str) -> int:
    from breakangle.model.typed_number import whole_within

    found = whole_within(text, 1, MOST)
    if found is None:
        raise argparse.ArgumentTypeError(
            tr("{text!r} is not a whole number from 1 to {most}", text=text, most=MOST)
        )
    return found


def _workers(text: str) -> int:
    from breakangle.model.typed_number import whole_within

    most = PER_PROCESSOR * (len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count() or 1)
    found = whole_within(text, 1, most)
    if found is None:
        told = tr(
            "{text!r} is not a whole number from 1 to {most}: one for each processor does all that this machine can, "
            "{each} for each are the most",
            text=text,
            most=most,
            each=PER_PROCESSOR,
        )
        raise argparse.ArgumentTypeError(told)
    return found


def _items(arguments: argparse.Namespace) -> "list[Item]":
    from breakangle.cli.render.shop_entry import opened
    from breakangle.fleet.items import in_order, items_in_shop, items_of, listed_in, with_makes
    from breakangle.fleet.jobs import job_named
    from breakangle.model.errors import CorrectInputError

    endings = job_named(arguments.job).ENDINGS
    places = arguments.places + (listed_in(arguments.list) if arguments.list else [])
    if not (places or arguments.shop or arguments.example):
        raise CorrectInputError(
            tr("no place to look in"), tr("files, folders, Parquet sets, --list, --shop or --example")
        )
    found = items_of(places, endings) if places else []
    if arguments.shop or arguments.example:
        with opened(arguments) as shop:
            found = [*found, *items_in_shop(shop, every_visit=arguments.job == "learn")]
    found = in_order(found)
    return with_makes(found, arguments.makes) if arguments.makes else found
