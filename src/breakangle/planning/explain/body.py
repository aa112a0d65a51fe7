"""What is said and asked of a body that pulls single notes: the saddle is not to blame for what the body does."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot

from breakangle.model.body import Body, HeardPull
from breakangle.model.plan import Finding, Question
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.said import strings_in_words
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.readings.pitch import Pitch, harmonic_cents
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.bridge_support import stands_loose
from breakangle.planning.state.effects.body import (
    NO_PULL,
    OCTAVE,
    carried_by_body,
    heard_pulls,
    open_pull,
    pulls,
    resonances,
    usual_note,
)
from breakangle.planning.state.uncertain_value import Known
from breakangle.planning.trips.course import off_pitch
from breakangle.reference.minutes import minutes_of

# From which pull a word is said, and as sure as that it is no scatter of plucks; common practice, no source.
SAID_FROM_CENTS, SURE_SPREADS = 3.0, 2.0


@dataclass(frozen=True)
class OpenPull:
    """How far the body pulls the open note of `string`, by its own harmonic."""

    string: int
    cents: Known


def open_pulls(service: Service, before: Mapping[int, Known] | None = None) -> tuple[OpenPull, ...]:
    """Return how far the body pulls each open note whose octave's harmonic was read beside it in this service.

    `before`: what was believed of open notes, by string; None: what the instrument's earlier visits told.
    """
    board = board_of(service.instrument_now(), service.reference_hz)
    if not carried_by_body(board.instrument):
        return ()
    known = heard_pulls(board.instrument) if before is None else before
    return tuple(
        OpenPull(one.string, open_pull(*pair, known.get(one.string, NO_PULL)))
        for one in board.instrument.in_order()
        if (pair := _pair(service, one.string, board)) is not None
    )


def with_heard_pulls(service: Service, earlier: Sequence[Service]) -> Service:
    """Return the service with what the harmonics of `earlier` visits, oldest first, told of its open notes.

    Only of strings that are the same now, and only where no resonance of the body is on file.
    """
    instrument = service.instrument
    if resonances(instrument) or not carried_by_body(instrument):
        return service
    known = heard_pulls(instrument)
    for visit in earlier:
        if any(isinstance(one, Pitch) and one.harmonic == OCTAVE for one in visit.readings):
            then = {one.string: one for one in visit.instrument_now().strings}
            found = [one for one in open_pulls(visit, known) if then[one.string] in instrument.strings]
            known |= {one.string: one.cents for one in found}
    if not known:
        return service
    heard = tuple(
        HeardPull(
            string=one.string,
            note=one.note,
            cents=round(known[one.string].value, 2),
            uncertainty_cents=round(known[one.string].uncertainty, 2),
        )
        for one in instrument.in_order()
        if one.string in known
    )
    body = (instrument.body or Body()).model_copy(update={"open_pulls": heard})
    return service.model_copy(update={"instrument": instrument.model_copy(update={"body": body})})


def _pair(service: Service, string: int, board: Board) -> tuple[Known, Known, float] | None:
    """Return open note and harmonic as last read together, and how far stiffness alone puts them apart, in cents."""
    read = [one for one in service.readings if isinstance(one, Pitch) and one.string == string]
    for after in sorted({one.after for one in read}, reverse=True):
        opened = [one for one in read if one.after == after and one.fret == 0 and one.harmonic is None]
        octave = [one for one in read if one.after == after and one.harmonic == OCTAVE]
        if opened and octave:
            stretch = harmonic_cents(OCTAVE, float(board.stiffness_ratio[string - 1]))
            return _mean(opened, board), _mean(octave, board), stretch
    return None


def _mean(readings: Sequence[Pitch], board: Board) -> Known:
    kind = reading_kind(readings[0])
    values = [kind.value(one, board) for one in readings]
    spread = hypot(*(kind.spread(one) for one in readings)) / len(readings)
    return Known(sum(values) / len(values), spread)


def body_messages(service: Service, now: Estimate) -> tuple[Message, ...]:
    """Return what the body does to single notes: by its resonances where they are known, else by harmonics read."""
    known, found = pulls(now.board), []
    if known is None:
        here = {one.string: one.cents for one in open_pulls(service)}
        for string, cents in sorted((heard_pulls(now.board.instrument) | here).items()):
            if abs(cents.value) >= max(SAID_FROM_CENTS, SURE_SPREADS * cents.uncertainty):
                key = "body_by_harmonic" if string in here else "body_remembered"
                found.append(_message(key, string, cents, string in here and usual_note(now.board, string)))
        return tuple(found)
    for index, of in enumerate(now.board.instrument.in_order()):
        opened = Known(float(known.cents[index, 0]), float(known.spread_cents[index, 0]))
        octave = Known(float(known.harmonic_cents[index]), float(known.harmonic_spread_cents[index]))
        if abs(opened.value) >= SAID_FROM_CENTS:
            found.append(_message("body_pulls", of.string, opened))
        if abs(octave.value) >= SAID_FROM_CENTS:
            found.append(_message("body_pulls_harmonic", of.string, octave))
    return tuple(found)


def _message(key: str, string: int, cents: Known, near_usual: bool = False) -> Message:
    values = {"string": string, "cents": cents.value, "uncertainty_cents": 2.0 * cents.uncertainty}
    ending = "_near" if near_usual else ""
    return Message(
        key=f"effects.{key}{ending}", values=values, about=(f"string {string}", "body"), severity="care"
    )


def harmonic_questions(
    service: Service, sight: Sight, board: Board, findings: Sequence[Finding] = ()
) -> tuple[Question, ...]:
    """Return the harmonics to play, where open and stopped octave disagree on a body not known; none on any other.

    None while the strings are out of tune after what has been done, and none where a bridge that stands loose is found
    off its place: it is slid, and a body pulls single notes, not all strings alike.
    """
    instrument = board.instrument
    if (
        (stands_loose(instrument) and any(one.finding == "moved-bridge" for one in findings))
        or resonances(instrument)
        or not carried_by_body(instrument)
        or off_pitch(service)
    ):
        return ()
    heard = {one.string for one in service.readings if isinstance(one, Pitch) and one.harmonic == OCTAVE}
    plain = [one for one in service.readings if isinstance(one, Pitch) and one.harmonic is None]
    opened = {one.string for one in plain if one.fret == 0}
    strings = sorted(
        target.string
        for index, target in enumerate(sight.targets)
        if target.quantity == "intonation" and sight.judged[index] and not sight.inside[index]
        if target.string in opened - heard - heard_pulls(instrument).keys()
    )
    if not strings:
        return ()
    readings: tuple[Reading, ...] = tuple(
        Pitch(string=one, fret=0, harmonic=OCTAVE, cents=0.0, after=len(service.work)) for one in strings
    )
    return (
        Question(
            ask="reading",
            readings=readings,
            message=Message(
                key="effects.ask_harmonic",
                values={"strings": strings_in_words(strings)},
                about=(*(f"string {one}" for one in strings), "body"),
                severity="care",
            ),
            decides=("verdict",),
            minutes=minutes_of("reading") * 2 * len(strings),
        ),
    )
