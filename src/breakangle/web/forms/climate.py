"""The fields of the form that asks what another air would do."""

from collections.abc import Mapping
from dataclasses import fields

from breakangle.services.climate.visit_air import AirTyped


def climate_form(typed: Mapping[str, str]) -> AirTyped:
    """Return what an address's query says of another air."""
    return AirTyped(**{field.name: typed.get(field.name, "") for field in fields(AirTyped)})
