"""How long notes ring: as long as they were made to, and dead notes told with the neck or their own string to blame."""

from dataclasses import replace

import numpy as np
import pytest

from breakangle.listening.pitch.measure import START_S, measure
from breakangle.services.listening.decays import SIXTY_DB_NEPERS, Ringing, dead_notes, rings_s
from listening_fixtures.plucks import Pluck, render

PLAIN = Pluck(110.0, decay_growth=0.0, decay_spread=0.0, duration_s=2.4)


@pytest.mark.parametrize("decay_per_s", [0.6, 1.1, 2.5])
def test_a_note_rings_as_long_as_it_was_made_to(decay_per_s):
    sound = render(replace(PLAIN, decay_one_per_s=decay_per_s), 3)
    pitch = measure(sound[round(START_S * PLAIN.rate_hz) :], PLAIN.rate_hz, START_S)
    assert rings_s(pitch) == pytest.approx(SIXTY_DB_NEPERS / decay_per_s, rel=0.05)


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
