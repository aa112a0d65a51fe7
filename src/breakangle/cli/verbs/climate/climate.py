"""`breakangle climate`: what today's air does to this neck and to its pitch."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say, service_in
from breakangle.cli.render.taught_options import add_taught
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "climate",
        help=tr("what today's air does to neck and pitch"),
        description=tr(
            "Tell what a temperature and humidity do to the instrument since the air it was set "
            "up in, and what of it is not known."
        ),
    )
    verb.add_argument(
        "file", nargs="?", metavar="FILE", help=tr("a service file (JSON), or - to read one from a pipe")
    )
    verb.add_argument("--temperature", required=True, metavar="C", help=tr("today's, in degrees Celsius"))
    verb.add_argument("--humidity", required=True, metavar="PERCENT", help=tr("today's relative humidity"))
    verb.add_argument("--since-temperature", metavar="C", help=tr("when it was set up (the file's room)"))
    verb.add_argument("--since-humidity", metavar="PERCENT", help=tr("when it was set up (the file's room)"))
    verb.add_argument(
        "--wood", metavar="WOOD", help=tr("the board's, such as indian-rosewood; a wrong one lists them")
    )
    verb.add_argument("--cut", choices=("quarter", "flat"), help=tr("how the board was cut"))
    verb.add_argument(
        "--visit", metavar="NUMBER", help=tr("a visit's sheet instead of FILE, with its history")
    )
    verb.add_argument(
        "--heard",
        nargs="+",
        default=[],
        metavar="STRING=CENTS",
        help=tr("how far open strings have moved since, not retuned: teaches how this set takes warmth"),
    )
    verb.add_argument("--heard-at", metavar="C", help=tr("with --heard: the temperature then (today's)"))
    add_taught(verb, tr("what many instruments taught of seasons (fleet-learn makes it); with FILE"))
    verb.add_argument("--example", action="store_true", help=tr("with --visit: the example workshop"))
    verb.add_argument("--json", action="store_true", help=tr("as JSON"))
    add_units(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print what the air does.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    units = units_asked(arguments)
    found = _asked(arguments)
    if arguments.json:
        from breakangle.cli.render.as_json import json_text

        say(json_text(found))
        return 0
    from breakangle.cli.render.page import print_page
    from breakangle.cli.render.pages.climate import print_climate

    print_page(lambda console: print_climate(console, found, units))
    return 0


def _asked(arguments: argparse.Namespace) -> Any:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.climate.air import climate, climate_of_visit

    quarter = None if arguments.cut is None else arguments.cut == "quarter"
    after = _room(arguments.temperature, arguments.humidity)
    if arguments.visit is not None:
        from breakangle.cli.render.shop_entry import opened
        from breakangle.services.visits.visits import visit_numbered

        if not arguments.visit.isdigit():
            raise CorrectInputError(
                tr('"{visit}" is no sheet number', visit=arguments.visit), tr("a whole number")
            )
        with opened(arguments) as shop:
            visit = visit_numbered(shop, int(arguments.visit))
            return climate_of_visit(shop, visit.id, after, arguments.wood, quarter)
    if arguments.file is None:
        raise CorrectInputError(
            tr("neither a file nor a visit"), tr("FILE, or --visit NUMBER"), tr("give one of them")
        )
    service = service_in(arguments.file)
    before = service.room
    if arguments.since_temperature is not None or arguments.since_humidity is not None:
        before = _room(arguments.since_temperature, arguments.since_humidity)
    relief = _relief_taught(arguments, service)
    return climate(service, after, before, arguments.wood, quarter, relief, heard=_heard(arguments))


def _relief_taught(arguments: argparse.Namespace, service: Any) -> Any:
    """Return what others of its make taught of relief in damp air; None where nothing is named, or nothing known."""
    if not arguments.taught:
        return None
    from breakangle.services.history.population import expected_of
    from breakangle.services.history.seasons import drift

    known = expected_of(arguments.taught, service, arguments.make, arguments.year).relief_by_humidity
    return None if known is None else drift((), prior=known)


def _heard(arguments: argparse.Namespace) -> Any:
    from breakangle.cli.render.pairs import by_string, number_in
    from breakangle.services.climate.air import Heard

    if not arguments.heard:
        return None
    cents = by_string(arguments.heard, lambda text: number_in(text.replace("−", "-")), "1=-8")
    at = None if arguments.heard_at is None else number_in(arguments.heard_at)
    return Heard(cents, at)


def _room(temperature: str | None, humidity: str | None) -> Any:
    from pydantic import ValidationError

    from breakangle.cli.render.pairs import number_in
    from breakangle.model.complaint import complaints
    from breakangle.model.errors import CorrectInputError
    from breakangle.model.service import Room

    data = {
        "temperature_c": None if temperature is None else number_in(temperature),
        "humidity_percent": None if humidity is None else number_in(humidity),
    }
    try:
        return Room.model_validate(data)
    except ValidationError as refused:
        raise CorrectInputError(complaints(refused, Room, data)[0]) from refused
