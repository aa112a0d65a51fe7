"""`breakangle fleet` and what belongs to it: one job over many instruments, on this machine or on several."""

import argparse
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from breakangle.fleet.items import Item
    from breakangle.fleet.run import Progress

FAILED = DRIFTED = 1
STRENGTHS = ("light", "medium", "heavy")


def add(verbs: Any) -> None:
    """Add the verbs and their options."""
    _add_fleet(verbs)
    scheduler = verbs.add_parser(
        "fleet-scheduler", help="a scheduler for a fleet's work over several machines"
    )
    scheduler.add_argument(
        "--listen",
        metavar="ADDRESS",
        default="tcp://127.0.0.1:8786",
        help="where it listens (default tcp://127.0.0.1:8786); other machines reach it over tls:// only",
    )
    _add_keys(scheduler)
    worker = verbs.add_parser(
        "fleet-worker",
        help="one worker for a fleet's scheduler; start one a core",
        description="Run a worker of one thread for a fleet's scheduler until it is interrupted.",
    )
    worker.add_argument("address", metavar="ADDRESS", help="the scheduler's address")
    worker.add_argument("--host", metavar="ADDRESS", help="this machine's own address for the others")
    worker.add_argument(
        "--memory", type=int, default=1500, metavar="MB", help="what it may take (default 1500)"
    )
    _add_keys(worker)
    drift = verbs.add_parser(
        "fleet-drift",
        help="whether a maker's line drifts: control charts of a run of `fleet figures`",
        description="Control charts by quantity over instruments in the order of their names: single values against "
        "three deviations, and a cumulative sum that finds a shift of one deviation.",
        epilog="exit codes: 0 nothing has drifted, 1 something has, 2 what was given cannot be right",
    )
    drift.add_argument("folder", metavar="FOLDER", help="the folder of a run of the job figures")
    learn = verbs.add_parser(
        "fleet-learn",
        help="what a neck of a make answers, from a run of `fleet learn`",
        description="How much necks of a make, and makes, differ is worked out from all necks together; a make of few "
        "specimens is drawn to the others by as much as they tell. `breakangle plan --taught FILE` uses it.",
    )
    learn.add_argument("folder", metavar="FOLDER", nargs="?", help="the folder of a run of the job learn")
    learn.add_argument("--makes", metavar="CSV", help="a table with the columns item and make")
    learn.add_argument(
        "--out", metavar="FILE", required=True, help="where it goes; the former version stays beside"
    )
    learn.add_argument("--put-back", action="store_true", help="put the former version of FILE back")
    keys = verbs.add_parser(
        "fleet-keys",
        help="make the certificates of a fleet's machines",
        description="Make an authority and one certificate under it. Whoever holds them can run code on every worker.",
    )
    keys.add_argument(
        "folder", metavar="FOLDER", help="a new folder; carry it to every machine, keep it secret"
    )


def _add_fleet(verbs: Any) -> None:
    verb = verbs.add_parser(
        "fleet",
        help="one job over many instruments: plan, figures, predict, buzz, lowest or listen",
        description="Do one job on every service file (or recording) and write one table. What is done is kept: the "
        "same command goes on where it was broken off. One bad file stops none of the rest.",
        epilog="exit codes: 0 all done, 1 some items failed (failures.parquet), 2 what was given cannot be right",
    )
    verb.add_argument(
        "job", metavar="JOB", help="plan, figures, predict, buzz, lowest, or listen (recordings)"
    )
    verb.add_argument(
        "places", metavar="PLACE", nargs="*", help="files, folders, or Parquet sets of service files"
    )
    verb.add_argument("--shop", action="store_true", help="every instrument of the shop, as last seen")
    verb.add_argument("--example", action="store_true", help="every instrument of the example workshop")
    verb.add_argument("--out", metavar="FOLDER", required=True, help="where the answers go")
    verb.add_argument(
        "--workers", type=int, default=2, metavar="N", help="processes on this machine (default 2)"
    )
    verb.add_argument(
        "--scheduler", metavar="ADDRESS", help="a scheduler's workers in the place of processes here"
    )
    _add_keys(verb)
    verb.add_argument("--hand", choices=STRENGTHS, help="plan: house targets for this hand")
    verb.add_argument("--strength", choices=STRENGTHS, help="buzz, lowest: how hard it is played (medium)")
    verb.add_argument("--failed-again", action="store_true", help="try what failed before once more")


