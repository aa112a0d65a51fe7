"""How a bench takes its readings: which frets are held, which fret is read, in which order the hand moves."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from breakangle.model.instrument import Instrument, String
from breakangle.planning.estimate.house_targets import relief_fret
from breakangle.reference.families import family_of
from breakangle.services.visits.reading_places import Place

# What can be chosen of each, the usual first.
WAYS: Mapping[str, tuple[str, ...]] = {
    "order": ("station", "string"),
    "relief_strings": ("edges", "all"),
    "relief_held": ("joint", "last"),
    "relief_at": ("usual", "5", "6", "7", "8", "9", "10"),
    "action_held": ("first", "none"),
    "action_at": ("12", "14", "16", "17", "last"),
    "nut_held": ("third", "second", "none"),
}
STATIONS = ("relief", "action", "nut", "open", "octave", "first")
HELD_AT_NUT = {"third": 3, "second": 2}


@dataclass(frozen=True)
class Ways:
    """One bench's ways; each is one of `WAYS`."""

    order: str = "station"
    relief_strings: str = "edges"
    relief_held: str = "joint"
    relief_at: str = "usual"
    action_held: str = "first"
    action_at: str = "12"
    nut_held: str = "third"


def usual_places(instrument: Instrument, ways: Ways) -> dict[str, tuple[Place, ...]]:
    """Return the places that a bench reads on this instrument by station, each from the bass string up."""
    strings = tuple(reversed(instrument.in_order()))
    return {station: tuple(_station(station, instrument, strings, ways)) for station in STATIONS}


def _station(
    station: str, instrument: Instrument, strings: tuple[String, ...], ways: Ways
) -> Iterator[Place]:
    full = [string for string in strings if string.nut_at_fret == 0]
    edges = full if ways.relief_strings == "all" else [*full[:1], *full[1:][-1:]]
    for one in edges if station == "relief" else strings:
        place = _place(station, instrument, one, ways)
        if place is not None and not list(place.blank().misfits(instrument)):
            yield place


def _place(station: str, instrument: Instrument, one: String, ways: Ways) -> Place | None:
    first, last = one.nut_at_fret, instrument.frets
    if station == "relief":
        end = instrument.joint_fret if ways.relief_held == "joint" else last
        usual = relief_fret(instrument, family_of(instrument))
        at = usual if ways.relief_at == "usual" else int(ways.relief_at)
        return Place("gap", one.string, at, (1, end)) if 1 < at < end else None
    if station == "action":
        at = last if ways.action_at == "last" else min(first + int(ways.action_at), last)
        held = (first + 1,) if ways.action_held == "first" else ()
        return Place("gap", one.string, at, held)
    if station == "nut":
        held_fret = HELD_AT_NUT.get(ways.nut_held)
        return Place("gap", one.string, first + 1, () if held_fret is None else (first + held_fret,))
    if station == "open":
        return Place("pitch", one.string, 0)
    if station == "first":
        return Place("pitch", one.string, first + 1)
    return Place("pitch", one.string, min(first + 12, last))
