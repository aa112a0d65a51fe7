"""Short notes as of nylon strings: they glide while they die away, and that is no drift."""

import numpy as np
import pytest

from breakangle.listening.stream import takes_in
from breakangle.listening.takes.reasons import Verdict
from listening_fixtures.plucks import Pluck, render

RATE = 44_100


def short(hz: float, fall_s: float, length_s: float = 2.0) -> np.ndarray:
    """A note that falls by 60 dB in `fall_s` seconds, with a glide of 4 cents that settles by e in a quarter second."""
    one = Pluck(
        hz, 1e-5, decay_one_per_s=6.9 / fall_s, decay_growth=0.0, decay_spread=0.0, glide_cents=4.0, glide_s=0.25,
        noise_db=None, attack=False, body=False, duration_s=length_s, peak=0.3,
    )  # fmt: skip
    return np.concatenate([np.zeros(RATE // 2), render(one, 1)])


def in_a_workshop(sound: np.ndarray) -> np.ndarray:
    """With noise 55 dB below full scale and a little hum of three multiples."""
    t = np.arange(len(sound)) / RATE
    hum = sum(size * np.sin(2 * np.pi * hz * t) for hz, size in ((50, 1.0), (150, 0.5), (100, 0.3)))
    noise = 10 ** (-55 / 20) * np.random.default_rng(4).standard_normal(len(sound))
    return np.asarray(sound + 0.001 * hum + noise)


@pytest.mark.parametrize("hz", [261.63, 329.63, 392.0, 440.0])
@pytest.mark.parametrize("fall_s", [1.5, 2.0])
def test_a_glide_that_settled_is_no_drift(hz: float, fall_s: float) -> None:
    sound = short(hz, fall_s) + 1e-4 * np.random.default_rng(2).standard_normal(round(2.5 * RATE))
    (take,) = takes_in(sound, RATE)
    assert take.reasons == ()
    assert take.pitch is not None
    assert 1200 * abs(np.log2(take.pitch.law.partial_one_hz / hz)) < 0.2


@pytest.mark.parametrize("hz", [261.63, 329.63, 395.4, 443.8])
def test_the_noise_after_a_short_note_is_no_drift_and_faint_hum_no_string(hz: float) -> None:
    sound = np.concatenate([short(hz, 2.0, 1.2), np.zeros(round(0.4 * RATE)), short(hz, 2.0, 1.2)])
    takes = [take for take in takes_in(in_a_workshop(sound), RATE) if take.pitch is not None]
    assert takes
    for take in takes:
        assert take.verdict is Verdict.GOOD, take.reasons
        assert take.pitch is not None
        assert 1200 * abs(np.log2(take.pitch.law.partial_one_hz / hz)) < 0.4


@pytest.mark.parametrize("cents_per_s", [-4.0, -2.0, 3.0])
def test_a_drift_that_goes_on_is_still_doubted(cents_per_s: float) -> None:
    sound = short(329.63, 4.0, 3.0)
    t = np.arange(len(sound)) / RATE
    warped = np.cumsum(2 ** (cents_per_s * t / 1200)) / RATE
    drifting = np.interp(warped, t, sound)
    told = [one.code for take in takes_in(drifting[: round(3 * RATE)], RATE) for one in take.reasons]
    assert {"drifting", "wandered"} & set(told)  # either says that the pitch moved
