"""Slips of typing that a service shows by itself: keys nearly known, cuts that raise, notes and gauges not on it."""

from collections.abc import Iterator, Sequence
from math import log

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument, String
from breakangle.model.pitch import note_hz
from breakangle.model.plan import Question
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.near_words import near_misses
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import RAISED, as_told
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.string_constants import string_constants
from breakangle.reference.families import family_of

# Where nothing else is said below: common practice, no source.
SEMITONE_CENTS = 100.0  # a stopped note further from its own is another fret's; common practice, no source
# A string that pulls less than half, or more than twice, of what the rest of its set leads one to expect has a gauge
# or a note that is not what is on it; a note an octave off pulls a quarter, or four times. Derived: pull goes with the
# square of the frequency.
LEAST_PULL_RATIO, MOST_PULL_RATIO = 0.5, 2.2
NEAR_PULL_RATIO = 1.35  # sets of one kind differ by no more, string for string; common practice, no source
# Exact: pull goes with the square of the frequency.
OCTAVE_PULL_RATIO = 4.0
# Where more strings than that stand out, there is no rest of the set to judge one by: it is strung for something else.
MOST_OFF_SHARE = 0.34
SCREWS = {"saddle-height": "height_mm_per_turn", "saddle-position": "position_mm_per_turn"}
DISAGREE_SHARE, DISAGREE_MM = 0.15, 0.03
Array = NDArray[np.float64]
Values = dict[str, float | str]


def slip_questions(service: Service, besides: Sequence[str] = ()) -> tuple[Question, ...]:
    """Return what is asked about slips of typing, keys that are nearly known first.

    Args:
        service: the service as it stands.
        besides: JSON paths of sizes that are asked about already.
    """
    return (
        *_near_keys(service),
        *_far_notes(service),
        *_cuts_that_raise(service),
        *_pulls(service, besides),
    )


def raises_a_cut(adjustment: Adjustment, instrument: Instrument) -> bool:
    """Return whether a cut would raise the string, and nobody said that it was filled or shimmed."""
    mm = getattr(adjustment, "mm", None)
    if not isinstance(mm, float) or mm <= 0.0 or (adjustment.model_extra or {}).get(RAISED) is True:
        return False
    one_piece = adjustment.adjust == "saddle-height" and instrument.bridge.kind == "one-piece"
    return adjustment.adjust == "nut-slot" or one_piece


def turns_make_mm(adjust: str, turns: object, mm: object, instrument: Instrument) -> float | None:
    """Return what `turns` of that screw make in mm where that disagrees with `mm`; None where nothing does."""
    per_turn = getattr(instrument.bridge, SCREWS.get(adjust, ""), None)
    if per_turn is None or not isinstance(turns, int | float) or not isinstance(mm, int | float):
        return None
    made = abs(turns) * float(per_turn)
    return made if abs(made - abs(mm)) > max(DISAGREE_SHARE * abs(mm), DISAGREE_MM) else None


def _slip(key: str, readings: tuple[Reading, ...], about: tuple[str, ...], **values: float | str) -> Question:
    message = Message(key=f"typed.{key}", values=values, about=about, severity="stop")
    return Question(ask="typing-slip", readings=readings, message=message, decides=("verdict",))


def _near_keys(service: Service) -> Iterator[Question]:
    for one in service.readings:
        for key, meant in near_misses(one):
            words = reading_kind(one).place(one)
            yield _slip(
                "near_key",
                (one,),
                (tr("string {string}", string=one.string), key),
                words=words,
                given=key,
                meant=meant,
            )


def _far_notes(service: Service) -> Iterator[Question]:
    """Yield a question for every stopped note that is more than a fret from where it should sound."""
    instrument = service.instrument
    for stage in range(len(service.work) + 1):
        here = [one for one in service.readings if one.after == stage and isinstance(one, Pitch) and one.fret]
        if here:
            board = board_of(instrument, service.reference_hz)
            for one in here:
                cents = reading_kind(one).value(one, board)
                if abs(cents) > SEMITONE_CENTS:
                    way = "above" if cents > 0.0 else "below"
                    values: Values = {"words": reading_kind(one).place(one), "cents": abs(cents), "way": way}
                    yield _slip(
                        "far_note",
                        (one,),
                        (tr("string {string}", string=one.string), tr("fret {fret}", fret=one.fret)),
                        **values,
                    )
        if stage < len(service.work):
            instrument = service.work[stage].changed_instrument(instrument)


def _cuts_that_raise(service: Service) -> Iterator[Question]:
    for at, one in enumerate(service.work):
        if raises_a_cut(one, service.instrument):
            mm = float(one.mm)  # type: ignore[attr-defined]
            yield _slip("cut_raises", (), (f"work[{at}]",), number=at + 1, adjust=one.adjust, mm=mm)
        turns = (one.model_extra or {}).get("turns")
        made = turns_make_mm(one.adjust, turns, getattr(one, "mm", None), service.instrument)
        if made is not None:
            values: Values = {"number": at + 1, "adjust": one.adjust, "mm": float(one.mm), "made_mm": made}  # type: ignore[attr-defined]
            yield _slip("turns_disagree", (), (f"work[{at}]",), **values)


