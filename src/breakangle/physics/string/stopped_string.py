"""Lengths of one string pressed to one fret: open, sounding, behind the crown, and how much it was stretched.

The open string is a straight line from nut to saddle. Pressing it to a crown pulls it down by the open
string's clearance over that crown, which carries relief, nut height and saddle height at once.

Letters: ``H`` nut to saddle, ``h`` crown to saddle, ``x`` nut to crown, all along the board; ``a`` clearance,
``c`` saddle rise, ``r`` and ``p`` heights of saddle and nut above the crown.

Source: M. B. Anderson and R. G. Beausoleil (2024), Classical guitar intonation and compensation: The
well-tempered guitar, J. Acoust. Soc. Am. 156, 683: lengths L_0, L_n, L'_n and Q_n, with the clearance in place
of two heights.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class StoppedLengths:
    """Lengths of one stopped string, mm: along the board, sounding, behind the crown, open."""

    along_open: Array
    along_sounding: Array
    along_behind: Array
    rise_from_crown: Array
    drop_from_nut: Array
    open: Array
    sounding: Array
    behind: Array
    stretch_ratio: Array


def stopped_lengths(
    open_length_mm: ArrayLike,
    fret_ratio: ArrayLike,
    clearance_mm: ArrayLike,
    saddle_rise_mm: ArrayLike,
    saddle_setback_mm: ArrayLike,
    nut_setback_mm: ArrayLike,
) -> StoppedLengths:
    """Lengths in mm of the string stopped at a fret; the stretch is formed without cancellation.

    Source: Anderson and Beausoleil (2024), as in the module's docstring.
    """
    given = [
        np.asarray(value, dtype=np.float64)
        for value in (
            open_length_mm, fret_ratio, clearance_mm, saddle_rise_mm, saddle_setback_mm, nut_setback_mm,
        )
    ]  # fmt: skip
    alike = all(one.shape == given[0].shape for one in given)
    length, ratio, a, c, d_s, d_n = given if alike else np.broadcast_arrays(*given)
    H = length + d_s + d_n  # noqa: N806
    h = length / ratio + d_s
    x = H - h
    open_line = np.hypot(H, c)
    r = a + c * h / H
    p = a - c * x / H
    sounding, behind = np.hypot(h, r), np.hypot(x, p)
    # Seen along the open string: the crown lies ``down`` under it, ``u`` from the saddle, ``v`` from the nut.
    down = a * H / open_line
    u = h * open_line / H + a * c / open_line
    v = open_line - u
    with np.errstate(invalid="ignore", divide="ignore"):
        longer = down**2 / (sounding + u) + down**2 / (behind + v)
    # At the nut itself nothing is stretched: the open string is the reference.
    stretch = np.where(ratio == 1.0, 0.0, longer / open_line)
    return StoppedLengths(H, h, x, r, p, open_line, sounding, behind, stretch)
