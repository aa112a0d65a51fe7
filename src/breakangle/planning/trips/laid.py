"""From the adjustments of a decision to trips: each thing is taken in hand once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Trip
from breakangle.model.reading import Adjustment, Reading
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.registry import adjustment_kind
from breakangle.planning.kinds.rounding import rounded_amount
from breakangle.planning.trips.kinds import KINDS, TripKind, trip_kind
from breakangle.reference.minutes import minutes_of


@dataclass(frozen=True)
class Laid:
    """The adjustments of one trip, in order."""

    kind: TripKind
    moves: tuple[Adjustment, ...]


def laid_out(adjustments: Sequence[Adjustment], instrument: Instrument) -> tuple[Laid, ...]:
    """Return the adjustments, each by an amount that a hand can set, gathered into trips; at most four.

    What comes to nothing is left out. Strings that were taken off a saddle or laid out of a slot are tuned again.
    """
    set_by_hand = [rounded_amount(one, instrument) for one in adjustments]
    moves = [one for one in set_by_hand if one is not None]
    work = [one for one in moves if not isinstance(one, Tune)]
    tune = [one for one in moves if isinstance(one, Tune)]
    if not work and not tune:
        return ()
    at_pitch = KINDS[0]
    if all(trip_kind(one, instrument) is at_pitch for one in work):
        # Nothing else is done: the strings are brought back to pitch in the same go.
        return (Laid(at_pitch, (*work, *tune)),)
    if not tune and any(_slackened(one, instrument) for one in work):
        tune = [Tune()]
    trips = []
    for kind in KINDS:
        held = [one for one in (*tune, *work) if trip_kind(one, instrument) is kind]
        if held:
            trips.append(Laid(kind, tuple(sorted(held, key=lambda one: adjustment_kind(one).order))))
    return tuple(trips)


def _slackened(one: Adjustment, instrument: Instrument) -> bool:
    """Return whether strings have come off pitch for this adjustment before the last trip."""
    kind = trip_kind(one, instrument)
    return kind is not KINDS[-1] and kind.slacken((one,), instrument) != "no"


def trips_of(
    laid: Sequence[Laid], instrument: Instrument, after: Sequence[Sight], shown: Sequence[Mapping[int, None]]
) -> tuple[Trip, ...]:
    """Return the trips with their minutes, and the few readings that show at the end of each that it worked.

    Args:
        laid: the trips' adjustments.
        instrument: what they are made on.
        after: the targets as they should stand at the end of each trip.
        shown: the places among the targets that show each trip's own work, each once.
    """
    found = []
    for number, (one, seen, places) in enumerate(zip(laid, after, shown, strict=True), start=1):
        reads = _reads(one, seen, places, laid, shown)
        # The rod's minutes hold its readings already.
        reading = 0.0 if one.kind.name == "at-pitch" else minutes_of("reading") * len(reads)
        found.append(
            Trip(
                trip=number,
                name=one.kind.name,
                slacken=one.kind.slacken(one.moves, instrument),
                minutes=round(one.kind.minutes(one.moves, instrument) + reading, 2),
                tools=one.kind.tools(one.moves, instrument),
                reads=reads,
            )
        )
    return tuple(found)


def _reads(
    one: Laid,
    seen: Sight,
    places: Mapping[int, None],
    laid: Sequence[Laid],
    shown: Sequence[Mapping[int, None]],
) -> tuple[Reading, ...]:
    """Return what to read at the end of one trip, each place once.

    Pitch is read once all strings have settled: of a crown shaped while the saddle was out, at the end of all.
    """
    last = one is laid[-1]
    wanted = dict(places)
    if last:
        for held, theirs in zip(laid, shown, strict=True):
            if held is not one:
                wanted |= {index: None for index in theirs if seen.targets[index].quantity == "intonation"}
    else:
        wanted = {index: None for index in wanted if seen.targets[index].quantity != "intonation"}
    return tuple({seen.places[index]: seen.reading(index) for index in wanted}.values())
