"""Which dimension of the design a line's drift comes from, by how far every quantity has moved since it began."""

from collections.abc import Sequence

import numpy as np

from breakangle.fleet.drift import Drift, as_numbered
from breakangle.model.service import Service
from breakangle.planning.state.uncertain_value import Known
from breakangle.services.design.moved_dimension import Explained, moved_dimensions

LEAST_SINCE = 2  # instruments since a drift began, before its step is weighed


def steps_since(drifts: Sequence[Drift]) -> dict[str, Known]:
    """Return how far each quantity has moved since the first drift began; empty where nothing drifts.

    Quantities that raised no alarm are weighed too: what has not moved tells as much of the cause.
    """
    begun = [one.since for one in drifts if one.alarm]
    if not begun:
        return {}
    first = min(map(as_numbered, begun))
    found = {}
    for one in drifts:
        since = np.array([as_numbered(item) >= first for item in one.items])
        if min(since.sum(), (~since).sum()) < LEAST_SINCE:
            continue
        step = float(one.off[since].mean() - one.off[~since].mean())
        found[one.figure] = Known(step, one.deviation * float(np.sqrt(1 / since.sum() + 1 / (~since).sum())))
    return found


def dimension_of(drifts: Sequence[Drift], design: Service) -> Explained | None:
    """Return which dimension of the design has most likely moved; None where nothing drifts.

    Raises:
        CorrectInputError: a design without strings that start at the nut.
    """
    steps = steps_since(drifts)
    return moved_dimensions(design, steps) if steps else None
