"""Which one more reading would tell most about what is wanted."""

import numpy as np

from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.planning.estimate import Estimate
from breakangle.planning.registry import reading_kind, reading_kinds
from breakangle.planning.sight import Sight

WORTH_ASKING = 0.05  # tolerances² of doubt removed; less is not worth a gauge in the hand


def _doubt(share: np.ndarray) -> float:
    """Return how much doubt these spreads (in tolerances) leave; past a tolerance and a half it is all one."""
    return float(np.sum(np.minimum(share, 1.5) ** 2))


def read_next(service: Service, now: Estimate, sight: Sight) -> Reading | None:
    """Return the reading, with its expected value, that would remove most doubt; None if none is worth it."""
    if not len(sight.targets):
        return None
    instrument, picture = now.board.instrument, now.picture
    cross = sight.rows @ now.belief.covariance
    before = _doubt(sight.spread / sight.tolerance)
    best: tuple[float, Reading | None] = (WORTH_ASKING, None)
    for kind in reading_kinds().values():
        asked = list(kind.candidates(instrument))
        if not asked:
            continue
        found = kind.predict(asked, picture)
        noise = kind.gauge_spread**2 + found.unexplained**2
        own = np.einsum("ri,ij,rj->r", found.rows, now.belief.covariance, found.rows)
        shared = cross @ found.rows.T
        left = np.sqrt(np.maximum(sight.spread[:, None] ** 2 - shared**2 / (own + noise), 0.0))
        for index, reading in enumerate(asked):
            removed = before - _doubt(left[:, index] / sight.tolerance)
            if removed > best[0]:
                shown = kind.shown(reading, float(found.values[index]), float(np.sqrt(own[index])))
                best = (removed, shown)
    chosen = best[1]
    return None if chosen is None else chosen.model_copy(update={"after": len(service.work)})


def asked_in_words(reading: Reading) -> str:
    """Return the reading to take, in words."""
    return reading_kind(reading).place(reading)
