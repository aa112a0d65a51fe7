"""Many necks to what a neck not seen before will answer: family, make, year and single neck, each as they differ.

How a neck answers (`Responses`; saddles and crowns go the same way) is its make's mean, what the make did in its year,
and what is its own; makes scatter about the family's mean; the family's mean is doubted as its prior says. How much
makes, years of a make and necks of one year differ is not known either: each is a share of the family's own variance,
weighed over a grid by how well they explain all necks together. Where no make has two years, years are left out.
A fleet in which makes do not differ so is left nearly as the family has it, and a make of few specimens is drawn to
the others by just what they tell.

Source: normal hierarchical model with a prior over its spreads, A. Gelman et al. (2013), Bayesian Data Analysis, 3rd
ed., section 5.4 and appendix C [memory]; the integrals in information form are derived.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.kinds.prior import Responses

Array = NDArray[np.float64]
Told = tuple[Array, Array]  # a mean and its covariance; or, of what was told, information and pull

LEAST_NECKS = 3  # of a make before it has a prior of its own; common practice, no source
# Share of the family's variance that is doubt about its mean; calibrated by bench population.
MEAN_DOUBT = 0.04
# Shares of the family's variance that necks of a make, and makes, may differ by; chosen.
SHARES = np.geomspace(0.02, 2.0, 9)
# Both shares before any neck was seen: the middle, and the spread of their logarithms. Makes are taken to differ little
# until they show it, so that few specimens move little; calibrated by bench population.
USUAL_WITHIN, USUAL_BETWEEN, SHARE_SPREAD = 0.4, 0.04, 1.2
# Years of a make are believed in as slowly as makes, on a coarser grid; chosen.
USUAL_YEARS = USUAL_BETWEEN
YEAR_SHARES = SHARES[::2]  # chosen
TINY = 1e-12  # chosen


@dataclass(frozen=True)
class Evidence:
    """What one neck tells by itself: information matrix (B, B) and its product with the mean, (B,); whose it is."""

    make: str
    information: Array
    pull: Array
    year: str = ""


@dataclass(frozen=True)
class Population:
    """What many necks of one family taught.

    Attributes:
        family: what is expected of a neck of a make nobody has taught.
        makes: what is expected of a neck of each make with at least three specimens.
        necks: how many necks of each make were looked at, also of those too few.
        within_ratio: how much necks of a make and year differ, as a share of the family prior's variance.
        between_ratio: how much makes differ, likewise.
        years: what is expected of a neck of each make and year with at least three specimens.
        years_necks: how many necks of each make and year were looked at.
        years_ratio: how much years of a make differ, likewise; 0 where no make has two.
    """

    family: Responses
    makes: Mapping[str, Responses]
    necks: Mapping[str, int]
    within_ratio: float
    between_ratio: float
    years: Mapping[tuple[str, str], Responses] = field(default_factory=dict)
    years_necks: Mapping[tuple[str, str], int] = field(default_factory=dict)
    years_ratio: float = 0.0

    def of(self, make: str, year: str = "") -> Responses:
        """Return what is expected of a neck of this make and year; its make's or the family's where too few."""
        return self.years.get((make, year)) or self.makes.get(make, self.family)


def evidence_of(make: str, neck: Responses, family: Responses, year: str = "") -> Evidence:
    """Return what a neck's own visits told: what is known after them less what was believed of the family before."""
    own, before = _inverse(neck.covariance), _inverse(family.covariance)
    values, vectors = np.linalg.eigh(0.5 * (own - before + (own - before).T))
    information = (vectors * np.maximum(values, 0.0)) @ vectors.T
    # About the family's mean, so that every neck's numbers are small.
    return Evidence(make, information, own @ (neck.mean - family.mean), year)


def population_of(necks: Sequence[Evidence], family: Responses) -> Population:
    """Return what all necks of a family taught.

    Args:
        necks: what each told.
        family: the family's own prior.
    """
    makes = Counter(one.make for one in necks)
    years = Counter((one.make, one.year) for one in necks)
    told = [make for make in sorted(makes) if makes[make] >= LEAST_NECKS]
    split = [both for both in sorted(years) if both[1] and years[both] >= LEAST_NECKS]
    several = any(count > 1 for count in Counter(make for make, year in years if year).values())
    yearly = YEAR_SHARES if several else (0.0,)
    points = []
    for within in SHARES:
        base = _by_year(necks, within, family.covariance)
        points += [
            _at(base, family.covariance, within, year, between) for year in yearly for between in SHARES
        ]
    weight = np.array([one.log_weight for one in points])
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()

    def shared(name: str) -> float:
        return float(np.exp(weight @ np.log([getattr(one, name) for one in points])))

    return Population(
        _mixed([one.stranger for one in points], weight, family.mean),
        {make: _mixed([one.makes[make] for one in points], weight, family.mean) for make in told},
        dict(makes),
        shared("within"),
        shared("between"),
        {both: _mixed([one.years[both] for one in points], weight, family.mean) for both in split},
        {both: years[both] for both in split},
        shared("years_share") if several else 0.0,
    )


