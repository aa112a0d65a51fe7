"""The nut before the bridge: a height read with nothing held rests on both, and a high nut cuts no bridge."""

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name


def waits_for_the_nut(sight: Sight) -> NDArray[np.bool_]:
    """Return which targets wait until the nut of their string is right, (T,): heights wanted with no fret held.

    Such a height holds a share of what the string stands too high, or too low, at its own nut.
    """
    out = {
        target.string
        for index, target in enumerate(sight.targets)
        if isinstance(target, GapTarget) and trade_name(target) == "nut clearance" and not sight.inside[index]
    }
    return np.array(
        [isinstance(one, GapTarget) and not one.held and one.string in out for one in sight.targets],
        dtype=bool,
    )
