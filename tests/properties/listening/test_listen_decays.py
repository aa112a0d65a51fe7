"""How long notes ring: as long as they were made to, and dead notes told with the neck or their own string to blame."""

from dataclasses import replace

import numpy as np
import pytest

from breakangle.listening.pitch.measure import START_S, Pitch, measure
from breakangle.services.listening.decays import SIXTY_DB_NEPERS, Ringing, dead_notes, rings_s
from listening_fixtures.plucks import Pluck, render

PLAIN = Pluck(110.0, decay_growth=0.0, decay_spread=0.0, duration_s=2.4)
RATE_HZ, FALL_PER_S = 22_050, 1.21


@pytest.mark.parametrize("decay_per_s", [0.6, 1.1, 2.5])
def test_a_note_rings_as_long_as_it_was_made_to(decay_per_s):
    sound = render(replace(PLAIN, decay_one_per_s=decay_per_s), 3)
    pitch = measure(sound[round(START_S * PLAIN.rate_hz) :], PLAIN.rate_hz, START_S)
    assert rings_s(pitch) == pytest.approx(SIXTY_DB_NEPERS / decay_per_s, rel=0.05)


def two_lines(hz: float, apart_ratio: float, falls_per_s: tuple[float, float]) -> Pitch:
    """Measure a pluck of two lines that start in step, the second 0.45 as strong."""
    rng = np.random.default_rng(12)
    t, n = np.arange(round(2.05 * RATE_HZ)) / RATE_HZ, np.arange(1, 29)
    hertz = hz * n * np.sqrt(1 + 1.6e-4 * n**2)
    warped = t + 0.005 * (1 - np.exp(-2 * FALL_PER_S * t)) / (2 * FALL_PER_S)
    size = np.abs(np.sin(0.26 * np.pi * n) * np.sin(0.084 * np.pi * n) / n)
    turn, phase = 2 * np.pi * hertz[:, None] * warped, rng.uniform(0, 2 * np.pi, len(n))[:, None]
    first = np.exp(-falls_per_s[0] * t) * (size @ np.cos(turn + phase))
    second = np.exp(-falls_per_s[1] * t) * (size @ np.cos(turn * (1 + apart_ratio) + phase))
    sound = first + 0.45 * second
    sound = sound + 0.01 * np.std(sound[:RATE_HZ]) * rng.standard_normal(len(t))
    pitch = measure(sound[round(START_S * RATE_HZ) :], RATE_HZ, START_S)
    assert pitch is not None
    return pitch


@pytest.mark.parametrize("apart_ratio", [1.5e-4, -1.5e-4, 2e-4])
@pytest.mark.parametrize("hz", [98.0, 147.0, 176.4])
def test_slow_beat_is_not_taken_for_a_fall(hz, apart_ratio):
    """Both lines fall alike, a quarter to a third of a cent apart, so that no carrying partial turns half round."""
    pitch = two_lines(hz, apart_ratio, (FALL_PER_S, FALL_PER_S))
    assert pitch.solution.lines.shape[1] == 2
    assert rings_s(pitch) == pytest.approx(SIXTY_DB_NEPERS / FALL_PER_S, rel=0.02)


@pytest.mark.parametrize("falls_per_s", [(0.8, 1.6), (1.6, 0.8), (1.2, 1.2)])
def test_lines_whose_beat_comes_back_tell_their_own_falls(falls_per_s):
    """A cent and a half apart, power 1 and 0.45 squared: derived, the mean of both falls by their power."""
    pitch = two_lines(176.4, 8.7e-4, falls_per_s)
    fall = (falls_per_s[0] + 0.45**2 * falls_per_s[1]) / (1 + 0.45**2)
    assert rings_s(pitch) == pytest.approx(SIXTY_DB_NEPERS / fall, rel=0.05)


def test_bend_of_a_level_tells_the_fall_at_the_pluck_where_one_line_was_taken():
    """Lines a sixth of a cent apart are fitted as one, which falls 0.7 % faster than either."""
    pitch = two_lines(98.0, 1e-4, (FALL_PER_S, FALL_PER_S))
    assert pitch.solution.lines.shape[1] == 1
    assert rings_s(pitch) == pytest.approx(SIXTY_DB_NEPERS / FALL_PER_S, rel=0.004)


@pytest.mark.parametrize("decay_per_s", [0.6, 1.1])
def test_one_fall_shared_out_between_two_lines_leaves_a_note_as_long(decay_per_s):
    """A fit may share one fall out in many ways between lines that stay together: the level tells it still."""
    sound = render(replace(PLAIN, decay_one_per_s=decay_per_s), 3)
    pitch = measure(sound[round(START_S * PLAIN.rate_hz) :], PLAIN.rate_hz, START_S)
    one = pitch.solution
    shape = replace(one.shape, second_decay=4 * one.shape.decay, detuning=2e-5)
    shared = replace(one, shape=shape, lines=np.concatenate([one.lines, one.lines], axis=1))
    rings = rings_s(replace(pitch, solution=shared))
    assert rings == pytest.approx(SIXTY_DB_NEPERS / decay_per_s, rel=0.05)


def neck(dead: set[tuple[int, int]], strings: int = 4) -> list[Ringing]:
    """Return notes that ring ever shorter up the neck, those in `dead` for a third of that."""
    rng = np.random.default_rng(7)
    return [
        Ringing(
            string,
            fret,
            6.0 * np.exp(-0.05 * fret + 0.08 * rng.standard_normal()) / (3 if (string, fret) in dead else 1),
        )
        for string in range(1, strings + 1)
        for fret in range(10)
    ]


def test_one_fret_short_on_every_string_is_the_neck():
    found = dead_notes(neck({(string, 5) for string in (1, 2, 3, 4)}))
    assert [(one.string, one.fret, one.cause) for one in found] == [
        (string, 5, "neck") for string in (1, 2, 3, 4)
    ]


def test_one_string_short_alone_is_its_own():
    found = dead_notes(neck({(2, 7)}))
    assert [(one.string, one.fret, one.cause) for one in found] == [(2, 7, "own")]
    assert found[0].expected_s == pytest.approx(6.0 * np.exp(-0.35), rel=0.15)
    assert "crown" in found[0].words()


def test_one_string_heard_alone_does_not_say_whose_it_is_and_few_notes_say_nothing():
    assert [one.cause for one in dead_notes(neck({(1, 3)}, strings=1))] == ["unknown"]
    assert dead_notes([one for one in neck({(1, 3)}, strings=1) if one.fret < 4]) == ()
    assert dead_notes(neck(set())) == ()
