"""The closed loop on a few simulated instruments of each family; `make bench` runs it on 200 of each."""

import numpy as np
import pytest
from bench.closed_loop import service_one

SEEDS = range(8)


@pytest.mark.parametrize("kind", ["electric-guitar", "bass-four", "electric-guitar-seven"])
def test_simulated_instruments_come_right(kind):
    rows = [row for seed in SEEDS if (row := service_one(kind, None, seed)) is not None]
    assert len(rows) >= 6
    assert sum(row.after_two for row in rows) >= len(rows) - 1
    assert np.mean([row.after_one for row in rows]) >= 0.5
    later = [row.later for row in rows if row.later is not None]
    assert sum(later) >= len(later) - 1


def test_rules_of_thumb_need_more_rounds_on_the_same_instruments():
    rows = [row for seed in SEEDS if (row := service_one("electric-guitar", None, seed)) is not None]
    rounds = [row.thumb_rounds for row in rows if row.thumb_rounds is not None]
    assert np.median(rounds) > 2
