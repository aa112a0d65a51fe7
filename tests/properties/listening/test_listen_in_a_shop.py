"""What a shop adds to a take: a hand that stops the string in a noisy room, a voice, noise over two polarisations."""

import numpy as np
import pytest

from breakangle.listening.pitch.measure import START_S
from breakangle.listening.stream import Take, takes_in
from breakangle.listening.takes.judge import usable
from breakangle.listening.takes.reasons import Verdict
from listening_fixtures.nasty import speech
from listening_fixtures.plucks import Pluck, render

RATE = 44_100


def _pluck(hz: float, **more: float) -> np.ndarray:
    return render(Pluck(hz, glide_cents=3.0, energy_law=True, noise_db=None, duration_s=2.4, **more), 3)


def _level(sound: np.ndarray) -> float:
    return float(np.sqrt(np.mean(sound[: 3 * RATE // 2] ** 2)))


def _take(sound: np.ndarray) -> Take:
    quiet = 1e-4 * np.random.default_rng(8).standard_normal(RATE // 5)
    return takes_in(np.concatenate([quiet, sound]), RATE)[0]


def _off_cents(take: Take, hz: float) -> float:
    assert take.pitch is not None
    return 1200 * abs(float(np.log2(take.pitch.law.partial_one_hz / hz)))


@pytest.mark.parametrize("stop_s", [0.80, 0.91, 1.03, 1.15])
def test_the_window_ends_before_a_hand_whatever_the_room_hides(stop_s: float) -> None:
    """The string's level falls to the noise within a tenth of a second, just where the take counts as over."""
    rng = np.random.default_rng(5)
    sound = _pluck(196.0, decay_one_per_s=1.5)
    t = np.arange(len(sound)) / RATE
    noise = 10 ** (-35 / 20) * _level(sound) * rng.standard_normal(len(sound))
    stopped = sound * np.where(t < stop_s, 1.0, np.exp(-(t - stop_s) / 0.025)) + noise
    end_s = START_S + len(usable(stopped, RATE)) / RATE
    assert stop_s - 0.15 < end_s < stop_s + 0.02
    assert "second-pluck" not in [one.code for one in _take(stopped).reasons]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_voice_beside_a_string_is_no_second_pluck(seed: int) -> None:
    sound = _pluck(330.0, decay_one_per_s=1.6)
    said, _ = speech(np.random.default_rng(seed))
    said = said[: len(sound)]
    take = _take(sound + 10 ** (-24 / 20) * _level(sound) / float(np.std(said)) * said)
    assert "second-pluck" not in [one.code for one in take.reasons]
    assert take.verdict is not Verdict.GOOD or _off_cents(take, 330.0) < 0.5


def test_two_polarisations_are_told_apart_in_noise() -> None:
    """Two lines a cent apart, half as strong: in noise 35 dB below they are seen still, and explain what beats."""
    sound = _pluck(392.0, decay_one_per_s=1.6, second_cents=1.1, second_ratio=0.5)
    noise = 10 ** (-35 / 20) * _level(sound) * np.random.default_rng(6).standard_normal(len(sound))
    take = _take(sound + noise)
    assert take.verdict is Verdict.GOOD, take.reasons
    assert take.pitch is not None and 0.8 < take.pitch.lines.apart_cents < 1.4
    assert _off_cents(take, 392.0) < 0.5
