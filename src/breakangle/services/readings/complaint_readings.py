"""What decides a complaint: the readings to take where the owner hears it, and what those read so far say of it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from breakangle.model.concern import Complaint
from breakangle.model.instrument import Instrument
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import capital, tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.target_state import Sight, sight_of
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.verdict.as_read import as_read, figure_read
from breakangle.planning.verdict.judgement import Judgement
from breakangle.planning.verdict.moved import Worked
from breakangle.planning.verdict.touches import Touch
from breakangle.reference.complaints import deciding
from breakangle.services.readings.ways import Ways, usual_places
from breakangle.services.visits.reading_places import Place, place_of

MOST_TOUCHES = 3
OF_WHAT = {"too-high": ("relief", "action", "nut clearance"), "too-low": ("relief", "action",
    "nut clearance"),
           "hard-to-play": ("relief", "action", "nut clearance"), "out-of-tune": ("intonation",)}  # fmt: skip
HEARD_AT = {
    "hard": "heavy",
    "soft": "light",
}  # at which strength of play a complaint is looked at; else the owner's
HEARD = ("buzz", "dead-note", "too-low")


@dataclass(frozen=True)
class Decided:
    """A complaint with the places that decide it, which of them are read, and what is known of it so far."""

    complaint: Complaint
    places: tuple[Place, ...]
    unread: tuple[Place, ...]
    evidence: tuple[Message, ...]
    look: Message | None


def deciding_places(complaint: Complaint, instrument: Instrument, ways: Ways) -> tuple[Place, ...]:
    """Return the places whose readings decide a complaint, those at the very fret first."""
    row, usual = deciding(complaint.what), usual_places(instrument, ways)
    strings = complaint.strings or tuple(one.string for one in instrument.in_order())
    heard_open = 0 in complaint.frets or "open" in complaint.when
    found: list[Place] = []
    if row.crowns and complaint.strings:
        found += [
            place
            for string in strings
            for fret in complaint.frets
            for place in _around(string, fret, row.crowns)
        ]
    if row.stopped and complaint.strings:
        found += [Place("pitch", string, fret) for string in strings for fret in complaint.frets if fret]
    for station in (*row.stations, *(row.open if heard_open or not complaint.frets else ())):
        there = [one for one in usual[station] if one.string in strings]
        found += there or (usual[station] if station == "relief" else ())
    fits = (one for one in dict.fromkeys(found) if not list(one.blank().misfits(instrument)))
    return tuple(fits)


def _around(string: int, fret: int, crowns: int) -> Iterator[Place]:
    """Yield what is read around a fret: the gap over the next one with it held, and the crowns there."""
    if fret:
        yield Place("gap", string, fret + 1, (fret,))
    for beyond in range(crowns):
        if fret + beyond:
            yield Place("crown", string, fret + beyond)


def decided(
    complaint: Complaint, service: Service, now: Estimate | None, judged: Judgement | None, ways: Ways
) -> Decided:
    """Return a complaint with what decides it and what is known so far; nothing is known without a state.

    Readings taken since the last of the work count as read; earlier ones are read again.
    """
    places = deciding_places(complaint, service.instrument_now(), ways)
    done = len(service.work)
    read = {place_of(reading) for reading in service.readings if reading.after == done}
    said = tuple(_evidence(complaint, now, judged)) if now is not None and judged is not None else ()
    look = deciding(complaint.what).look
    return Decided(
        complaint,
        places,
        tuple(place for place in places if place not in read),
        said,
        Message(key=f"complaint.look_{look}", severity="care") if look else None,
    )


def _evidence(complaint: Complaint, now: Estimate, judged: Judgement) -> Iterator[Message]:
    sight = sight_of(now, targets_of(judged.service, now.board).wanted)
    if complaint.what in HEARD:
        yield from _touches(complaint, judged, sight)
    for name in OF_WHAT.get(complaint.what, ()):
        yield from _figures(name, complaint, sight, _as_read(judged.service, now, sight))


def _touches(complaint: Complaint, judged: Judgement, sight: Sight) -> Iterator[Message]:
    """Yield the worst notes that touch where the complaint is; that none does, where the heights are known."""
    known = {_role(sight, place) for place in range(len(sight.targets)) if sight.judged[place]}
    if not {"relief", "action"} <= known:
        yield Message(key="complaint.heights_unread", severity="care")
        return
    touching = judged.touching(next((HEARD_AT[one] for one in complaint.when if one in HEARD_AT), None))
    there = [note for note in touching.notes if _is_there(complaint, note)]
    for one in there[:MOST_TOUCHES]:
        where = tr(
            "String {string} {open}",
            string=one.string,
            open=tr("open") if one.stop == 0 else tr("at fret {stop}", stop=one.stop),
        )
        fault = tr("no single change") if one.cause is None else one.cause.name()
        values = {"where": where, "crown": one.crown, "strength": touching.strength, "fault": fault}
        yield Message(
            key="complaint.touches", values=values, about=_about(one.string, one.crown), severity="care"
        )
    if not there:
        yield Message(key="complaint.touches_none", values={"strength": touching.strength})


def _is_there(complaint: Complaint, one: Touch) -> bool:
    at = not complaint.frets or one.stop in complaint.frets
    way = {"open": one.stop == 0, "fretted": one.stop > 0}
    said = [way[name] for name in complaint.when if name in way]
    return at and (not complaint.strings or one.string in complaint.strings) and (not said or any(said))


def _as_read(service: Service, now: Estimate, sight: Sight) -> list[float]:
    """Return what is said of each target: as it was read, else as it is worked out."""
    worked = Worked(service, now)
    read = [as_read(service, target, now, worked) for target in sight.targets]
    return [
        float(value) if one is None else figure_read(one, now)
        for one, value in zip(read, sight.value, strict=True)
    ]


def _figures(name: str, complaint: Complaint, sight: Sight, said: Sequence[float]) -> Iterator[Message]:
    """Yield the figures of one sort that are out where the complaint is, or that they are within tolerance there.

    From the low string to the high one.
    """
    inside: list[int] = []
    for place, target in sorted(enumerate(sight.targets), key=lambda one: -(one[1].string or 0)):
        there = not complaint.strings or target.string in complaint.strings
        if _role(sight, place) != name or not sight.judged[place] or not there:
            continue
        kind = target_kind(target)
        off = said[place] - kind.wanted(target)
        if abs(off) <= kind.tolerance(target) + 1e-9:
            inside.append(target.string)
            continue
        key = f"complaint.{'high' if off > 0 else 'low'}_{kind.unit}"
        values = {"what": capital(tr(name)), "string": target.string}
        if kind.unit == "mm":
            figures = {"now_mm": said[place], "wanted_mm": kind.wanted(target)}
        else:
            figures = {"now_cents": abs(off)}
        yield Message(key=key, values=values | figures, about=_about(target.string), severity="care")
    if inside:
        words = {"what": capital(tr(name)), "strings": strings_in_words(sorted(set(inside)))}
        yield Message(key="complaint.inside", values=words)


def _role(sight: Sight, place: int) -> str:
    target = sight.targets[place]
    return str(target_kind(target).role(target)[0])


def _about(string: int, fret: int | None = None) -> tuple[str, ...]:
    return (tr("string {string}", string=string), *([] if fret is None else [tr("fret {fret}", fret=fret)]))
