"""Whether pitch moved within a take in a way that the pluck's own glide does not explain.

A tuner slips, a new string stretches, a finger lets go slowly: pitch then moves by some cents from the pluck to the
end, or from half way on, and a fit with a glide has a pitch for it all the same. So a steady change is weighed
against the fit's rest, beside a glide that goes about as fast as the energy falls (Legge and Fletcher 1984, J. Acoust.
Soc. Am. 76, 5). How fast exactly is not known beforehand, so every rate counts as far as it is likely (Bayes on a
grid, A. Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., section 3.7 [memory]).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.measure import Pitch
from breakangle.listening.takes.evidence import Evidence
from breakangle.listening.takes.reasons import Reason, reason

FloatArray = NDArray[np.float64]

# Where nothing else is said below: calibrated by listening_honesty, on its spoiled takes.
# A good take is right to within a cent, so pitch may not move by more than that: intonation is set to 2 cents, and is
# the difference of two takes. The change counts when it is larger by twice its own standard error.
MOST_CENTS, SURE_SPREADS = 1.0, 2.0
STARTS_RATIO = (0.0, 0.5, 0.7)
PARTS, FEWEST_PARTS, FRAMES_PER_PART = 10, 8, 2
# Rate of the glide over the rate at which the energy falls: how far from 1 it is looked for, and its spread in ln.
RATE_RATIOS, LOG_RATE_SPREAD = np.geomspace(0.4, 2.5, 11), 0.5
# The glide is not quite one exponential (1 or 2 in 100 of it); a part's pitch is never known better than this.
FINEST_CENTS = 0.02


@dataclass(frozen=True)
class Change:
    """A steady change of pitch over a take, in cents, positive is sharper, and its standard error."""

    cents: float
    spread_cents: float

    @property
    def sure_cents(self) -> float:
        """How far pitch moved at least."""
        return abs(self.cents) - SURE_SPREADS * self.spread_cents


def wandered(evidence: Evidence) -> Reason | None:
    """Pitch that surely moved by more than a cent, beside the pluck's own glide."""
    change = change_of(evidence.pitch)
    if change is None or change.sure_cents < MOST_CENTS:
        return None
    return reason("wandered", False, f"{abs(change.cents):.1f}")


def change_of(pitch: Pitch) -> Change | None:
    """The surest steady change of pitch within the take; None where it is too short to tell."""
    time_s, cents, weight = pitch.track()
    count = min(PARTS, len(time_s) // FRAMES_PER_PART)
    if count < FEWEST_PARTS:
        return None
    parts = np.array_split(np.arange(len(time_s)), count)

    def means(rows: FloatArray) -> FloatArray:
        return np.stack([np.average(rows[..., part], axis=-1, weights=weight[part]) for part in parts], -1)

    rates = pitch.energy_fall_per_s * RATE_RATIOS
    glides = means(np.exp(-rates[:, None] * time_s))
    done = (time_s - time_s[0]) / (time_s[-1] - time_s[0])
    share = np.array([weight[part].sum() for part in parts])
    found = [
        _change(means(cents), glides, means(np.maximum(done - start, 0.0) / (1 - start)), share)
        for start in STARTS_RATIO
    ]
    return max(found, key=lambda one: one.sure_cents)


def _change(cents: FloatArray, glides: FloatArray, ramp: FloatArray, share: FloatArray) -> Change:
    """The size of a ramp in a take's parts, whatever the rate of the glide.

    Args:
        cents: pitch of each part, shape (parts,).
        glides: a unit glide at each rate, shape (rates, parts).
        ramp: the change, from 0 to 1, shape (parts,).
        share: weight of each part, shape (parts,).
    """
    root = np.sqrt(share / share.max())
    columns = np.broadcast_arrays(root, root * ramp, root * glides)
    design = np.stack(columns, axis=-1)
    answer, spread, left = _least_squares(design, root * cents)
    # Pitch falls after a pluck: a glide that would have it rise is none.
    rising = answer[:, 2] < 0
    if rising.any():
        without = _least_squares(design[rising, :, :2], root * cents)
        answer[rising, :2], spread[rising], left[rising] = without
    variance = max(float(left.min()) / (len(cents) - 4), FINEST_CENTS**2)
    log = -left / (2 * variance) - (np.log(RATE_RATIOS) / LOG_RATE_SPREAD) ** 2 / 2
    likely = np.exp(log - log.max())
    likely = likely / likely.sum()
    middle = float(likely @ answer[:, 1])
    total = float(likely @ (variance * spread + (answer[:, 1] - middle) ** 2))
    return Change(middle, float(np.sqrt(total)))


def _least_squares(design: FloatArray, target: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Answers of several least squares side by side, shape (fits, columns); variance of the second column's for unit
    noise, and squares left over, shape (fits,) each."""
    flipped = design.swapaxes(1, 2)
    inverse = np.linalg.inv(flipped @ design)
    answer = (inverse @ (flipped @ target)[:, :, None])[:, :, 0]
    rest = target - (design @ answer[:, :, None])[:, :, 0]
    return answer, np.asarray(inverse[:, 1, 1]), np.asarray(np.sum(rest**2, axis=1))
