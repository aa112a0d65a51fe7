"""Which figures were likely meant in another unit than the one they stand in, everything else read taken into account.

Each number is weighed in every unit it could have been typed in: how probable the length would be there before
anything is read, given the figures whose unit nobody can doubt, and whether such a figure is written so in that unit.
Nothing is converted: what is doubted is asked.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from breakangle.model.service import Service
from breakangle.model.words.unit_said import UNIT
from breakangle.planning.estimate.units_doubted.figures import Figure, Stage, expectation, figures_of
from breakangle.planning.estimate.units_doubted.likelihood import (
    UNIT_MM,
    Expectation,
    Graduations,
    graduations_seen,
    likelihood,
)
from breakangle.planning.state.layout import Belief

# Where nothing else is said below: common practice, no source.
ASK_FROM = 10.0  # times likelier in another unit
CERTAIN_FROM = 1000.0
# One figure that is certainly in another unit makes the others of its sheet that much likelier to be in it too.
SUSPECT_RATIO = 30.0
# Once one figure of a sheet is doubted, or was said to be in another unit, an unmarked one is asked about as soon as it
# is at least as likely in another unit.
ASK_BESIDE_DOUBTED_FROM = 1.0
# Nobody types bare thousandths or 64ths where mm are asked for as readily as inches. Common practice, no source.
READINESS = {"mm": 1.0, "in": 1.0, "thou": 0.3, "64ths": 0.3}
SIXTY_FOURTHS = (1.0, 24.0)  # an action, counted on a ruler
THOUSANDTHS = (1.0, 250.0)


@dataclass(frozen=True)
class Doubted:
    """A figure whose unit is doubted: in `unit` it would be `meant_mm`, `ratio` times likelier than as it stands.

    `slip_mm` is what it would be with its decimal point one place on, where that is far likelier than as it stands too.
    """

    figure: Figure
    unit: str
    meant_mm: float
    ratio: float
    slip_mm: float | None = None


def doubted_figures(service: Service, prior: Belief, understood: str = "mm") -> tuple[Doubted, ...]:
    """Return the figures whose unit is doubted, the most certain first; those still unanswered are always among them.

    Args:
        service: the service; figures whose unit was said are weighed as known.
        prior: what is believed of its instrument before anything is read.
        understood: the unit that bare numbers were taken in, `mm` or `in`; the service holds mm either way.
    """
    figures, stages = figures_of(service, prior)
    one_mm = UNIT_MM[understood]
    numbers = [one.number / one_mm for one in figures]
    first = [
        _weighed(one, number, one.expected, understood, {})
        for one, number in zip(figures, numbers, strict=True)
    ]
    if not any(one.open for one in figures) and all(
        best is None or best[1] * SUSPECT_RATIO < 1.0 for best in first
    ):
        return ()
    return _second_look(figures, numbers, stages, first, understood)


def _second_look(
    figures: Sequence[Figure],
    numbers: Sequence[float],
    stages: Sequence[Stage],
    first: Sequence[tuple[str, float] | None],
    understood: str,
) -> tuple[Doubted, ...]:
    """Return what is doubted once the figures whose unit is certain have been taken into account."""
    certain = dict(_certain(figures, first, understood))
    by_unit = {
        unit: graduations_seen(unit, [numbers[at] for at, own in certain.items() if own == unit])
        for unit in UNIT_MM
    }
    others = set(certain.values()) - {understood}
    as_it_stands = sum(own == understood and figures[at].reading is not None for at, own in certain.items())
    beside = _beside(figures, numbers, stages, certain)
    weighed = [_weighed(one, numbers[at], beside[at], understood, by_unit) for at, one in enumerate(figures)]
    counted = _counted_on_a_ruler(figures, weighed)
    found, likely = [], []
    suspect = any(one.open or _said_otherwise(one, understood) for one in figures)
    for at, one in enumerate(figures):
        best = counted.get(at, weighed[at])
        if one.said or best is None:
            continue
        unit, ratio = best
        as_likely = ratio >= ASK_BESIDE_DOUBTED_FROM
        if unit in others:
            ratio *= SUSPECT_RATIO
        elif not one.expected.sized or unit == "64ths":
            ratio /= (1.0 + as_it_stands) ** 0.5
        doubt = Doubted(one, unit, numbers[at] * UNIT_MM[unit], ratio, _slip_mm(one, beside[at]))
        if one.open or ratio >= ASK_FROM:
            found.append(doubt)
        elif as_likely:
            likely.append(doubt)
    if suspect or found:
        found += likely
    return tuple(sorted(found, key=lambda one: -one.ratio))


def _slip_mm(one: Figure, expected: Expectation) -> float | None:
    """Return a reading with its decimal point one place on, in mm; None where that is not far likelier."""
    if one.reading is None or one.number <= 0.0:
        return None
    slip_mm = one.number / 10.0
    return slip_mm if expected.density(slip_mm) >= ASK_FROM * expected.density(one.number) else None


def _said_otherwise(one: Figure, understood: str) -> bool:
    """Return whether a person said that this reading is in another unit than bare numbers were taken in."""
    unit = None if one.reading is None else (one.reading.model_extra or {}).get(UNIT)
    return unit in UNIT_MM and unit != understood


def _weighed(
    one: Figure,
    number: float,
    expected: Expectation,
    understood: str,
    by_unit: dict[str, Graduations],
) -> tuple[str, float] | None:
    """Return the likeliest other unit and how many times likelier it is; None where no other is possible."""
    if number == 0.0 or (number < 0.0 and not expected.signed):
        return ("in" if understood == "mm" else "mm", 0.0) if one.open else None
    stands = likelihood(number, understood, expected, by_unit.get(understood))
    found = [
        (unit, READINESS[unit] * likelihood(number, unit, expected, by_unit.get(unit)) / stands)
        for unit in _possible(number, expected, understood)
    ]
    return max(found, key=lambda each: each[1])


def _counted_on_a_ruler(
    figures: Sequence[Figure], weighed: Sequence[tuple[str, float] | None]
) -> dict[int, tuple[str, float]]:
    """Return what speaks for 64ths where every action of the sheet is a whole number: together more than each alone.

    Several are weighed as the square root of their number, since one instrument's actions are high or low together.
    """
    actions = [at for at, one in enumerate(figures) if one.reading is not None and one.expected.sized]
    told = [each for at in actions if (each := weighed[at]) is not None and each[0] == "64ths"]
    if len(told) < 2 or len(told) != len(actions):
        return {}
    mean = sum(log(max(ratio, 1e-300)) for _, ratio in told) / len(told)
    return {at: ("64ths", exp(min(mean * sqrt(len(told)), 600.0))) for at in actions}


def _possible(number: float, expected: Expectation, understood: str) -> list[str]:
    found = ["in" if understood == "mm" else "mm"]
    if expected.signed or understood != "mm":
        return found
    whole = abs(number * 2.0 - round(number * 2.0)) < 1e-9
    if expected.sized and whole and SIXTY_FOURTHS[0] <= number <= SIXTY_FOURTHS[1]:
        found.append("64ths")
    if whole and THOUSANDTHS[0] <= number <= THOUSANDTHS[1]:
        found.append("thou")
    return found


def _certain(
    figures: Sequence[Figure], first: Sequence[tuple[str, float] | None], understood: str
) -> list[tuple[int, str]]:
    """Return which figures' unit is beyond doubt, and which it is."""
    found = []
    for at, (one, best) in enumerate(zip(figures, first, strict=True)):
        if one.open or best is None:
            continue
        if one.said or best[1] <= 1.0 / CERTAIN_FROM:
            found.append((at, understood))
        elif best[1] >= CERTAIN_FROM:
            found.append((at, best[0]))
    return found


def _beside(
    figures: Sequence[Figure], numbers: Sequence[float], stages: Sequence[Stage], certain: dict[int, str]
) -> list[Expectation]:
    """Return what each figure should be given the certain ones of its stage; without any, as before."""
    found = [one.expected for one in figures]
    for number, stage in enumerate(stages):
        here = [at for at, one in enumerate(figures) if one.group == number]
        known = [at for at in here if at in certain and numbers[at] > 0.0]
        open_ = [at for at in here if at not in certain]
        if not known or not open_:
            continue
        rows, others = [figures[at].row for at in known], [figures[at].row for at in open_]
        read = np.array([numbers[at] * UNIT_MM[certain[at]] for at in known])
        gain = np.linalg.solve(stage.covariance[np.ix_(rows, rows)], stage.covariance[np.ix_(rows, others)]).T
        mean = stage.mean[others] + gain @ (read - stage.mean[rows])
        left = stage.covariance[np.ix_(others, others)] - gain @ stage.covariance[np.ix_(rows, others)]
        for place, at in enumerate(open_):
            found[at] = expectation(float(mean[place]), float(np.sqrt(max(left[place, place], 1e-4))))
    return found
