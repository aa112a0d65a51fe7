"""`breakangle lowest`: how low this neck can go without a touch being heard."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import add_file, say
from breakangle.cli.render.request import service_asked
from breakangle.cli.render.units import Units, add_units, units_asked
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.services.service_files.lowest import LowestReport

STRENGTHS = ("light", "medium", "heavy")
MARGIN_RANGE_MM = (0.0, 1.0)
LOWER_BY_MM = 0.02
NO_LOWER = 1


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "lowest",
        help=tr("how low this neck can go without buzz, and what holds it up"),
        description=tr(
            "The lowest action at which no touch of a crown is heard, no lower than anybody sets it (unless the shop "
            "set its strengths by ear), and the relief that goes with it."
        ),
        epilog=tr(
            "exit codes: 0 the action can come down, 1 it cannot, or not yet, 2 what was given cannot be right"
        ),
    )
    add_file(verb)
    verb.add_argument(
        "--strength", choices=STRENGTHS, help=tr("strength of play (default: what the file asks for)")
    )
    verb.add_argument(
        "--margin", default="0.02", metavar="LENGTH", help=tr("gap left everywhere (default 0.02 mm)")
    )
    verb.add_argument(
        "--strengths-file", type=Path, metavar="TOML", help=tr("the shop's own table of strengths")
    )
    verb.add_argument(
        "--json", action="store_true", help=tr("the whole answer as JSON (breakangle/lowest/1)")
    )
    add_units(verb)
    verb.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print the lowest set-up; 1 when the action cannot come down to it, or not before something is answered.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.model.service import Targets
    from breakangle.services.service_files.lowest import lowest_setup

    units = units_asked(arguments)
    margin_mm = _margin_mm(arguments.margin)
    service = service_asked(arguments.file, units, arguments.json)
    strength = arguments.strength or (service.targets or Targets()).strength
    report = lowest_setup(service, strength, margin_mm, arguments.strengths_file)
    if arguments.json:
        import json

        say(json.dumps(report.to_json(), indent=1, ensure_ascii=False, allow_nan=False))
    else:
        from breakangle.cli.render.pages.buzz import wrapped

        say("\n".join(wrapped(line) for line in lines(report, units)))
    down_mm = float((report.now.action_mm - report.to_set_mm).mean())
    return NO_LOWER if down_mm < LOWER_BY_MM or report.in_the_way else 0


def _margin_mm(text: str) -> float:
    from breakangle.model.errors import CorrectInputError
    from breakangle.model.measure import parse_length

    low, high = MARGIN_RANGE_MM
    try:
        return parse_length(text, "mm", low, high).mm
    except CorrectInputError as cause:
        raise CorrectInputError(f"--margin: {cause.given}", cause.possible, cause.remedy) from cause


def _head(report: "LowestReport", units: Units) -> list[str]:
    from breakangle.model.words.said import figured

    return [
        tr(
            "{instrument}: lowest set-up with nothing heard at {strength} play, plucked {height_mm:.2f} mm from "
            "rest, {margin_mm:.2f} mm to spare",
            instrument=report.service.instrument.name,
            strength=tr(report.strength),
            height_mm=report.height_mm,
            margin_mm=report.margin_mm,
        ),
        *_judged(report),
        tr(
            "Relief between frets 1 and {joint_fret}: {now} mm now, {then} mm then",
            joint_fret=report.service.instrument.joint_fret,
            now=figured(report.now.relief_mm, 2),
            then=figured(report.to_set.relief_mm, 2),
        ),
        tr(
            "In {unit}: action over the 12th, fret 1 held; clearance over fret 1, open",
            unit=units.unit_of("mm"),
        ),
        tr("string     action    then   fret 1    then   held up by"),
    ]


def lines(report: "LowestReport", units: Units) -> list[str]:
    """The answer in lines for a terminal."""
    from breakangle.planning.buzz.buzz_map import NOT_MODELLED
    from breakangle.planning.verdict.said import counts_rest_on
    from breakangle.reference.messages import words

    def figure(mm: float) -> str:
        return units.figure(float(mm), "mm", 2)

    now, low = report.now, report.to_set
    out = _head(report, units)
    for index, one in enumerate(report.service.instrument_now().in_order()):
        out.append(
            f"{one.string:>2} {one.note:<5} "
            f"{figure(now.action_mm[index]):>8} {figure(low.action_mm[index]):>7} "
            f"{figure(now.nut_mm[index]):>8} {figure(low.nut_mm[index]):>7}   {held_up_by(report, one.string)}"
        )
    out += _below_usual(report, figure)
    out += _out_of_reach(report)
    out.append(_levelling(report))
    if report.trade_to_set:
        out += [
            tr("Lowest action, mean of the strings, at each relief, in {unit}:", unit=units.unit_of("mm")),
            tr("  relief ") + "".join(f"{figure(one.relief_mm):>7}" for one in report.trade_to_set),
            tr("  action ") + "".join(f"{figure(one.action_mm.mean()):>7}" for one in report.trade_to_set),
        ]
    if rests_on := counts_rest_on(report.strengths_own):
        out.append(words(rests_on))
    return [
        units.sentence(line)
        for line in [*out, tr("Not modelled: {not_modelled}.", not_modelled="; ".join(map(tr, NOT_MODELLED)))]
    ]


def _judged(report: "LowestReport") -> list[str]:
    """Return the plan's verdict, and what is to be answered before the strings go lower."""
    from breakangle.model.words.message import Message
    from breakangle.planning.verdict.said import verdict_message
    from breakangle.reference.messages import words

    way = [f"- {one}" for one in report.in_the_way]
    head = [words(Message(key="verdict.in_the_way"))] if way else []
    return [words(verdict_message(report.judgement)), *head, *way]