def _pulls(service: Service, besides: Sequence[str]) -> Iterator[Question]:
    """Yield a question for every string whose pull the rest of its set does not lead one to expect.

    One that a person said is so, all the same, is not asked about.
    """
    instrument = service.instrument_now()
    board = board_of(instrument, service.reference_hz)
    strings, pull = instrument.in_order(), board.tension_n
    if len(strings) < 3:
        return
    usual = _usual_pull(instrument, board)
    ratio = pull / usual
    heard = _heard_at_their_note(service, board)
    whole = None if heard else _set_octave(pull, usual)
    if whole is not None:
        if not all(map(as_told, strings)):
            yield whole
        return
    against = np.array([ratio[at] / np.quantile(np.delete(ratio, at), 0.5) for at in range(len(strings))])
    off = np.flatnonzero((against < LEAST_PULL_RATIO) | (against > MOST_PULL_RATIO))
    if len(off) > MOST_OFF_SHARE * len(strings):
        return
    for at in off:
        one, far = strings[at], float(against[at])
        if as_told(one) or f"instrument.strings[{instrument.strings.index(one)}].diameter_mm" in besides:
            continue
        octave = OCTAVE_PULL_RATIO if far < 1.0 else 1.0 / OCTAVE_PULL_RATIO
        off_by_octave = one.string not in heard and abs(log(far * octave)) < log(NEAR_PULL_RATIO)
        others_n = float(np.mean(np.delete(pull, at)))
        yield _of_pull(one, float(pull[at]), others_n, octave if off_by_octave else 0.0)


def _heard_at_their_note(service: Service, board: Board) -> frozenset[int]:
    """Return the strings whose open note was read, in Hz, since strings went on last: it is no octave off."""
    strung = max(
        (done for done, one in enumerate(service.work, start=1) if one.adjust == "restring"), default=0
    )
    return frozenset(
        one.string
        for one in service.readings
        if isinstance(one, Pitch) and one.after >= strung and one.hz is not None
        if one.fret == 0
        and one.harmonic is None
        and abs(reading_kind(one).value(one, board)) < SEMITONE_CENTS
    )


def _set_octave(pull: Array, usual: Array) -> Question | None:
    """Return the question about a set whose strings all pull as if their notes stood an octave off; None for others."""
    ratio = pull / usual
    for octave, way in ((OCTAVE_PULL_RATIO, "low"), (1.0 / OCTAVE_PULL_RATIO, "high")):
        if (np.abs(np.log(ratio * octave)) < log(NEAR_PULL_RATIO)).all() and not (usual == 1.0).all():
            values: Values = {"pull_n": float(pull.sum()), "usual_n": float(usual.sum()), "way": way}
            message = Message(
                key="typed.set_octave", values=values, about=("strings", "note"), severity="care"
            )
            return Question(ask="note", readings=(), message=message, decides=("verdict",))
    return None


def _usual_pull(instrument: Instrument, board: Board) -> Array:
    """Return what each string of the family's usual set pulls in N, on this scale; all alike for another stringing."""
    kin = family_of(instrument)
    if len(kin.strings) != len(instrument.strings):
        return np.ones(len(instrument.strings))
    usual = {one.string: one for one in kin.strings}
    found = []
    for at, one in enumerate(instrument.in_order()):
        same = usual[one.string]
        told = string_constants(
            make=same.make,
            diameter_mm=same.diameter_mm,
            core_mm=same.core_mm,
            wrap=same.wrap,
            open_length_mm=float(board.open_length_mm[at]),
            pitch_hz=note_hz(same.note),
        )
        found.append(told.tension_n)
    return np.array(found)


def _of_pull(one: String, pull_n: float, others_n: float, octave: float) -> Question:
    """Return the question about a string's pull: its note an octave off, or its gauge."""
    about = (f"string {one.string}", "note" if octave else "gauge")
    values: Values = {
        "string": one.string,
        "note": one.note,
        "pull_n": pull_n,
        "others_n": others_n,
    }
    if octave:
        name, number = one.note.rstrip("-0123456789"), int(one.note.lstrip("ABCDEFG#b"))
        values |= {
            "other_note": f"{name}{number + (1 if octave > 1.0 else -1)}",
            "other_n": pull_n * octave,
            "way": "low" if octave > 1.0 else "high",
        }
        message = Message(key="typed.note_octave", values=values, about=about, severity="care")
        return Question(ask="note", readings=(), message=message, decides=("verdict",))
    values["diameter_mm"] = one.diameter_mm
    message = Message(key="typed.gauge_pull", values=values, about=about, severity="care")
    return Question(ask="gauge", readings=(), message=message, decides=("verdict",))
