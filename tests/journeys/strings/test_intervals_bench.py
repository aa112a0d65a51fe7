"""Stated intervals on a few instruments of another hand: `python -m bench.intervals` counts them by the hundred.

So few prove no share: one hand presses all notes of an instrument, so that one heavy hand moves a share by six points.
The range of whole instruments resampled has to reach what is claimed, and the share what no chance explains.
"""

import numpy as np
import pytest

from bench.intervals import measured, pooled, told
from made_once import made_once, shared_folder

COUNT, FIRST = 16, 8000


@pytest.fixture(scope="module")
def found(tmp_path_factory, worker_id):
    folder = shared_folder(tmp_path_factory, worker_id)
    return made_once(folder, "intervals", lambda: measured(COUNT, FIRST, mistyped_share=0.0))


def keys(found, kind, state=None, frets=None):
    every = {key for one in found for key in one.inside}
    return [
        k
        for k in every
        if k[0] == kind and (state is None or k[2] == state) and (frets is None or k[1] in frets)
    ]


@pytest.mark.parametrize("kind", ["pitch", "action", "nut", "relief"])
def test_stated_intervals_hold_the_truth(found, kind):
    share, low, high, count = pooled(found, keys(found, kind))
    assert count >= 250
    assert share >= 0.86
    assert low <= 0.985
    assert high >= 0.94


def test_the_first_frets_hold_as_the_rest_do(found):
    share, _, high, count = pooled(found, keys(found, "pitch", "now", (1, 2, 3, 4)))
    assert count >= 300
    assert share >= 0.80
    assert high >= 0.93


def test_after_a_turn_of_the_rod_intervals_are_neither_blind_nor_wide(found):
    some = keys(found, "action", "turned")
    misses = np.concatenate([one.spreads[key] for one in found for key in some if key in one.spreads])
    assert 0.55 < np.sqrt(np.mean(misses**2)) < 1.5


def test_a_note_said_to_touch_touches_about_as_often(found):
    rows = np.array([row for one in found for row in one.buzz])
    said, touches = rows[:, 0], rows[:, 1]
    for low, high in ((0.0, 0.1), (0.1, 0.9), (0.9, 1.0)):
        here = (said >= low) & (said <= high)
        assert here.sum() > 200
        assert abs(said[here].mean() - touches[here].mean()) < 0.12
    assert np.mean((said - touches) ** 2) < 0.1


def test_the_table_has_a_line_for_every_kind_and_state(found):
    saved: dict[str, float] = {}
    lines = list(told(found, {}, saved))
    for name in ("pitch, all", "action, turned", "relief, then", "nut, swap", "pitch 1, now"):
        assert any(line.startswith(name) for line in lines)
        assert saved[name] > 0.0
    assert 0.0 < saved["brier, crowns read"] < 0.2
