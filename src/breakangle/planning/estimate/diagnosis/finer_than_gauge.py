"""Figures finer than their gauge shows: where all the others stand on steps of 0.05 mm, a 1.02 is a slip of the pen."""

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.targets.gap import trade_name

# What gauges are marked in, hundredths of a mm. Common practice, no source.
STEPS_HUNDREDTHS = (10, 5, 2)
# By luck figures stand on such steps no oftener than once in so many cases; and a few may be off them. Chosen.
ONCE_IN, MOST_OFF_SHARE = 400.0, 0.2
NEAR_HUNDREDTHS = 1e-6  # chosen: rounding


def finer_than_gauge(readings: Sequence[Reading]) -> NDArray[np.bool_]:
    """Return which readings have a figure that the gauge of all the others like them does not show, (R,).

    Alike are gaps of one trade name: action, relief, clearance at the nut. [derived: a figure read to 0.01 mm stands on
    steps of k hundredths once in k cases]
    """
    alike: dict[str, list[int]] = defaultdict(list)
    for place, one in enumerate(readings):
        if isinstance(one, Gap):
            alike[trade_name(one)].append(place)
    found = np.zeros(len(readings), dtype=bool)
    for places in alike.values():
        hundredths = np.array([100.0 * readings[place].mm for place in places])  # type: ignore[attr-defined]
        for step in STEPS_HUNDREDTHS:
            off = np.abs(hundredths - step * np.round(hundredths / step)) > NEAR_HUNDREDTHS
            on = int((~off).sum())
            if off.any() and off.sum() <= MOST_OFF_SHARE * len(off) and float(step) ** on > ONCE_IN:
                found[np.array(places)[off]] = True
                break
    return found
