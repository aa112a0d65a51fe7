"""A bridge that stands loose is slid once, as a whole: what single strings then still want waits until it was read."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.kinds.adjustments.bridge_position import BridgePosition
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.kind import Lever


def slides_in(levers: Sequence[Lever]) -> NDArray[np.bool_]:
    """Return which of the levers slide or turn the whole bridge, (J,)."""
    return np.array([isinstance(lever.trial, BridgePosition) for lever in levers], dtype=bool)


def after_the_slide(levers: Sequence[Lever]) -> NDArray[np.bool_]:
    """Return which of the levers wait, (J,): crowns shaped for single strings, beside a slide of the whole bridge.

    A slide is set by eye against a mark; intonation is read after it, before anything is shaped for good.
    """
    crowns = [isinstance(lever.trial, SaddlePosition) for lever in levers]
    return np.array(crowns, dtype=bool) & bool(slides_in(levers).any())
