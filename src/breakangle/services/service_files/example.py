"""Service files to start from: an invented instrument as it was read, and every family, not read yet."""

from importlib.resources import files

from breakangle.model.instrument import Bridge, Instrument, Nut, Rod, String
from breakangle.model.service import Room, Service
from breakangle.model.service_file import service_text
from breakangle.model.words.speech import mark, tr
from breakangle.reference.families import Family, FamilyString, family
from breakangle.services.service_files.service import service_from

EXAMPLE_FILE = "data/example.json"


def example_text(kind: str | None = None) -> str:
    """Return a service file: the invented example with its readings, or one of the family `kind` to fill in.

    Raises:
        CorrectInputError: a kind of instrument that the tables do not know.
    """
    if kind is None:
        return (
            files("breakangle.services.service_files")
            .joinpath(*EXAMPLE_FILE.split("/"))
            .read_text(encoding="utf-8")
        )
    return service_text(empty_service(family(kind)))


def example_service() -> Service:
    """Return the invented example with its readings."""
    return service_from(example_text().encode(), tr("the example"))


def empty_service(kin: Family, name: str = mark("to be named")) -> Service:
    """Return a service of an instrument in the family's usual sizes, with nothing read."""
    return Service(
        instrument=usual_instrument(kin, name),
        reference_hz=440.0,
        room=Room(temperature_c=20.0, humidity_percent=45.0),
        targets=None,
        readings=(),
        work=(),
    )


def usual_instrument(kin: Family, name: str) -> Instrument:
    """Return an instrument in the family's usual sizes and stringing."""
    screws = {
        "height_mm_per_turn": kin.bridge.height_mm_per_turn,
        "position_mm_per_turn": kin.bridge.position_mm_per_turn,
        "position_travel_mm": kin.bridge.position_travel_mm,
    }
    return Instrument(
        name=name,
        kind=kin.kind,
        scale_mm=kin.scale_mm,
        frets=kin.frets,
        joint_fret=kin.joint_fret,
        board_radius_mm=kin.board_radius_mm,
        spread_nut_mm=kin.spread_nut_mm,
        spread_bridge_mm=kin.spread_bridge_mm,
        nut=Nut(kind=kin.nut),
        rod=Rod.model_validate({"kind": kin.rod.kind if kin.rod is not None else "none"}),
        bridge=Bridge.model_validate(
            {"kind": kin.bridge.kind} | {k: v for k, v in screws.items() if v is not None}
        ),
        strings=tuple(_usual_string(string) for string in kin.strings),
        **({} if kin.made is None else {"kind_table": kin.made}),
    )


def _usual_string(one: FamilyString) -> String:
    optional = {"core_mm": one.core_mm, "wrap": one.wrap, "nut_at_fret": one.nut_at_fret or None}
    if one.course != one.string:
        optional["course"] = one.course
    given = {"string": one.string, "note": one.note, "make": one.make, "diameter_mm": one.diameter_mm}
    return String.model_validate(given | {key: value for key, value in optional.items() if value is not None})
