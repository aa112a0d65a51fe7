"""`breakangle frets`: which crowns want metal off, how much, and what action is clean then."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import add_file, say
from breakangle.cli.render.request import service_asked
from breakangle.cli.render.units import Units, add_units, units_asked
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.services.frets.levelling import FretWork

STRENGTHS = ("light", "medium", "heavy")
ACTION_RANGE_MM = (0.3, 6.0)
WORK_TO_DO = 1


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "frets",
        help=tr("which frets to level, by how much, for the action asked for"),
        description=tr(
            "The least metal by which no note touches at the action asked for, and what it leaves."
        ),
        epilog=tr(
            "exit codes: 0 leave the frets, 1 there is work or something to read, 2 what was given cannot be right"
        ),
    )
    add_file(verb)
    verb.add_argument(
        "--strength", choices=STRENGTHS, help=tr("strength of play (default: what the file asks for)")
    )
    told = tr(
        "highest action at the 12th fret, lowest string first: 1.4, 1.4/1.1, 5/64 or 5/64,4/64 (default: the targets)"
    )
    verb.add_argument("--action", metavar="LENGTH[/LENGTH]", help=told)
    verb.add_argument(
        "--sheet", metavar="FILE", help=tr("write the levelling sheet there (.pdf, .html or .txt)")
    )
    verb.add_argument(
        "--levelled",
        metavar="FILE",
        help=tr("write the service there with the map's metal taken off, as work that was done"),
    )
    verb.add_argument("--json", action="store_true", help=tr("the whole answer as JSON (breakangle/frets/1)"))
    add_units(verb)
    verb.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print the fret map and the plan; 1 where there is work or something to read.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.services.frets.levelling import fret_work

    units = units_asked(arguments)
    action = _action_mm(arguments.action, units)
    service = service_asked(arguments.file, units, arguments.json)
    work = fret_work(service, arguments.strength, action)
    if arguments.json:
        import json

        say(json.dumps(work.to_json(), indent=1, ensure_ascii=False, allow_nan=False))
    else:
        from breakangle.cli.render.pages.buzz import wrapped

        say("\n".join(wrapped(line) for line in lines(work, units)))
    if arguments.sheet:
        from breakangle.cli.render.paper import write_bytes
        from breakangle.services.frets.sheet import levelling_file

        form = arguments.sheet.rpartition(".")[2].lower()
        told = write_bytes(arguments.sheet, levelling_file(work, form, inch=units.name == "in"))
        if not arguments.json:
            say(tr("written: {told}", told=told))
    if arguments.levelled:
        from breakangle.services.service_files.service_written import write_service

        done = work.as_done()
        write_service(arguments.levelled, service.model_copy(update={"work": (*service.work, done)}))
        if not arguments.json:
            say(tr("written: {told}", told=arguments.levelled))
    return 0 if work.plan.verdict == "leave" else WORK_TO_DO


def _action_mm(text: str | None, units: Units) -> tuple[float, float] | None:
    from breakangle.cli.render.two_lengths import two_lengths

    return None if text is None else two_lengths("--action", text, units.name, ACTION_RANGE_MM)


def lines(work: "FretWork", units: Units) -> list[str]:
    """Return the answer in lines for a terminal."""
    from breakangle.reference.messages import words
    from breakangle.reference.routine import cautions_against
    from breakangle.services.frets.words import after_of, checks_of, first_of, verdict_of

    out = [
        tr(
            "{instrument_name}: fret work for {strength} play",
            instrument_name=work.service.instrument.name,
            strength=tr(work.strength),
        ),
        words(verdict_of(work)),
    ]
    out += [tr("First: {words}", words=words(one)) for one in first_of(work)]
    if work.orders:
        out += fret_map(work, units)
    out += [words(one) for one in (*after_of(work), *checks_of(work))]
    if work.orders:
        from breakangle.services.frets.words import CAUTIONS

        out += [f"! {row.words}" for row in cautions_against(CAUTIONS)]
    return [units.sentence(one) for one in out]


def fret_map(work: "FretWork", units: Units) -> list[str]:
    """Return the map of strings and frets: metal off each crown, and at the bass and the treble side."""
    from breakangle.planning.levelling.plan import FINEST_MM

    plan, strings = work.plan, work.service.instrument_now().in_order()

    def figure(mm: float) -> str:
        return units.figure(float(mm), "mm", 2) if mm >= FINEST_MM else "·"

    wide = 6 if units.name == "mm" else 7
    shown = list(reversed(range(len(strings))))
    head = tr("fret  ") + "".join(f"{strings[one].string:>{wide}}" for one in shown) + f"{'bass':>{wide + 2}}"
    out = [
        tr("Metal off each crown, in {unit_of}, by fret and string:", unit_of=units.unit_of("mm")),
        head + f"{'treble':>{wide + 1}}",
    ]
    for fret in plan.frets:
        cells = "".join(f"{figure(plan.off_mm[one, fret - 1]):>{wide}}" for one in shown)
        bass, treble = plan.sides_mm[fret - 1]
        mark = tr("  not read") if fret in work.unread else ""
        out.append(f"{fret:>4}  {cells}{figure(bass):>{wide + 2}}{figure(treble):>{wide + 1}}{mark}")
    return out
