"""What fret work rests on: which crowns and figures were read, and how much metal there is to take from."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.levelled import metal_since_mm
from breakangle.planning.estimate.own_parts import crowns_standing
from breakangle.planning.estimate.reading_state import roles_read
from breakangle.planning.kinds.readings.crown_height import USUAL_MM, CrownHeight
from breakangle.planning.levelling.plan import Crowns

# Where nothing else is said below: common practice, no source.
USUAL_WIDTH_MM = 2.3  # a crown's foot, of wires in use
FIGURES = ("relief", "action")  # what must have been read before a crown is filed


def crowns_there(service: Service, now: Estimate) -> tuple[Crowns, bool]:
    """Return how high every crown stands now, read or as others were read, and whether any was read."""
    board = now.board
    shape = (board.string_count, board.fret_count)
    off = metal_since_mm(board, service.work, 0)
    read = [one for one in service.readings if isinstance(one, CrownHeight)]
    if not read:
        return Crowns(USUAL_MM - off, USUAL_WIDTH_MM), False
    # Each as it was before any metal came off, so that readings before and after count alike.
    at = [(one.string - 1, one.fret - 1) for one in read]
    whole = [
        one.mm + float((off - metal_since_mm(board, service.work, one.after))[place])
        for one, place in zip(read, at, strict=True)
    ]
    height = np.full(shape, float(np.median(whole)))
    for fret in {fret for _, fret in at}:
        height[:, fret] = np.mean([mm for mm, place in zip(whole, at, strict=True) if place[1] == fret])
    for mm, place in zip(whole, at, strict=True):
        height[place] = mm
    return Crowns(height - off, USUAL_WIDTH_MM), True


def crowns_told(service: Service, now: Estimate) -> NDArray[np.bool_]:
    """Return which crowns a reading that still stands tells of, shape (S, F)."""
    shape = (now.board.string_count, now.board.fret_count)
    found = np.zeros(shape, dtype=bool)
    for one in crowns_standing(service.readings, now.picture, service.work):
        found[one.string - 1, one.fret - 1] = True
    ends = found.any(axis=1)
    # A dial is zero at the first and the last crown: where a string was run, both are read.
    dialled = ends & (found.sum(axis=1) >= shape[1] - 2)
    found[dialled] = True
    return found


def figures_missing(readings: Sequence[Reading], done: int) -> tuple[str, ...]:
    """Return which of relief and action nobody has read since the last of the work."""
    read = {role[0] for one in readings if one.after == done for role in roles_read(one)}
    return tuple(one for one in FIGURES if one not in read)
