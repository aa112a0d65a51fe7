"""`breakangle lowest FILE`: how low this neck can go without a note touching."""

import argparse
import json
import sys
from pathlib import Path

from breakangle.desk.buzz import WORTH_LEVELLING_MM, LowestReport, lowest_setup
from breakangle.desk.service import read_service
from breakangle.model.errors import CorrectInputError
from breakangle.planning.buzz import NOT_MODELLED
from breakangle.planning.lowest import Limit
from breakangle.tables.strength import STRENGTHS

MARGIN_RANGE_MM = (0.0, 1.0)
LOWER_BY_MM = 0.02


def add(verbs: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "lowest",
        help="how low this neck can go without buzz",
        description="The lowest relief, nut and saddle heights at which no note touches a crown. "
        "Exit 0 when the set-up can go lower, 1 when it is there or below.",
    )
    verb.add_argument("file", type=Path, help="service file")
    verb.add_argument(
        "--strength", choices=STRENGTHS, default="medium", help="strength of play (default medium)"
    )
    verb.add_argument(
        "--margin", type=float, default=0.02, metavar="MM", help="gap left everywhere (default 0.02)"
    )
    verb.add_argument("--strengths-file", type=Path, metavar="TOML", help="the shop's own table of strengths")
    verb.add_argument("--json", action="store_true", help="the whole answer as JSON")
    verb.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print the lowest set-up; 0 when the action can come down to it, 1 when it cannot."""
    low, high = MARGIN_RANGE_MM
    if not low <= arguments.margin <= high:
        raise CorrectInputError(f"--margin {arguments.margin:g} mm", f"from {low:g} to {high:g} mm")
    service = read_service(arguments.file)
    report = lowest_setup(service, arguments.strength, arguments.margin, arguments.strengths_file)
    text = (
        json.dumps(report.to_json(), indent=1, ensure_ascii=False)
        if arguments.json
        else "\n".join(lines(report))
    )
    sys.stdout.write(text + "\n")
    return int(float((report.now.action_mm - report.lowest.action_mm).mean()) < LOWER_BY_MM)


def lines(report: LowestReport) -> list[str]:
    """The answer in lines for a terminal."""
    now, low = report.now, report.lowest
    out = [
        f"{report.service.instrument.name}: lowest set-up free of buzz at {report.strength} play "
        f"({report.height_mm:g} mm), {report.margin_mm:g} mm to spare",
        f"relief, frets 1 and {report.service.instrument.joint_fret} held: {now.relief_mm:.2f} mm now, "
        f"{low.relief_mm:.2f} mm then",
        "string   action now   then   over fret 1, open, now   then   held up by",
    ]
    for index, one in enumerate(report.service.instrument_now().in_order()):
        held = [limit for limit in low.limits if limit.string == one.string]
        out.append(
            f"{one.string:>2} {one.note:<5} {now.action_mm[index]:>10.2f} {low.action_mm[index]:>6.2f} "
            f"{now.nut_mm[index]:>24.2f} {low.nut_mm[index]:>6.2f}   {limit_words(held)}"
        )
    out += _levelling(report) + _trade(report)
    return [*out, f"Not modelled: {'; '.join(NOT_MODELLED)}."]


def limit_words(held: list[Limit]) -> str:
    """The notes that hold a string up."""
    places = [f"{'open' if one.stop == 0 else f'fret {one.stop}'} on crown {one.crown}" for one in held]
    return ", ".join(places[:3]) or "nothing"


def _levelling(report: LowestReport) -> list[str]:
    if report.levelled is None:
        return ["Levelling: no crown stands above the others."]
    frets = ", ".join(str(fret) for fret in report.levelled_frets)
    gain = report.levelling_gain_mm
    if gain < WORTH_LEVELLING_MM:
        return [
            f"Levelling the high crowns ({frets}) would buy {gain:.2f} mm of action: not worth it for this."
        ]
    return [f"Levelling the high crowns ({frets}) would let the action come down {gain:.2f} mm further."]


def _trade(report: LowestReport) -> list[str]:
    if not report.trade:
        return []
    reliefs = "".join(f"{one.relief_mm:>6.2f}" for one in report.trade)
    actions = "".join(f"{float(one.action_mm.mean()):>6.2f}" for one in report.trade)
    return [
        "Relief against the lowest action (mean of the strings), mm:",
        f"  relief {reliefs}",
        f"  action {actions}",
    ]
