"""A neck bent back, its strings at rest on crowns: what is known follows from where the strings lie at the end."""

import numpy as np
import pytest

from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.kind import Prediction
from breakangle.planning.kinds.prior import open_to_what_is_read, prior_of
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.state.board import board_of
from breakangle.planning.state.picture import picture_of
from planning_cases import ordinary, role, service_reading


def bent_back(seed: int):  # type: ignore[no-untyped-def]
    """Return a service whose strings all but touch over the middle of the neck, heights and slots as they fall."""
    rng = np.random.default_rng(seed)
    spread = {"action": rng.normal(-1.0, 0.4, 8), "nut clearance": rng.normal(1.4, 0.4, 8)}

    def wish(target):  # type: ignore[no-untyped-def]
        name = role(target)
        if name == "relief":
            return -4.95 + 0.03 * target.string  # five tolerances below what is wanted is no relief at all
        return spread[name][target.string] if name in spread else 0.0

    return service_reading(ordinary("electric-guitar"), wish)


def predicted(readings, picture) -> Prediction:  # type: ignore[no-untyped-def]
    found = [reading_kind(one).predict([one], picture) for one in readings]
    return Prediction(
        *(np.concatenate([getattr(one, name) for one in found]) for name in ("values", "rows", "unexplained"))
    )


@pytest.mark.parametrize("seed", range(12))
def test_what_is_known_is_what_the_readings_tell_at_the_state_they_lead_to(seed):
    """The covariance is the inverse of the information of prior and readings together, linear at the end [derived]."""
    service = bent_back(seed)
    board = board_of(service.instrument)
    now, prior = estimate(service), open_to_what_is_read(prior_of(board), service.readings, board)
    assert not [one for one in now.surprises if one.contradicted]
    found = predicted(service.readings, picture_of(board, now.belief.mean))
    stated = np.array([reading_kind(one).spread(one) for one in service.readings])
    noise = np.diag(stated**2 + found.unexplained**2)
    told = prior.covariance @ found.rows.T
    expected = prior.covariance - told @ np.linalg.solve(found.rows @ told + noise, told.T)
    spread = np.sqrt(np.diag(prior.covariance))
    assert np.max(np.abs(now.belief.covariance - expected) / np.outer(spread, spread)) < 1e-6
