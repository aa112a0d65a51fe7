"""Where a string was plucked, from the comb that the place of the pluck leaves in the spectrum.

A pluck at the share p of the length gives partial n in proportion to |sin(n π p)|: partials with a node there are
missing. A pickup leaves a comb of its own, and body, room and microphone colour every partial, by amounts nobody knows;
so every place counts as far as it is likely, a pickup anywhere or none, and the colour is taken as scatter with a heavy
tail. Sources: Traube and Depalle (2003), "Extraction of the excitation point location on a string using weighted
least-square estimation of a comb filter delay", Proc. DAFx-03; Penttinen and Välimäki (2004), "A time-domain approach
to estimating the plucking point of guitar tones", Applied Acoustics 65, 1207 (both from memory; here on levels alone).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Where nothing else is said below: calibrated by `python -m bench listening_strokes`, on strings by finite differences.
PLACES = np.linspace(0.03, 0.5, 142)
PICKUPS = np.linspace(0.03, 0.35, 33)
# A comb is never deeper than this: a plectrum has width, and nobody plucks exactly on a node.
SHALLOWEST = 0.03
COLOUR_NEPERS, FREEDOM = 0.5, 4.0
SLOPE, SLOPE_SPREAD = -1.0, 0.6
PICKUP_CHANCE = 0.5


@dataclass(frozen=True)
class PluckPoint:
    """Where the pluck was, as a share of the length from the nearer end, with how likely every place is.

    Attributes:
        share: places looked at, shape (places,).
        chance: how likely each is, adding up to 1, shape (places,).
    """

    share: FloatArray
    chance: FloatArray

    @property
    def middle(self) -> float:
        """The likely place, as a share of the length."""
        return float(self.chance @ self.share)

    @property
    def spread(self) -> float:
        """Standard uncertainty of the place, as a share of the length."""
        return float(np.sqrt(self.chance @ (self.share - self.middle) ** 2))

    def of(self, values: FloatArray) -> tuple[float, float]:
        """Mean and standard deviation of what follows from the place, `values` at each, shape (places,)."""
        mean = float(self.chance @ values)
        return mean, float(np.sqrt(self.chance @ (values - mean) ** 2))


def known_point(share: float, spread: float) -> PluckPoint:
    """A place that somebody measured or told, as a share of the length, with its standard uncertainty."""
    chance = np.exp(-0.5 * ((PLACES - min(share, 1 - share)) / max(spread, 2e-3)) ** 2) + 1e-300
    return PluckPoint(PLACES, np.asarray(chance / chance.sum()))


def pluck_point(order: FloatArray, amplitude: FloatArray, usual: float, usual_spread: float) -> PluckPoint:
    """Where a string was plucked, from its partials at the pluck.

    Args:
        order: numbers of the partials, shape (partials,).
        amplitude: their size at the pluck, in any unit, shape (partials,).
        usual: where it is usually plucked, as a share of the length.
        usual_spread: standard deviation of the logarithm of that.
    """
    level = np.log(np.maximum(amplitude, 1e-30))
    place = _comb(order, PLACES)
    pickup = np.concatenate([np.zeros((1, len(order))), _comb(order, PICKUPS)])
    rest = level - place[:, None, :] - pickup[None, :, :]
    likely = _likelihood(rest, np.log(order))
    chance = np.full(len(pickup), PICKUP_CHANCE / len(PICKUPS))
    chance[0] = 1 - PICKUP_CHANCE
    prior = -0.5 * (np.log(PLACES / min(usual, 1 - usual)) / usual_spread) ** 2
    log = likely + np.log(chance) + prior[:, None]
    weight = np.exp(log - log.max()).sum(axis=1)
    return PluckPoint(PLACES, np.asarray(weight / weight.sum()))


def _comb(order: FloatArray, places: FloatArray) -> FloatArray:
    """Nepers that a place gives to each partial, shape (places, partials)."""
    depth = np.sin(np.pi * np.outer(places, order)) ** 2 + SHALLOWEST**2
    return np.asarray(0.5 * np.log(depth))


def _likelihood(rest: FloatArray, log_order: FloatArray) -> FloatArray:
    """Log likelihood of levels left over by the combs, shape (places, pickups): a line in ln n with scatter.

    Source: Lange, Little and Taylor (1989), J. Am. Stat. Assoc. 84, 881: t weights, three rounds of them.
    """
    x = log_order - log_order.mean()
    weight = np.ones_like(rest)
    for _ in range(3):
        total = weight.sum(axis=-1, keepdims=True)
        mean_x = (weight * x).sum(axis=-1, keepdims=True) / total
        mean = (weight * rest).sum(axis=-1, keepdims=True) / total
        ridge = (COLOUR_NEPERS / SLOPE_SPREAD) ** 2
        pull = (weight * (x - mean_x) * (rest - mean)).sum(axis=-1, keepdims=True)
        slope = (pull + ridge * SLOPE) / ((weight * (x - mean_x) ** 2).sum(axis=-1, keepdims=True) + ridge)
        left = (rest - mean - slope * (x - mean_x)) / COLOUR_NEPERS
        weight = (FREEDOM + 1) / (FREEDOM + left**2)
    held = ((slope[..., 0] - SLOPE) / SLOPE_SPREAD) ** 2
    return np.asarray(-0.5 * (FREEDOM + 1) * np.log1p(left**2 / FREEDOM).sum(axis=-1) - 0.5 * held)
