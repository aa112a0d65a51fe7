"""Plucks by finite differences as every bench of the ears hears them: in a room that is 40 dB below them."""

import numpy as np
import pytest

from bench.ears.sounds import NOISE_DB, RATE_HZ, drawn, recordings

SECONDS, QUIET_S = 1.2, 0.25


def test_each_string_is_heard_in_a_room_forty_decibels_below_its_first_second() -> None:
    rng = np.random.default_rng(4)
    heard = list(recordings(drawn(rng, 2, 110.0, 111.0, (100.0, 101.0)), rng, SECONDS))
    assert len(heard) == 2
    quiet = round(QUIET_S * RATE_HZ)
    for sound in heard:
        room, string = sound[:quiet], sound[quiet : quiet + RATE_HZ]
        assert 20 * np.log10(string.std() / room.std()) == pytest.approx(NOISE_DB, abs=0.3)
