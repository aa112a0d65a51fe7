"""Hum told apart: what hums in a recording's pauses, what makes it, and whether a hand on the strings stills it."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from breakangle.drawings.charts.dots import Axes, Series
from breakangle.listening.stream import Take, takes_in
from breakangle.listening.takes.hum_kind import HumHeard, hum_between
from breakangle.listening.takes.reasons import Verdict
from breakangle.model.words.speech import tr
from breakangle.services.listening.forms.form import Answer, FloatArray, whole_sound

# Where nothing else is said below: common practice, no source.
STILLED_DB = 6.0  # by a hand on the strings: plainly heard
PAUSE_AFTER_S, SHOWN_MULTIPLES = 0.05, 20
DANGERS = ("mains",)  # the cause is looked for at what is plugged in
HUMS = {"hum", "not-a-string", "too-short"}  # what a take is refused for that nobody plucked


def hum_heard(path: Path, hand_on: Path | None = None) -> Answer:
    """Return what hums in a recording's longest pause; `hand_on` is the same with a hand on the strings.

    Raises:
        ChooseAnotherFileError: a recording cannot be read or is too long.
        InstallError: a phone recording, and its reader is not installed.
    """
    off = _in_pause(path)
    on = None if hand_on is None else _in_pause(hand_on)
    if off is None:
        told = tr("No hum was heard. A pause of a second without plucks tells best.")
        return Answer((told,), {"format": "breakangle/hum/1", "hum": None})
    words = [
        tr(
            "Mains hum of {mains_hz:.2f} Hz, {level_db:.0f} dB below full scale: {kind}",
            mains_hz=off.mains_hz,
            level_db=-off.level_db,
            kind=_kind_words(off),
        )
    ]
    data: dict[str, Any] = {"format": "breakangle/hum/1", "hum": _json(off)}
    heard: dict[str, str] = {"hum": off.kind}
    if hand_on is not None:
        fall_db = off.level_db - (on.level_db if on is not None else -np.inf)
        data["hand_on_db"] = None if on is None else round(on.level_db - off.level_db, 1)
        words.append(_hand_words(fall_db))
        heard["hand"] = _hand(fall_db)
    axes = Axes(tr("Hum"), tr("multiple of the mains"), tr("dB"))
    answer = Answer(
        tuple(words), data, _series(off, on), axes, dangers=DANGERS, job="electrics", job_options=heard
    )
    data["cautions"] = list(answer.cautions)
    return answer


def _in_pause(path: Path) -> HumHeard | None:
    samples, rate_hz = whole_sound(path)
    return hum_between(longest_pause(samples, rate_hz), rate_hz)


def longest_pause(samples: FloatArray, rate_hz: float) -> FloatArray:
    """Return the longest piece without a pluck; where nobody plucks that is all."""
    takes = [one for one in takes_in(samples, rate_hz) if _plucked(one)]
    edges = [0.0]
    for one in takes:
        edges += [one.start_s - PAUSE_AFTER_S, one.end_s + PAUSE_AFTER_S]
    edges.append(len(samples) / rate_hz)
    pauses = [(end - start, start, end) for start, end in zip(edges[::2], edges[1::2], strict=True)]
    _, start, end = max(pauses)
    return samples[round(start * rate_hz) : max(round(end * rate_hz), 0)]


def _plucked(take: Take) -> bool:
    """Return whether a take is a pluck, and not the hum that began with the recording."""
    return take.verdict is not Verdict.REFUSED or not HUMS & {one.code for one in take.reasons}


def _kind_words(hum: HumHeard) -> str:
    return {
        "loop": tr(
            "the mains itself and its odd multiples, as a loop or a coil picks them up near a transformer; turn the "
            "instrument, go further away, use one socket for all"
        ),
        "rectifier": tr(
            "twice the mains, as a rectifier leaves it: the power supply or its capacitors; leave an amplifier or "
            "power supply to a licensed technician"
        ),
        "dimmer": tr("a buzz far up, as of a dimmer or a switching supply: switch off lamps one by one"),
    }[hum.kind]


def _hand(fall_db: float) -> str:
    """Return what a hand on the strings does, as the electrics sheet has it."""
    return "stills" if fall_db > STILLED_DB else "louder" if fall_db < -STILLED_DB else "nothing"


def _hand_words(fall_db: float) -> str:
    if _hand(fall_db) == "stills":
        return tr("A hand on the strings stills it: the strings are earthed, the cavity is not screened well")
    if _hand(fall_db) == "louder":
        return tr(
            "A hand on the strings makes it louder: the strings' earth is broken; look at the bridge's wire"
        )
    return tr("A hand on the strings changes nothing: it comes in by a coil or the cable, not by you")


def _series(off: HumHeard, on: HumHeard | None) -> tuple[Series, ...]:
    named: Sequence[tuple[str, HumHeard | None]] = ((tr("hand off"), off), (tr("hand on"), on))
    return tuple(
        Series(name, tuple(k + 1.0 for k in known), tuple(float(10 * np.log10(one.powers[k])) for k in known))
        for name, one in named
        if one is not None and (known := [int(k) for k in np.flatnonzero(one.powers[:SHOWN_MULTIPLES] > 0)])
    )


def _json(one: HumHeard) -> dict[str, Any]:
    return {
        "mains_hz": round(one.mains_hz, 2),
        "level_db": round(one.level_db, 1),
        "kind": one.kind,
        "multiples_db": {
            str(int(k) + 1): round(float(10 * np.log10(one.powers[k])), 1)
            for k in np.flatnonzero(one.powers > 0)
        },
    }
