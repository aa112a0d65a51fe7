"""What the finger behind a fret adds to a stopped string's stretch, at every fret.

The finger bends the string down behind the crown: from there it rises to the nut. How far it lies below the straight
line from nut to crown is what it presses below the crown, and what that line has risen by where the finger is.

Letters: ``L`` open string, ``x`` nut to crown, ``d`` finger behind the crown, ``a`` clearance of the open string over
the crown, ``c`` saddle rise over the nut, ``p`` depth of the finger below the line from nut to crown.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
NEAREST_MM = 2.0  # half of a fingertip is never nearer to its crown; common practice, no source
# How soon a finger gives way where there is little room: smoothly, so that slopes have no corner. Common practice, no
# source.
ROOM_POWER = 4.0


@dataclass(frozen=True)
class FingerStretch:
    """Relative stretch by the finger, and its slopes per mm; every field has the broadcast shape."""

    stretch_ratio: Array
    per_behind_mm: Array
    per_press_mm: Array
    per_clearance_mm: Array
    per_saddle_rise_mm: Array


def finger_stretch(
    *,
    open_length_mm: ArrayLike,
    along_behind_mm: ArrayLike,
    clearance_mm: ArrayLike,
    saddle_rise_mm: ArrayLike,
    behind_mm: ArrayLike,
    press_mm: ArrayLike,
    room_mm: ArrayLike = np.inf,
) -> FingerStretch:
    """Return the relative stretch that a finger adds, e = p²/(2 L) · (1/d + 1/(x - d)), with its slopes.

    Args:
        open_length_mm: open string, nut to saddle.
        along_behind_mm: string's nut to the crown that stops it, more than the room for the finger.
        clearance_mm: open string over that crown.
        saddle_rise_mm: height of the saddle above the nut.
        behind_mm: finger's middle behind the crown where there is room; nearer than ``NEAREST_MM`` counts as that.
        press_mm: how far below the crown the string lies under the finger, zero or more.
        room_mm: the farthest behind the crown that there is room for a finger.

    Source: second order in p/d of the two straight parts' lengths [derived]; with the depth of a finger that lets the
        sounding line run straight on it is M. B. Anderson and R. G. Beausoleil (2024), Classical guitar intonation and
        compensation: The well-tempered guitar, J. Acoust. Soc. Am. 156, 683, appendix "Fretting Classical Guitar
        Strings".
    """
    length, x, a, c, press = (
        np.asarray(value, dtype=np.float64)
        for value in (open_length_mm, along_behind_mm, clearance_mm, saddle_rise_mm, press_mm)
    )
    wanted, room = np.asarray(behind_mm, dtype=np.float64), np.asarray(room_mm, dtype=np.float64)
    reach = np.maximum(wanted, NEAREST_MM)
    tight = (1.0 + (reach / room) ** ROOM_POWER) ** (-1.0 / ROOM_POWER)
    d = reach * tight
    rise = a / x - c / length  # of the line from crown to nut, mm per mm
    depth = np.maximum(press + d * rise, 0.0)
    rest = x - d
    bent = 1.0 / d + 1.0 / rest
    per_depth = depth / length * bent
    per_behind = depth**2 / (2.0 * length) * (1.0 / rest**2 - 1.0 / d**2) + per_depth * rise
    per_behind = per_behind * tight ** (ROOM_POWER + 1.0)
    return FingerStretch(
        stretch_ratio=depth**2 / (2.0 * length) * bent,
        per_behind_mm=np.where(wanted < NEAREST_MM, 0.0, per_behind),
        per_press_mm=per_depth,
        per_clearance_mm=per_depth * d / x,
        per_saddle_rise_mm=-per_depth * d / length,
    )
