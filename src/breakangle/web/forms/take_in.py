"""The fields of the forms that take an instrument in: the same for one that is known and for a new one."""

from collections.abc import Mapping

from breakangle.services.intake.typed_arrival import ArrivalTyped, NewTyped, VisitTyped
from breakangle.services.visits.instrument_identity.similar import NEW
from breakangle.web.forms.complaint import complaint_form

COMPLAINT = "complaint_"  # before the fields of a complaint, beside those of an instrument
MINUS = "\N{MINUS SIGN}"  # as screens write it


def visit_form(typed: Mapping[str, str]) -> VisitTyped:
    """Return what a form says of the visit that begins."""
    return VisitTyped(
        complaint_words=typed.get("complaint", ""),
        complaint=complaint_form(typed, COMPLAINT),
        arrival=arrival_form(typed),
        notes=typed.get("notes", ""),
        promised_on=typed.get("promised_on", ""),
        came_in_on=typed.get("came_in_on", ""),
        price=typed.get("price", ""),
    )


def new_form(typed: Mapping[str, str]) -> NewTyped:
    """Return what a form says of an instrument that is new; its boxes have the names of what they tell."""
    return NewTyped(
        typed,
        owner=typed.get("owner", ""),
        contact=typed.get("contact", ""),
        owner_id=typed.get("owner_id", ""),
        playing_hours_per_week=typed.get("playing_hours_per_week", ""),
        is_another=typed.get("same") == NEW,
    )


def arrival_form(typed: Mapping[str, str]) -> ArrivalTyped:
    """Return what a form says of the air and the strength of play; None for what has no field."""
    temperature, humidity = typed.get("temperature_c"), typed.get("humidity_percent")
    return ArrivalTyped(
        temperature and temperature.replace(MINUS, "-"),
        humidity and humidity.replace(MINUS, "-"),
        typed.get("hand"),
    )