def _below_usual(report: "LowestReport", figure: "Callable[[float], str]") -> list[str]:
    """Return that nobody sets strings so low, where that is so."""
    if not report.below_usual:
        return []
    usual, lowest = report.least_usual_mm, report.lowest_string
    return [
        tr(
            "Set no lower than {figure} at string {usual_count} and {figure_2} at string 1, the "
            "house's figures for a light hand: below them this tells that buzz is not what holds "
            "the strings up, and offers no height. How much of a stroke goes toward the board is "
            "calibrated: no measurement of it was found in print.",
            figure=figure(usual[lowest - 1]),
            usual_count=lowest,
            figure_2=figure(usual[0]),
        )
    ]


def held_up_by(report: "LowestReport", string: int) -> str:
    """What holds a string up: notes that would be heard next, or what else keeps it from coming lower."""
    low = report.to_set
    if string in low.at_usual:
        return tr("the usual height")
    if string in low.at_end:
        return tr("its saddle, at its end")
    places = [
        tr(
            "{open} on crown {crown}",
            open=tr("open") if one.stop == 0 else tr("fret {stop}", stop=one.stop),
            crown=one.crown,
        )
        for one in sorted(low.limits, key=lambda one: one.stop == 0)
        if one.string == string
    ]
    return ", ".join(places[:3]) or tr("the other strings")


def _out_of_reach(report: "LowestReport") -> list[str]:
    """Return what rod, nut and saddles cannot do."""
    from breakangle.model.words.said import figured, strings_in_words

    out = []
    if report.rod_at_end and report.relief_reach is not None and not report.bowed_past_rod:
        least = figured(report.relief_reach[0], 2)
        out.append(tr("The rod brings relief no lower than {least} mm.", least=least))
    if report.nut_too_low:
        strings = strings_in_words(report.nut_too_low)
        out.append(tr("The nut is too low at {strings}: a slot cannot be filed up.", strings=strings))
    if report.saddle_too_low:
        strings = strings_in_words(report.saddle_too_low)
        out.append(
            tr(
                "The saddle is too low at {strings}: it cannot rise so far. A taller one first.",
                strings=strings,
            )
        )
    return out


def _levelling(report: "LowestReport") -> str:
    from breakangle.planning.kinds.registry import reading_kind
    from breakangle.services.service_files.lowest import WORTH_LEVELLING_MM

    if report.levelled is None and not any(reading_kind(one).reads_crowns for one in report.service.readings):
        return tr("Levelling: no crown has been read, and nothing else shows one above the others.")
    if report.levelled is None:
        return tr("Levelling: no crown stands above the others.")
    frets = ", ".join(str(fret) for fret in report.levelled_frets)
    gain = report.levelling_gain_mm
    if gain < WORTH_LEVELLING_MM:
        return tr(
            "Levelling the high crowns ({frets}) would buy {gain:.2f} mm of action: not worth it for this.",
            frets=frets,
            gain=gain,
        )
    return tr(
        "Levelling the high crowns ({frets}) would let the action come down {gain:.2f} mm further.",
        frets=frets,
        gain=gain,
    )
