"""Instruments for templates: every family's, a scale of each string, a cone, an octave of frets."""

from breakangle.model.service import Service
from breakangle.reference.families import families, family
from breakangle.services.service_files.example import empty_service


def family_service(kind: str) -> Service:
    return empty_service(family(kind), f"a {kind}")


def fanned_service(bass_mm: float = 686.0, treble_mm: float = 648.0) -> Service:
    """Return a six-string whose scales grow evenly from treble to bass."""
    service = family_service("electric-guitar")
    strings = service.instrument.in_order()
    step = (bass_mm - treble_mm) / (len(strings) - 1)
    fanned = tuple(
        one.model_copy(update={"scale_mm": treble_mm + step * (one.string - 1)}) for one in strings
    )
    return service.model_copy(
        update={"instrument": service.instrument.model_copy(update={"strings": fanned, "name": "Fan"})}
    )


EVERY_SERVICE = {kind: family_service(kind) for kind in families()} | {"fanned": fanned_service()}
