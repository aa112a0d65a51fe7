"""The screen never clears a note that really touches: 2,000 random set-ups of three families."""

import numpy as np
import pytest

from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.modes import Pluck
from breakangle.physics.contact.screen import cleared, reach_bound
from contact_setups import LOSSES, random_notes

PERIODS = 8.0


@pytest.mark.parametrize("away", [True, False])
def test_the_screen_never_clears_what_touches(away: bool) -> None:
    random = np.random.default_rng(4)
    screened = touched = 0
    slack = np.inf
    for pluck_mm in random.uniform(40.0, 200.0, 50):
        notes, height = random_notes(random, 40)
        pluck = Pluck(float(pluck_mm), away)
        bound = reach_bound(notes, pluck, LOSSES, PERIODS)
        exact = reach(notes, pluck, LOSSES, np.zeros(0), PERIODS, mode_count=240, times_per_period_count=1024)
        touches = np.any(height[:, None] * np.nan_to_num(exact.depth) > notes.gap_mm, axis=1)
        clear = np.diag(cleared(notes.gap_mm, bound, height))
        assert not np.any(clear & touches)
        slack = min(slack, np.nanmin(bound - exact.depth))
        screened += int(np.count_nonzero(clear))
        touched += int(np.count_nonzero(touches))
    # A screen that cleared nothing, or set-ups that never touch, would prove nothing.
    assert screened > 500
    assert touched > 200
    # The bound is proved; this shows that the proof is of the right thing.
    assert slack > 0.0


def test_a_string_that_lies_on_a_crown_is_never_cleared() -> None:
    notes, _ = random_notes(np.random.default_rng(5), 20)
    gap = notes.gap_mm.copy()
    beyond = np.isfinite(notes.crown_mm)
    gap[:, -1] = 0.0
    bound = reach_bound(notes, Pluck(130.0), LOSSES, PERIODS)
    assert np.all(beyond[:, -1])
    assert not np.any(cleared(gap, bound, np.array([1e-6])))
