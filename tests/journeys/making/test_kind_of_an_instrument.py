"""A kind made of an instrument: what the instrument says of itself takes the place of what is usual of the nearest."""

from breakangle.model.instrument import Bridge, Instrument
from breakangle.model.kind.kind_table import KindTable
from breakangle.reference.families import family
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.kinds.copied import table_of_instrument

USUAL = family("electric-guitar")


def made_of(**changes: object) -> KindTable:
    instrument: Instrument = empty_service(USUAL, "Ouzel").instrument
    return table_of_instrument(instrument.model_copy(update=changes), USUAL)


def screws(table: KindTable) -> tuple[object, ...]:
    return table.bridge.kind, table.bridge.height_mm_per_turn, table.bridge.position_mm_per_turn


def test_its_bridge_and_screws_are_the_instrument_s():
    """How far screws go is the usual where the instrument does not say it; without screws nothing is said of them."""
    screwed = made_of(bridge=Bridge(kind="two-post", height_mm_per_turn=0.5, position_mm_per_turn=0.8))
    assert screws(screwed) == ("two-post", 0.5, 0.8)
    assert screwed.bridge.position_travel_mm == USUAL.bridge.position_travel_mm
    wooden = made_of(bridge=Bridge(kind="one-piece"))
    assert screws(wooden) == ("one-piece", None, None)
    assert wooden.bridge.position_travel_mm is None


def test_its_rod_is_the_instrument_s():
    rod = empty_service(USUAL).instrument.rod
    assert made_of(rod=rod.model_copy(update={"kind": "none"})).rod is None
    dual = made_of(rod=rod.model_copy(update={"kind": "dual"})).rod
    assert USUAL.rod is not None
    assert dual is not None
    assert (dual.kind, dual.relief_mm_per_turn.mean) == ("dual", USUAL.rod.relief_mm_per_turn.mean)
