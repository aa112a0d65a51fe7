"""Whether a string has settled: how far its pitch fell with each stretch."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from breakangle.model.words.speech import tr

# Common practice, no source.
TOLERANCE_CENTS = 2.0


@dataclass(frozen=True)
class Settling:
    """How a string took its stretching.

    Attributes:
        drift_cents: change of pitch over each stretch, the first included, negative is flatter; shape
            (stretches,).
        settled: whether the last two stretches each moved it by less than the tolerance.
        words: that, in a sentence.
    """

    drift_cents: tuple[float, ...]
    settled: bool
    words: str


def settling(pitches_hz: Sequence[Sequence[float]], tolerance_cents: float = TOLERANCE_CENTS) -> Settling:
    """How a string settles from its pitch before the first stretch and after each one.

    Args:
        pitches_hz: a group of plucks before the first stretch, and one after each stretch, in order.
        tolerance_cents: change over one stretch that counts as none.
    """
    middles = [float(np.median(group)) for group in pitches_hz if len(group)]
    steps = pairwise(middles)
    drift = tuple(1200 * float(np.log2(after / before)) for before, after in steps)
    if len(drift) < 2:
        return Settling(drift, False, tr("not enough to tell: stretch, pluck, and do so at least twice"))
    settled = all(abs(change) <= tolerance_cents for change in drift[-2:])
    last = abs(drift[-1])
    if settled:
        return Settling(
            drift,
            True,
            tr(
                "settled: the last two stretches moved it by at most {tolerance_cents:g} cents",
                tolerance_cents=tolerance_cents,
            ),
        )
    return Settling(
        drift,
        False,
        tr("not settled: the last stretch moved it by {last:.1f} cents, stretch again", last=last),
    )
