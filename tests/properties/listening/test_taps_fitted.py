"""The fit of all taps at once: of all that it tried, it tells what leaves the least over."""

import numpy as np
import pytest

from bench.ears.tapped import RATE_HZ, body, taps
from bench.listening_body import SEED
from breakangle.listening.body import taps as fitting


def test_the_best_that_was_tried_is_told_and_no_step_that_was_found_worse(monkeypatch):
    """On a body of the bench whose last step is a worse one."""
    rng = np.random.default_rng([SEED, 1])
    heard = fitting.taps_in(taps(rng, *body(rng)), RATE_HZ)
    tried, real = list[tuple[float, np.ndarray]](), fitting._normal

    def noted(rate: np.ndarray, t: np.ndarray, sound: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        left = real(rate, t, sound)
        tried.append((left[0], rate.imag.copy() / (2 * np.pi)))
        return left

    monkeypatch.setattr(fitting, "_normal", noted)
    rows = [one[: min(map(len, heard.rows))] for one in heard.rows]
    told = fitting._fitted(fitting._lines(rows, heard.rate_hz), rows, heard.rate_hz)
    costs = [cost for cost, _ in tried]
    assert costs[-1] > min(costs), "the last step of this body is a worse one"
    assert [one.hz for one in told] == pytest.approx(tried[int(np.argmin(costs))][1], rel=1e-12)
