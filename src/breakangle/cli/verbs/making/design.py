"""`breakangle design`: from what is wanted of an instrument to the geometry that gives it, before wood is cut."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.typed_options import number, whole
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr

LENGTHS = {
    "scale": (200.0, 1300.0), "radius": (50.0, 5000.0), "spread-nut": (0.0, 150.0), "spread-bridge": (0.0, 150.0),
    "bridge": (0.5, 40.0), "saddle": (0.2, 20.0), "board": (1.0, 20.0), "crown": (0.3, 3.0),
}  # fmt: skip
LENGTH_WORDS = {
    "scale": mark("scale"), "radius": mark("radius of the board"), "spread-nut": mark("spread at the nut"),
    "spread-bridge": mark("spread at the bridge"), "bridge": mark("bridge over the top"),
    "saddle": mark("saddle over the bridge"), "board": mark("board at the joint"), "crown": mark("height of a crown"),
}  # fmt: skip
ACTION_WORDS = mark(
    "wanted at the 12th fret, lowest string first: 1.4, 1.4/1.1, 5/64 or 5/64,4/64 (default: the house's)"
)
HANDS = ("light", "medium", "heavy")
ACTION_RANGE_MM, RELIEF_RANGE_MM = (0.3, 6.0), (0.0, 1.0)
OUT = 1
SIZES = {"scale": "scale_mm", "radius": "board_radius_mm", "spread-nut": "spread_nut_mm",
         "spread-bridge": "spread_bridge_mm"}  # fmt: skip


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "design",
        help=tr("from what is wanted of an instrument to its geometry and tolerance budget"),
        description=tr(
            "The neck angle, strings and heights that give the action wanted, what the action "
            "hangs on, and a drawing at true size."
        ),
        epilog=tr(
            "such as: breakangle design electric-guitar --scale 686 --tuning B3,F#3,D3,A2,E2,B1 --drawing side.dxf"
        ),
    )
    verb.add_argument("kind", metavar="KIND", help=tr("the nearest kind, such as electric-guitar"))
    verb.add_argument("--name", default="", help=tr("what it will be called"))
    verb.add_argument("--tuning", metavar="NOTES", help=tr("string 1 first, with commas: E4,B3,G3,D3,A2,E2"))
    verb.add_argument("--frets", type=whole, metavar="COUNT", help=tr("how many frets"))
    verb.add_argument("--joint", type=whole, metavar="FRET", help=tr("the fret at the body"))
    _add_lengths(verb)
    verb.add_argument("--hand", choices=HANDS, default="medium", help=tr("strength of play it is for"))
    verb.add_argument("--action", metavar="LENGTH[/LENGTH]", help=tr(ACTION_WORDS))
    verb.add_argument("--relief", metavar="LENGTH", help=tr("wanted (default: the house's)"))
    verb.add_argument(
        "--break", metavar="DEGREES", type=number, dest="break_degrees",
        help=tr("angle wanted over the saddle, for its height (default: usual)"),
    )  # fmt: skip
    verb.add_argument(
        "--measured",
        metavar="FILE",
        help=tr("the built instrument's service file: measured against designed"),
    )
    verb.add_argument("--keep-gauges", action="store_true", help=tr("keep the usual string sizes"))
    verb.add_argument(
        "--file", metavar="FILE", help=tr("write the instrument as a service file, for take-in")
    )
    verb.add_argument("--drawing", metavar="FILE", help=tr("from the side at true size (.pdf, .svg or .dxf)"))
    verb.add_argument("--sheet", metavar="FILE", help=tr("the design as a sheet (.pdf, .html or .txt)"))
    verb.add_argument("--json", action="store_true", help=tr("the figures as JSON (breakangle/design/1)"))
    add_units(verb)
    verb.set_defaults(run=run)


def _add_lengths(verb: Any) -> None:
    for name in LENGTHS:
        told = tr("{length} (default: usual)", length=tr(LENGTH_WORDS[name]))
        verb.add_argument(f"--{name}", metavar="LENGTH", help=told)


def run(arguments: argparse.Namespace) -> int:
    """Print the design, and write what was asked for.

    Raises:
        BreakangleError: a wish that cannot be.
    """
    from breakangle.documents.renderers.page_text import page_text
    from breakangle.documents.renderers.page_units import in_inches
    from breakangle.services.design.budget import designed, saddle_for
    from breakangle.services.design.sheet import design_page
    from breakangle.services.design.wishes import Wishes, designed_service

    units = units_asked(arguments)
    lengths = _lengths(arguments, units.name)
    sizes = {SIZES[name]: mm for name, mm in lengths.items() if name in SIZES}
    sizes |= {key: float(n) for key, n in (("frets", arguments.frets), ("joint_fret", arguments.joint)) if n}
    notes = tuple(one.strip() for one in arguments.tuning.split(",")) if arguments.tuning else ()
    name = arguments.name or tr("{kind}, to be built", kind=arguments.kind)
    wishes = Wishes(
        arguments.kind, name, sizes, notes, arguments.keep_gauges, arguments.hand, _action(arguments, units.name),
        _length("relief", arguments.relief, units.name, RELIEF_RANGE_MM),
    )  # fmt: skip
    service = designed_service(wishes)
    if arguments.measured:
        return _measured(arguments, service, units)
    built = {f"{name}_mm": mm for name, mm in lengths.items() if name not in SIZES}
    budget = designed(service, built | saddle_for(arguments.break_degrees))
    if arguments.json:
        import json

        say(json.dumps(budget.to_json(), indent=1, ensure_ascii=False, allow_nan=False))
    else:
        page = design_page(service, budget)
        say(page_text(in_inches(page) if units.name == "in" else page).rstrip())
    _write(arguments, service, budget, units.name == "in")
    return 0


def _lengths(arguments: argparse.Namespace, own_unit: str) -> dict[str, float]:
    from breakangle.model.measure import parse_length

    found = {}
    for name, (low, high) in LENGTHS.items():
        text = getattr(arguments, name.replace("-", "_"))
        if text is None:
            continue
        try:
            found[name] = parse_length(text, own_unit, low, high).mm
        except CorrectInputError as cause:
            raise CorrectInputError(f"--{name}: {cause.given}", cause.possible, cause.remedy) from cause
    return found


def _length(name: str, text: str | None, own_unit: str, allowed: tuple[float, float]) -> float | None:
    from breakangle.model.measure import parse_length

    if text is None:
        return None
    try:
        return parse_length(text, own_unit, *allowed).mm
    except CorrectInputError as cause:
        raise CorrectInputError(f"--{name}: {cause.given}", cause.possible, cause.remedy) from cause


def _action(arguments: argparse.Namespace, own_unit: str) -> tuple[float, float] | None:
    from breakangle.cli.render.two_lengths import two_lengths

    if arguments.action is None:
        return None
    return two_lengths("--action", arguments.action, own_unit, ACTION_RANGE_MM)


def _measured(arguments: argparse.Namespace, design: Any, units: Any) -> int:
    from breakangle.cli.render.request import service_asked
    from breakangle.documents.renderers.page_text import page_text
    from breakangle.documents.renderers.page_units import in_inches
    from breakangle.services.design.measured import measured_against, measured_page

    visit = service_asked(arguments.measured, units, arguments.json)
    found = measured_against(design, visit)
    if arguments.json:
        import json

        say(json.dumps(found.to_json(), indent=1, ensure_ascii=False, allow_nan=False))
    else:
        page = measured_page(found, visit.instrument.name)
        say(page_text(in_inches(page) if units.name == "in" else page).rstrip())
    return 0 if all(one.as_designed for one in found.figures) else OUT


def _write(arguments: argparse.Namespace, service: Any, budget: Any, inch: bool) -> None:
    from breakangle.cli.render.paper import write_bytes
    from breakangle.documents.renderers.page_file import page_file
    from breakangle.services.design.sheet import design_drawing, design_page
    from breakangle.services.service_files.service_written import write_service

    said = []
    if arguments.drawing:
        form = arguments.drawing.rpartition(".")[2].lower()
        said.append(write_bytes(arguments.drawing, design_drawing(service, budget, form)))
    if arguments.sheet:
        form = arguments.sheet.rpartition(".")[2].lower()
        said.append(write_bytes(arguments.sheet, page_file(design_page(service, budget), form, inch=inch)))
    if arguments.file:
        write_service(arguments.file, service)
        said.append(arguments.file)
    if not arguments.json:
        for one in said:
            say(tr("written: {item}", item=one))
