"""Flat tops that no overdriving made, and hum beside a partial: each take is told what is really wrong with it."""

from dataclasses import replace

import numpy as np
import pytest

from breakangle.listening.takes.judge import judge
from listening_fixtures.plucks import Pluck, render

LOW_E = Pluck(82.41, decay_one_per_s=1.2, glide_cents=4.0, energy_law=True, noise_db=60.0, duration_s=2.6)
SIXTEEN_BITS = 2**15


def codes(sound: np.ndarray, rate_hz: int) -> list[str]:
    return [one.code for one in judge(sound, rate_hz).reasons]


def mellow(sound: np.ndarray, rate_hz: int, above_hz: float) -> np.ndarray:
    """The sound through a tone control turned down: 24 dB an octave above a frequency."""
    spectrum = np.fft.rfft(sound)
    frequency = np.fft.rfftfreq(len(sound), 1 / rate_hz)
    return np.fft.irfft(spectrum / (1 + (frequency / above_hz) ** 2) ** 2, len(sound))


@pytest.mark.parametrize("rate_hz", [44_100, 96_000, 192_000])
def test_a_round_top_is_no_overdriven_one_however_close_samples_lie(rate_hz: int) -> None:
    low = replace(LOW_E, partial_one_hz=30.87, decay_one_per_s=0.4, rate_hz=rate_hz)
    for seed in range(2):
        assert "clipped" not in codes(mellow(render(low, seed), rate_hz, 60.0), rate_hz)


@pytest.mark.parametrize("rate_hz", [44_100, 192_000])
def test_a_flat_top_is_found_at_any_rate(rate_hz: int) -> None:
    sound = np.clip(8 * render(replace(LOW_E, rate_hz=rate_hz), 1), -1, 1)
    assert "clipped" in codes(sound, rate_hz)


@pytest.mark.parametrize("steps", [10, 30])
def test_a_note_of_few_steps_is_too_quiet_and_not_overdriven(steps: int) -> None:
    """At the last bits of a recording every top is flat: turning down would make it worse."""
    sound = np.round(2 * render(LOW_E, 3) * steps) / SIXTEEN_BITS
    found = codes(sound, 44_100)
    assert "too-quiet" in found and "clipped" not in found


def test_a_quiet_note_with_all_its_steps_is_fine() -> None:
    sound = np.round(render(LOW_E, 3) * 0.02 * SIXTEEN_BITS) / SIXTEEN_BITS
    assert codes(sound, 44_100) == []


@pytest.mark.parametrize("seed", range(4, 9))
def test_hum_is_told_as_hum_though_a_partial_lies_within_reach_of_its_eleventh(seed: int) -> None:
    """Partial 5 of a steel A2 lies 1.3 Hz above the eleventh multiple of 49.95 Hz: it is not taken for it."""
    a2 = replace(LOW_E, partial_one_hz=110.0, inharmonicity=1e-4, noise_db=40.0, hum_db=10.0, hum_hz=49.95)
    assert codes(render(a2, seed), 44_100) == ["hum"]
