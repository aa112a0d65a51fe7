"""Loudness across strings with the hand divided out: a harder stroke makes no string louder, a louder pickup does.

Strokes are made from the derived energy of a pluck, E = T h²/(2 L p (1 − p)).
"""

from types import SimpleNamespace

import numpy as np
import pytest

from breakangle.listening.naming.naming import Name
from breakangle.listening.stroke.height import Stroke
from breakangle.listening.stroke.pluck_point import known_point
from breakangle.planning.state.board import board_of
from breakangle.services.listening.loudness import loudness_of
from breakangle.services.listening.strokes import PlayedStroke
from breakangle.services.service_files.example import example_service

BOARD = board_of(example_service().instrument, 440.0)


def take(string: int, height_mm: float, gain_db: float = 0.0):
    """Return a take whose level follows from its stroke's energy and the string's gain alone."""
    energy = BOARD.tension_n[string - 1] * height_mm**2 / (2 * 648.0 * 0.15 * 0.85)
    size = np.sqrt(energy) * 10 ** (gain_db / 20)
    pitch = SimpleNamespace(solution=SimpleNamespace(lines=np.array([[size + 0j]])))
    stroke = Stroke(height_mm, 0.95 * height_mm, 1.05 * height_mm, known_point(0.15, 0.002), 648.0, 3.0, 0.1)
    return pitch, Name(string, 0, None, 110.0, 0.0), PlayedStroke(stroke, height_mm / 5, 0.1, 1.0)


def test_the_hand_is_divided_out():
    found = loudness_of([take(string, 0.8 + 0.3 * string) for string in range(1, 7)], BOARD)
    assert [one.string for one in found] == [1, 2, 3, 4, 5, 6]
    assert all(abs(one.db) < 0.05 for one in found)
    assert not any(one.stands_out for one in found)


def test_a_string_that_stands_out_is_told_with_what_to_do():
    found = loudness_of([take(string, 1.5, 6.0 if string == 3 else 0.0) for string in range(1, 7)], BOARD)
    assert found[2].db == pytest.approx(6.0, abs=0.05)
    assert [one.string for one in found if one.stands_out] == [3]
    assert "lower its pole" in found[2].words()
    assert (
        "softer" in loudness_of([take(s, 1.5, -5.0 if s == 2 else 0.0) for s in (1, 2, 4)], BOARD)[1].words()
    )


def test_two_strings_or_strokes_too_soft_say_nothing():
    assert loudness_of([take(1, 1.5), take(2, 1.5)], BOARD) == ()
    assert loudness_of([(None, None, None)], BOARD) == ()
