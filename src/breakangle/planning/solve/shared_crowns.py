"""The strings of a course share one crown of a bridge shaped by hand, unless no place of it can bring all inside."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.state.expected_minutes import LIKELY_OUT, chance_out


def crowns_in_use(levers: Sequence[Lever], sight: Sight) -> NDArray[np.bool_]:
    """Return which levers shape a crown as its course wants it, (J,); true of every other lever.

    One crown serves a course as long as its best place leaves every string inside. Where the strings stand farther
    apart, the crown is stepped: filed to a place of its own under each. Common practice, no source.
    """
    shared = [one.trial.strings for one in levers if _is_shared(one)]  # type: ignore[attr-defined]
    parted = {strings for strings in shared if _stand_apart(strings, sight)}
    whole = {string for strings in shared if strings not in parted for string in strings}

    def used(lever: Lever) -> bool:
        trial = lever.trial
        if not isinstance(trial, SaddlePosition):
            return True
        return trial.strings not in parted if trial.also else trial.string not in whole

    return np.array([used(one) for one in levers], dtype=bool)


def _is_shared(lever: Lever) -> bool:
    return isinstance(lever.trial, SaddlePosition) and bool(lever.trial.also)


def _stand_apart(strings: tuple[int, ...], sight: Sight) -> bool:
    """Return whether the best common place is likely to leave some string of the course outside."""
    own = [
        index
        for index, target in enumerate(sight.targets)
        if target.quantity == "intonation" and target.string in strings and sight.judged[index]
    ]
    if len(own) < len(strings):
        return False
    off, spread = sight.off[own], sight.spread[own]
    left = 0.5 * (off.max() - off.min())
    return bool(chance_out(left, sight.tolerance[own].min(), spread.max()) > LIKELY_OUT)
