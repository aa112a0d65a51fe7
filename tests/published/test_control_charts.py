"""Average run lengths of control charts, against the tables of their sources.

- J. M. Lucas and R. B. Crosier (1982), Fast initial response for CUSUM quality-control schemes: give your CUSUM a head
  start, Technometrics 24, 199; and D. C. Montgomery, Introduction to Statistical Quality Control, table "ARL
  performance of the tabular CUSUM with k = 1/2 and h = 4 or h = 5". From memory.
- The Shewhart chart's 370.4 between alarms at three standard deviations: Montgomery, as above; from memory. 43.9, 6.3
  and 2.0 at shifts of 1, 2 and 3: the same table's column for single values, from memory.
"""

import numpy as np
import pytest

from breakangle.fleet.charts import (
    began,
    cusum,
    cusum_run_length,
    from_those_before,
    outside,
    shewhart_run_length,
)

CUSUM = {  # shift: (h = 4, h = 5)
    0.0: (168, 465), 0.25: (74.2, 139), 0.5: (26.6, 38.0), 0.75: (13.3, 17.0), 1.0: (8.38, 10.4), 1.5: (4.75, 5.75),
    2.0: (3.34, 4.01), 2.5: (2.62, 3.11), 3.0: (2.19, 2.57), 4.0: (1.71, 2.01),
}  # fmt: skip
SHEWHART = {0.0: 370.4, 1.0: 43.9, 2.0: 6.3, 3.0: 2.0}


def printed(value: float) -> float:
    """Return one and a half units of the last digit that a value is printed with: some are cut, not rounded."""
    digits = len(str(value).split(".")[1]) if isinstance(value, float) else 0
    return 1.5 * 10.0**-digits


@pytest.mark.parametrize("shift", CUSUM)
@pytest.mark.parametrize("place", [0, 1])
def test_cusum_run_lengths_are_those_of_the_table(shift: float, place: int):
    wanted = CUSUM[shift][place]
    assert cusum_run_length(shift, 0.5, (4.0, 5.0)[place]) == pytest.approx(wanted, abs=printed(wanted))


@pytest.mark.parametrize("shift", SHEWHART)
def test_shewhart_run_lengths_are_those_of_the_table(shift: float):
    assert shewhart_run_length(shift) == pytest.approx(SHEWHART[shift], abs=printed(SHEWHART[shift]))


@pytest.mark.parametrize("shift", [0.0, 1.0])
def test_charts_run_as_long_as_is_said_of_them(shift: float):
    """Derived: the mean of many runs lies within four of its standard errors of the run length that is worked out."""
    rng, runs, longest = np.random.default_rng(20), [], 4000
    for _ in range(200):
        alarms = cusum(rng.normal(shift, 1.0, longest if shift == 0 else 200)).alarms()
        assert alarms.any()
        runs.append(int(np.argmax(alarms)) + 1)
    assert np.mean(runs) == pytest.approx(cusum_run_length(shift), abs=4 * np.std(runs) / np.sqrt(len(runs)))


def test_a_step_is_found_and_where_it_began():
    """Derived: values of 0, then of 2: each adds 1.5 to the sum, so the fourth of them is the first over 5."""
    values = np.array([0.0] * 10 + [2.0] * 10)
    sums = cusum(values)
    alarm = int(np.argmax(sums.alarms()))
    assert (alarm, began(sums.above, alarm)) == (13, 10)
    assert not outside(values).any()
    assert not cusum(values[:10]).alarms().any()


def test_distances_from_those_before_are_normal_whatever_the_process():
    """Derived (Hawkins 1987): means and deviations over 4,000 lines within four standard errors of 0 and 1, at each
    place from the third on, and neighbours that tell nothing of each other."""
    rng = np.random.default_rng(8)
    lines = np.array([from_those_before(rng.normal(3.0, 0.2, 12)) for _ in range(4000)])[:, 2:]
    assert np.abs(lines.mean(axis=0)).max() < 4 / np.sqrt(4000)
    assert np.abs(lines.std(axis=0) - 1).max() < 4 / np.sqrt(2 * 4000)
    assert np.abs(np.corrcoef(lines.T) - np.eye(10)).max() < 4.5 / np.sqrt(4000)


def test_values_that_are_all_alike_alarm_for_nothing_and_the_first_other_one_is_seen():
    found = from_those_before([1.0] * 9 + [1.2])
    assert (found[:9] == 0).all()
    assert found[9] > 5