@dataclass(frozen=True)
class _Point:
    """The model with all shares known: how well it explains the necks, and what it expects."""

    within: float
    years_share: float
    between: float
    log_weight: float
    stranger: Told
    makes: Mapping[str, Told]
    years: Mapping[tuple[str, str], Told]


@dataclass(frozen=True)
class _Base:
    """What necks tell of the mean of their make's year, and how likely they are about it."""

    told: Mapping[tuple[str, str], Told]
    log_weight: float


def _by_year(necks: Sequence[Evidence], within: float, covariance: Array) -> _Base:
    size, log_weight = len(covariance), _log_prior(within, USUAL_WITHIN)
    told: dict[tuple[str, str], Told] = {}
    for one in necks:
        information, pull, part = _through(one.information, one.pull, within * covariance)
        before = told.get((one.make, one.year), (np.zeros((size, size)), np.zeros(size)))
        told[one.make, one.year] = (before[0] + information, before[1] + pull)
        log_weight += part
    return _Base(told, log_weight)


def _at(base: _Base, covariance: Array, within: float, years: float, between: float) -> _Point:
    doubt, spread = (
        MEAN_DOUBT * covariance,
        _Spreads(within * covariance, years * covariance, between * covariance),
    )
    log_weight = base.log_weight + _log_prior(between, USUAL_BETWEEN)
    log_weight += _log_prior(years, USUAL_YEARS) if years else 0.0
    upward, of_make, log_weight = _raised(base.told, spread.years, lambda both: both[0], log_weight)
    raised, of_all, log_weight = _raised(of_make, spread.between, lambda make: "", log_weight)
    everything = of_all.get("", (np.zeros_like(covariance), np.zeros(len(covariance))))
    log_weight += _through(*everything, doubt)[2]
    means = {make: _mean_of(make, of_make, raised, everything, doubt, spread.between) for make in of_make}
    by_year = {}
    for (make, year), told in base.told.items():
        others = _without(of_make[make], upward[make, year])
        before = _scattered(
            _mean_of(make, {make: others}, raised, everything, doubt, spread.between), spread.years
        )
        by_year[make, year] = _scattered(_with(before, told), spread.within)
    return _Point(
        within, years, between, log_weight,
        _expected(*everything, doubt, spread.between + spread.years + spread.within),
        {make: _scattered(one, spread.years + spread.within) for make, one in means.items()}, by_year,
    )  # fmt: skip


@dataclass(frozen=True)
class _Spreads:
    """How necks of a year, years of a make, and makes scatter, as covariances (B, B)."""

    within: Array
    years: Array
    between: Array


def _raised(
    told: Mapping[Any, Told], spread: Array, above: Callable[[Any], Any], log_weight: float
) -> tuple[dict[Any, Told], dict[Any, Told], float]:
    """Return what each group tells of the mean above it, that summed by what is above, and how likely it is."""
    raised, summed = {}, dict[Any, Told]()
    for key, one in told.items():
        information, pull, part = _through(*one, spread)
        raised[key] = (information, pull)
        before = summed.get(above(key), (np.zeros_like(information), np.zeros_like(pull)))
        summed[above(key)] = (before[0] + information, before[1] + pull)
        log_weight += part
    return raised, summed, log_weight


def _mean_of(
    make: str,
    told: Mapping[str, Told],
    raised: Mapping[str, Told],
    everything: Told,
    doubt: Array,
    between: Array,
) -> Told:
    """Return mean and covariance of a make's own mean: the others' word of it, and what its own necks told."""
    return _with(_expected(*_without(everything, raised[make]), doubt, between), told[make])


def _without(all_of_them: Told, one: Told) -> Told:
    return all_of_them[0] - one[0], all_of_them[1] - one[1]


def _with(before: Told, told: Told) -> Told:
    """Return mean and covariance after what was told: information and pull."""
    information = _inverse(before[1])
    known = _inverse(information + told[0])
    return known @ (information @ before[0] + told[1]), known


def _scattered(one: Told, spread: Array) -> Told:
    """Return mean and covariance of what scatters by `spread` about one."""
    return one[0], one[1] + spread


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
