"""Many necks to what a neck not seen before will answer: family, make and single neck, each by as much as they differ.

How a neck answers (`Responses`) is its make's mean and what is its own; makes scatter about the family's mean; the
family's mean is doubted as its prior says. How much makes differ and how much necks of one make differ is not known
either: both are shares of the family's own variance, weighed over a grid by how well they explain all necks together.
A fleet in which makes do not differ so is left nearly as the family has it, and a make of few specimens is drawn to
the others by just what they tell.

Source: normal hierarchical model with a prior over its spreads, A. Gelman et al. (2013), Bayesian Data Analysis, 3rd
ed., section 5.4 and appendix C [memory]; the integrals in information form are derived.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.kinds.prior import Responses

Array = NDArray[np.float64]

LEAST_NECKS = 3  # of a make before it has a prior of its own; common practice, no source
# Share of the family's variance that is doubt about its mean; calibrated by bench population.
MEAN_DOUBT = 0.04
# Shares of the family's variance that necks of a make, and makes, may differ by; chosen.
SHARES = np.geomspace(0.02, 2.0, 9)
# Both shares before any neck was seen: the middle, and the spread of their logarithms. Makes are taken to differ little
# until they show it, so that few specimens move little; calibrated by bench population.
USUAL_WITHIN, USUAL_BETWEEN, SHARE_SPREAD = 0.4, 0.04, 1.2
TINY = 1e-12  # chosen


@dataclass(frozen=True)
class Evidence:
    """What one neck tells by itself: information matrix (B, B) and its product with the mean, (B,), of its make."""

    make: str
    information: Array
    pull: Array


@dataclass(frozen=True)
class Population:
    """What many necks of one family taught.

    Attributes:
        family: what is expected of a neck of a make nobody has taught.
        makes: what is expected of a neck of each make with at least three specimens.
        necks: how many necks of each make were looked at, also of those too few.
        within_ratio: how much necks of a make differ, as a share of the family prior's variance.
        between_ratio: how much makes differ, likewise.
    """

    family: Responses
    makes: Mapping[str, Responses]
    necks: Mapping[str, int]
    within_ratio: float
    between_ratio: float

    def of(self, make: str) -> Responses:
        """Return what is expected of a neck of this make; the family's where it has too few."""
        return self.makes.get(make, self.family)


def evidence_of(make: str, neck: Responses, family: Responses) -> Evidence:
    """Return what a neck's own visits told: what is known after them less what was believed of the family before."""
    own, before = _inverse(neck.covariance), _inverse(family.covariance)
    values, vectors = np.linalg.eigh(0.5 * (own - before + (own - before).T))
    information = (vectors * np.maximum(values, 0.0)) @ vectors.T
    # About the family's mean, so that every neck's numbers are small.
    return Evidence(make, information, own @ (neck.mean - family.mean))


def population_of(necks: Sequence[Evidence], family: Responses) -> Population:
    """Return what all necks of a family taught.

    Args:
        necks: what each told.
        family: the family's own prior.
    """
    makes = sorted({one.make for one in necks})
    counts = {make: sum(one.make == make for one in necks) for make in makes}
    points = [
        _at(necks, makes, family.covariance, within, between) for within in SHARES for between in SHARES
    ]
    weight = np.array([one.log_weight for one in points])
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    shares = np.array([(one.within, one.between) for one in points])
    told = [make for make in makes if counts[make] >= LEAST_NECKS]
    return Population(
        _mixed([one.stranger for one in points], weight, family.mean),
        {make: _mixed([one.makes[make] for one in points], weight, family.mean) for make in told},
        counts,
        *(float(np.exp(weight @ np.log(column))) for column in shares.T),
    )


@dataclass(frozen=True)
class _Point:
    """The model with both shares known: how well it explains the necks, and what it expects."""

    within: float
    between: float
    log_weight: float
    stranger: tuple[Array, Array]
    makes: Mapping[str, tuple[Array, Array]]


def _at(
    necks: Sequence[Evidence], makes: Sequence[str], covariance: Array, within: float, between: float
) -> _Point:
    within_c, between_c, doubt = within * covariance, between * covariance, MEAN_DOUBT * covariance
    log_weight = _log_prior(within, USUAL_WITHIN) + _log_prior(between, USUAL_BETWEEN)
    size = len(covariance)
    told = {make: (np.zeros((size, size)), np.zeros(size)) for make in makes}
    for one in necks:
        information, pull, part = _through(one.information, one.pull, within_c)
        told[one.make] = (told[one.make][0] + information, told[one.make][1] + pull)
        log_weight += part
    raised = {}
    for make, (information, pull) in told.items():
        *raised[make], part = _through(information, pull, between_c)
        log_weight += part
    all_information = sum((one[0] for one in raised.values()), np.zeros((size, size)))
    all_pull = sum((one[1] for one in raised.values()), np.zeros(size))
    log_weight += _through(all_information, all_pull, doubt)[2]
    return _Point(
        within,
        between,
        log_weight,
        _expected(all_information, all_pull, doubt, between_c + within_c),
        {
            make: _of_make(make, told, raised, all_information, all_pull, doubt, between_c, within_c)
            for make in makes
        },
    )


def _of_make(
    make: str, told: Mapping[str, tuple[Array, Array]], raised: Mapping[str, Sequence[Array]], information: Array,
    pull: Array, doubt: Array, between: Array, within: Array,
) -> tuple[Array, Array]:  # fmt: skip
    """Return mean and covariance of a new neck of a make: the others' word of it, and its own necks'."""
    others = _expected(information - raised[make][0], pull - raised[make][1], doubt, between)
    before = _inverse(others[1])
    known = _inverse(before + told[make][0])
    return known @ (before @ others[0] + told[make][1]), known + within


def _through(information: Array, pull: Array, spread: Array) -> tuple[Array, Array, float]:
    """Return what is told of a mean by one that scatters about it by `spread`, and the logarithm of how likely."""
    mixed = np.eye(len(pull)) + information @ spread
    damped = np.linalg.solve(mixed, np.column_stack([information, pull]))
    log_likelihood = 0.5 * float(pull @ spread @ damped[:, -1]) - 0.5 * float(np.linalg.slogdet(mixed)[1])
    information = np.asarray(0.5 * (damped[:, :-1] + damped[:, :-1].T), dtype=np.float64)
    return information, np.asarray(damped[:, -1], dtype=np.float64), log_likelihood


def _expected(information: Array, pull: Array, doubt: Array, spread: Array) -> tuple[Array, Array]:
    """Return mean and covariance of one that scatters by `spread` about a mean believed within `doubt` before."""
    covariance = _inverse(_inverse(doubt) + information)
    return covariance @ pull, covariance + spread


def _mixed(parts: Sequence[tuple[Array, Array]], weight: Array, centre: Array) -> Responses:
    """Return the moments of a mixture, its mean about `centre`."""
    means, covariances = np.array([one[0] for one in parts]), np.array([one[1] for one in parts])
    mean = weight @ means
    apart = means - mean
    covariance = np.einsum("g,gij->ij", weight, covariances) + (weight[:, None] * apart).T @ apart
    return Responses(centre + mean, 0.5 * (covariance + covariance.T))


def _log_prior(share: float, usual: float) -> float:
    return -0.5 * float((np.log(share / usual) / SHARE_SPREAD) ** 2)


def _inverse(matrix: Array) -> Array:
    return np.asarray(np.linalg.inv(matrix + TINY * np.eye(len(matrix))))
