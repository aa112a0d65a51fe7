"""Which crown a buzzing string strikes, from the partials that its blows add to.

A blow at the share x of the length adds to partial n in proportion to |sin(n π x)|: partials with a node there get
nothing. How loud a partial is at the pluck tells how body, pickup and microphone colour it, but for the comb of the
pluck itself, which is looked for at the same time. A crown and its mirror image about the middle of the string sound
alike.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.buzz.heard import Buzz

FloatArray = NDArray[np.float64]

# Where nothing else is said below: calibrated by `python -m bench listening_buzz`, on strings by finite differences.
PLUCKS = np.linspace(0.05, 0.45, 61)
SHALLOWEST = 0.02
SCATTER_DB, TOGETHER = 4.5, 0.5
LEAST_PARTIALS = 8


@dataclass(frozen=True)
class Place:
    """How likely each crown is the one that is struck: frets, and their chances, which add up to 1; likeliest first."""

    frets: tuple[int, ...]
    chances: tuple[float, ...]

    @property
    def fret(self) -> int:
        """The likeliest."""
        return self.frets[0]


def place_of(buzz: Buzz, frets: Sequence[int], share: FloatArray) -> Place | None:
    """Which crown is struck; None where too few partials tell.

    Args:
        buzz: what was heard.
        frets: crowns beyond the stop.
        share: where each is, from the stop, over the sounding length, shape (frets,).
    """
    if len(buzz.order) < LEAST_PARTIALS or not len(frets):
        return None
    n, gain = np.array(buzz.order, dtype=float), np.array(buzz.gain_db)
    rest = gain - _comb_db(share, n)[:, None, :] + _comb_db(PLUCKS, n)[None, :, :]
    z = (n - n.mean()) / n.std()
    trend, _ = np.linalg.qr(np.stack([np.ones_like(z), z, z**2], axis=1))
    rest = rest - (rest @ trend) @ trend.T
    log = -TOGETHER * np.abs(rest).sum(axis=2) / SCATTER_DB
    weight = np.exp(log - log.max()).sum(axis=1)
    order = np.argsort(-weight, kind="stable")
    return Place(
        tuple(int(frets[at]) for at in order), tuple(float(weight[at] / weight.sum()) for at in order)
    )


def _comb_db(share: FloatArray, order: FloatArray) -> FloatArray:
    """What a place does to each partial, in dB, shape (places, partials)."""
    return np.asarray(10 * np.log10(np.sin(np.pi * np.outer(share, order)) ** 2 + SHALLOWEST))
