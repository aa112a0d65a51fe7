"""A live stream: blocks in, events out; the same code and the same answers as for a file."""

import numpy as np
import pytest

from breakangle.listening.naming.naming import Asked
from breakangle.listening.stream import (
    Event,
    FirstReading,
    Listener,
    Named,
    SteadyReading,
    TakeBegan,
    TakeJudged,
    takes_in,
)
from breakangle.listening.takes.reasons import Verdict
from listening_fixtures.plucks import Pluck, render
from listening_fixtures.tunings import strings_of

RATE = 48_000


def pluck(hz: float, silence_s: float = 0.5) -> Pluck:
    return Pluck(
        hz,
        decay_one_per_s=1 + hz / 500,
        glide_cents=4.0,
        energy_law=True,
        silence_s=silence_s,
        rate_hz=RATE,
        duration_s=2.0,
    )


def events_of(sound: np.ndarray, block: int, listener: Listener) -> list[tuple[float, Event]]:
    """Each event with the time at which it came out."""
    found = []
    for at in range(0, len(sound), block):
        found += [((at + block) / RATE, event) for event in listener.push(sound[at : at + block])]
    return found + [(len(sound) / RATE, event) for event in listener.finish()]


@pytest.mark.parametrize(
    ("hz", "most_s"), [(82.41, 0.120), (110.0, 0.120), (196.0, 0.120), (329.63, 0.080), (1318.5, 0.080)]
)
def test_readings_come_in_time(hz: float, most_s: float) -> None:
    found = events_of(render(pluck(hz), 1), 512, Listener(RATE))
    kinds = [type(event) for _, event in found]
    assert kinds == [TakeBegan, FirstReading, SteadyReading, TakeJudged]
    (_, began), (first_at, first), (steady_at, steady), (_, judged) = found
    assert isinstance(began, TakeBegan)
    assert began.start_s == pytest.approx(0.5, abs=0.006)
    assert first_at - 0.5 <= most_s
    assert isinstance(first, FirstReading)
    assert (
        1200 * abs(np.log2(first.pitch_hz / hz)) < 8
    )  # the glide of 4 c is still on, and it is a first idea
    assert steady_at - 0.5 <= 1.15
    assert isinstance(steady, SteadyReading)
    assert 1200 * abs(np.log2(steady.pitch_hz / hz)) < 0.15
    assert isinstance(judged, TakeJudged)
    assert judged.take.verdict is Verdict.GOOD


@pytest.mark.parametrize("block", [64, 333, 2048, 48_000])
def test_a_stream_answers_as_a_file_does_whatever_its_blocks(block: int) -> None:
    sound = np.concatenate([render(pluck(hz), 2) for hz in (82.41, 220.0)])
    whole = takes_in(sound, RATE)
    live = [
        event.take for _, event in events_of(sound, block, Listener(RATE)) if isinstance(event, TakeJudged)
    ]
    assert len(whole) == len(live) == 2
    for one, other in zip(whole, live, strict=True):
        assert one.start_s == other.start_s
        assert one.pitch is not None
        assert other.pitch is not None
        assert one.pitch.law.partial_one_hz == other.pitch.law.partial_one_hz
        assert one.verdict is other.verdict


def test_takes_are_named_as_they_come() -> None:
    strings = strings_of("six, standard")
    asked = [Asked(6, "open"), Asked(6, "fretted"), Asked(5, "open")]
    sound = np.concatenate([render(pluck(hz, 0.2), 3) for hz in (82.6, 165.6, 109.0)])
    found = events_of(sound, 1024, Listener(RATE, strings=strings, asked=asked))
    named = {event.index: event.name for _, event in found if isinstance(event, Named)}
    assert [(named[k].string, named[k].fret, named[k].harmonic) for k in range(3)] == [
        (6, 0, None),
        (6, 12, None),
        (5, 0, None),
    ]
    assert named[0].cents == pytest.approx(1200 * np.log2(82.6 / 82.407), abs=0.5)


def test_plucks_in_quick_succession_are_parted() -> None:
    rng = np.random.default_rng(0)
    gaps = [0.6, 0.9, 1.4, 2.0]
    starts = np.cumsum([0.3, *gaps])
    sound = 1e-4 * rng.standard_normal(round((starts[-1] + 2.0) * RATE))
    for at, hz in zip(starts, (110.0, 146.8, 196.0, 246.9, 329.6), strict=True):
        begin = round(at * RATE)
        sound[begin:] *= 0.02  # the hand stops the string that rang
        one = render(pluck(hz, 0.0), 5)[: len(sound) - begin]
        sound[begin : begin + len(one)] += one
    takes = takes_in(sound, RATE)
    assert [take.start_s for take in takes] == pytest.approx(starts, abs=0.01)
    for take, hz in zip(takes, (110.0, 146.8, 196.0, 246.9, 329.6), strict=True):
        assert take.pitch is not None
        assert 1200 * abs(np.log2(take.pitch.law.partial_one_hz / hz)) < 1.0


def test_the_end_of_a_sound_ends_the_take() -> None:
    sound = render(pluck(196.0), 6)
    sound[round(1.9 * RATE) :] = 0
    silence = np.zeros(RATE)
    found = events_of(np.concatenate([sound, silence]), 512, Listener(RATE, live=False))
    ended_at, ended = found[-1]
    assert isinstance(ended, TakeJudged)
    assert ended.take.end_s == pytest.approx(1.9, abs=0.02)
    assert ended_at < 2.2
