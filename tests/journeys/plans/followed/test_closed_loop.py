"""The closed loop on a few simulated instruments of each family; `make bench` runs it on 200 of each.

The bounds are those that a planner right in 95 of 100 passes on so few instruments in all but one draw of a hundred.
"""

import numpy as np
import pytest
from scipy.stats import binom

from bench.adjusters_touched import Row, service_one
from made_once import made_once, shared_folder

SEEDS = range(8)
KINDS = ("electric-guitar", "bass-four", "electric-guitar-seven")
RIGHT_SHARE = 0.95
WITHIN_TWO_SHARE = 0.6


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> list[Row]:
    def served() -> list[Row]:
        found = [service_one(kind, None, seed) for kind in KINDS for seed in SEEDS]
        return [row for row in found if row is not None]

    return made_once(shared_folder(tmp_path_factory, worker_id), "closed_loop", served)


def at_least(count: int) -> int:
    """Return how many of `count` must come right."""
    return int(binom.ppf(0.01, count, RIGHT_SHARE))


def test_simulated_instruments_come_right_after_two_sets_of_readings(rows):
    assert len(rows) >= 18
    assert sum(row.after_two for row in rows) >= at_least(len(rows))


def test_more_than_half_come_right_after_one(rows):
    assert np.mean([row.after_one for row in rows]) > 0.5


def test_a_later_visit_needs_one_set(rows):
    later = [row.later for row in rows if row.later is not None]
    assert len(later) >= 12
    assert sum(later) >= at_least(len(later))


def test_few_adjusters_are_touched_beyond_what_the_truth_would_need(rows):
    """The wish is that for every instrument; what is reached is the median of two more.

    It was one more while a figure that read inside was left. Now what is left has to stand inside by its chance, so
    that what reads near an edge is moved: more come out wholly inside (`bench.closed_loop`), and more is touched.
    Counted after one full set: a second one has what stands near its edge brought to the middle too.
    """
    extra = np.array([row.extra for row in rows])
    assert np.median(extra) <= 2
    assert np.sum(extra <= 2) >= binom.ppf(0.01, len(rows), WITHIN_TWO_SHARE)


def test_rules_of_thumb_need_more_rounds_on_the_same_instruments(rows):
    assert np.median([row.thumb_rounds for row in rows if row.thumb_rounds is not None]) > 2