def _add_keys(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--keys", metavar="FOLDER", help="the fleet's certificates (fleet-keys makes them)")


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says; of a job, return 1 where items failed.

    Raises:
        BreakangleError: what cannot be right.
    """
    from breakangle.fleet import machines
    from breakangle.fleet.keys import keys_in, make_keys

    if arguments.verb == "fleet-keys":
        made = make_keys(arguments.folder)
        sys.stdout.write(
            f"{made.authority.parent}: carry it to every machine; who has it can run code there.\n"
        )
        return 0
    if arguments.verb in OF_RESULTS:
        return OF_RESULTS[arguments.verb](arguments)
    keys = keys_in(arguments.keys) if arguments.keys else None
    if arguments.verb == "fleet-scheduler":
        machines.scheduler(arguments.listen, keys)
        return 0
    if arguments.verb == "fleet-worker":
        machines.worker(arguments.address, keys, arguments.host, arguments.memory)
        return 0
    return _job(arguments, keys)


def _job(arguments: argparse.Namespace, keys: Any) -> int:
    from breakangle.fleet.engine import elsewhere, local
    from breakangle.fleet.run import run as run_job

    settings = {
        name: value for name in ("hand", "strength") if (value := getattr(arguments, name)) is not None
    }
    items = _items(arguments)
    engine = elsewhere(arguments.scheduler, keys) if arguments.scheduler else local(arguments.workers)
    with engine as there:
        outcome = run_job(
            arguments.job,
            items,
            arguments.out,
            there,
            settings=settings,
            failed_again=arguments.failed_again,
            told=_tell,
        )
    if sys.stderr.isatty():
        sys.stderr.write("\n")
    sys.stdout.write(
        f"{outcome.total} items: {outcome.total - outcome.failed} done, {outcome.failed} failed; "
        f"{outcome.before} were done before; {outcome.seconds:.1f} s\n{outcome.results}\n"
    )
    if outcome.failed:
        sys.stdout.write(f"{outcome.failures}\n")
    return FAILED if outcome.failed else 0


def _drift(arguments: argparse.Namespace) -> int:
    from breakangle.fleet.drift import drifts_in

    found = drifts_in(arguments.folder)
    for one in found:
        sys.stdout.write(
            f"{one.figure}: {len(one.items)} instruments, {one.centre:+.3g} ± {one.deviation:.2g} {one.unit} "
            f"from what is wanted, {int(one.outside.sum())} outside three\n"
        )
        if one.alarm:
            sys.stdout.write(
                f"  drifted: seen at {one.alarm}, most likely since {one.since}, by {one.step:+.3g} {one.unit}\n"
                f"  what moves it: {one.dimension}\n"
            )
    return DRIFTED if any(one.alarm for one in found) else 0


def _learn(arguments: argparse.Namespace) -> int:
    from breakangle.desk.population import changes, makes_listed, put_back, write_population
    from breakangle.fleet.learned import populations_of, rows_in
    from breakangle.model.errors import CorrectInputError

    if arguments.put_back:
        version = put_back(arguments.out)
    elif not arguments.folder:
        raise CorrectInputError("no folder to learn from", "FOLDER, or --put-back")
    else:
        rows = rows_in(arguments.folder)
        makes = makes_listed(arguments.makes, [row["item"] for row in rows]) if arguments.makes else {}
        version = write_population(arguments.out, populations_of(rows, makes))
    sys.stdout.write(f"{arguments.out}: version {version}\n")
    sys.stdout.write("".join(f"  {line}\n" for line in changes(arguments.out)))
    return 0


OF_RESULTS = {"fleet-drift": _drift, "fleet-learn": _learn}


def _items(arguments: argparse.Namespace) -> "list[Item]":
    from breakangle.cli.terminal.shop_entry import opened
    from breakangle.fleet.items import in_order, items_in_shop, items_of
    from breakangle.fleet.jobs import job
    from breakangle.model.errors import CorrectInputError

    endings = job(arguments.job).ENDINGS
    if not (arguments.places or arguments.shop or arguments.example):
        raise CorrectInputError("no place to look in", "files, folders, Parquet sets, --shop or --example")
    found = items_of(arguments.places, endings) if arguments.places else []
    if arguments.shop or arguments.example:
        with opened(arguments) as shop:
            found = [*found, *items_in_shop(shop)]
    return in_order(found)


def _tell(progress: "Progress") -> None:
    if not sys.stderr.isatty():
        return
    left = "" if progress.left_s is None else f", about {progress.left_s:.0f} s left"
    sys.stderr.write(
        f"\r{progress.done} of {progress.total}, {progress.failed} failed, {progress.rate_per_s:.1f} a second{left}   "
    )
    sys.stderr.flush()
