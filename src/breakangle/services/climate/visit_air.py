"""What the air does to a visit's neck: the air it came into since it was last here, or any air that is typed."""

from dataclasses import dataclass

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Room
from breakangle.model.typed_number import number_within
from breakangle.model.words.speech import tr
from breakangle.reference.woods import wood
from breakangle.services.climate.air import Climate, Heard, climate_of_visit
from breakangle.services.visits.visits import history
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop

CUTS = ("quarter", "flat")
LONGEST_NUMBER = 20
HEARD_CENTS = (-200.0, 200.0)  # a string that moved more has slipped; common practice, no source
TEMPERATURE_C, HUMIDITY_PERCENT = (-30.0, 60.0), (1.0, 99.0)  # of rooms and sheds; common practice, no source


@dataclass(frozen=True)
class AirTyped:
    """Another air as typed; `wood` is a row of the woods table, `cut` one of `CUTS`, each where it is known.

    `heard`: how far open strings have moved since in cents, not retuned, as `1=-9 2=-8`.
    """

    temperature: str = ""
    humidity: str = ""
    wood: str = ""
    cut: str = ""
    heard: str = ""


@dataclass(frozen=True)
class ClimateToday:
    """The air it was set up in and the air of today, each None where nobody recorded it, and what that does.

    `told` is None where one of them is missing. `words`: what was typed and cannot be right, else empty.
    """

    before: Room | None
    today: Room | None
    told: Climate | None
    typed: AirTyped
    words: str = ""


def climate_today(shop: Shop, visit: Visit, typed: AirTyped) -> ClimateToday:
    """Return what the air does to the visit's instrument.

    Args:
        shop: where.
        visit: the visit; its own air is today's, and that of the latest earlier visit the one before.
        typed: another air: then the latest recorded air is the one before.
    """
    try:
        other, heard = _typed_air(typed), _heard(typed.heard)
        wood_key, cut = typed.wood or None, typed.cut
        if wood_key is not None:
            wood(wood_key)
    except CorrectInputError as wrong:
        return ClimateToday(None, None, None, typed, str(wrong))
    visits = history(shop, visit.instrument_id)
    if other is None:
        visits = tuple(one for one in visits if one.opened_at < visit.opened_at)
    rooms = [room for one in visits if (room := _room(one))]
    before, today = rooms[-1] if rooms else None, other or _room(visit)
    if before is None or today is None:
        return ClimateToday(before, today, None, typed)
    quarter_sawn = cut == "quarter" if cut in CUTS else None
    try:
        told = climate_of_visit(shop, visit.id, today, wood_key, quarter_sawn, before, heard)
    except CorrectInputError as wrong:
        return ClimateToday(before, today, None, typed, str(wrong))
    return ClimateToday(before, today, told, typed)


def _room(visit: Visit) -> Room | None:
    if visit.temperature_c is None or visit.humidity_percent is None:
        return None
    return Room(temperature_c=visit.temperature_c, humidity_percent=visit.humidity_percent)


def _typed_air(typed: AirTyped) -> Room | None:
    warm, damp = typed.temperature.strip(), typed.humidity.strip()
    if not warm and not damp:
        return None
    if not warm or not damp:
        raise CorrectInputError(
            tr("one of the two is missing"), tr("a temperature and a humidity"), tr("type both")
        )
    return Room(
        temperature_c=_number(warm, tr("the temperature"), TEMPERATURE_C, "°C"),
        humidity_percent=_number(damp, tr("the humidity"), HUMIDITY_PERCENT, "%"),
    )


def _heard(text: str) -> Heard | None:
    """Return how far open strings have moved, from words such as `1=-9 2=-8`; None where nothing was typed."""
    cents: dict[int, float] = {}
    for word in text.replace(";", " ").split():
        number, equals, value = word.partition("=")
        if not equals or not number.isdigit():
            raise CorrectInputError(
                tr('"{word}" among what was heard', word=word[:LONGEST_NUMBER]),
                tr("string=cents, such as 1=-9"),
                tr("correct it"),
            )
        cents[int(number)] = _number(
            value, tr("what string {number} did", number=number), HEARD_CENTS, "cents"
        )
    return Heard(cents) if cents else None


def _number(text: str, what: str, span: tuple[float, float], unit: str) -> float:
    found = number_within(text, *span, units=(unit.lower(), "c", "ct"))
    if found is None:
        raise CorrectInputError(
            tr('{what} is "{text}"', what=what, text=text[:LONGEST_NUMBER]),
            tr("from {span:g} to {span_2:g} {unit}", span=span[0], span_2=span[1], unit=unit),
            tr("correct it"),
        )
    return found
