"""Which dimension of a design has moved, from how far the figures of what is built to it have moved.

What each dimension does to every figure comes from the instrument's own physics about the state that is wanted; each
is tried as the only one that moved. Dimensions that do the same (bridge, saddle, neck angle) are told apart by how near
they are built alone: the one of which a step of this size is most usual is the likeliest.

Source: normal linear model with one unknown for each hypothesis, marginal likelihoods against each other, A. Gelman et
al. (2013), Bayesian Data Analysis, 3rd ed., chapters 3 and 7 [memory]; the directions in the state are derived.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.physics.making.build import Build
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.state.board import board_of
from breakangle.planning.state.uncertain_value import Known
from breakangle.services.design.budget import NAMES, Budget, designed

Array = NDArray[np.float64]
DRIFT_RATIO = 3.0  # how far a dimension may drift, in the spreads it is built with; chosen
MODEL_SHARE = 0.1  # of a figure's step: how well the physics foretells it; chosen
# Root mean square of what is left, in standard deviations, past which no single dimension will do; chosen.
FARTHEST = 3.0


@dataclass(frozen=True)
class Moved:
    """One dimension as the cause: by how much it has moved (in its unit) and how likely it is the one."""

    dimension: str
    words: str
    amount: Known
    chance: float


@dataclass(frozen=True)
class Explained:
    """What may have moved, the likeliest first, and whether the likeliest explains the figures."""

    moved: tuple[Moved, ...]
    explains: bool


def moved_dimensions(service: Service, steps: Mapping[str, Known]) -> Explained:
    """Return which dimension most likely moved.

    Args:
        service: the design; its targets are what is wanted.
        steps: how far each quantity has moved, mean over its strings, in its unit; what is not named is not known.

    Raises:
        CorrectInputError: no strings that start at the nut.
    """
    budget = designed(service)
    answers = _answers(service, budget)
    names = [name for name in steps if any(name in each for each in answers.values())]
    step = np.array([steps[name].value for name in names])
    doubt = np.array([np.hypot(steps[name].uncertainty, MODEL_SHARE * steps[name].value) for name in names])
    spreads = {one.name: one.spread for one in budget.shares}
    tried = {
        dimension: _alone(
            np.array([each.get(name, 0.0) for name in names]), step, doubt, DRIFT_RATIO * spreads[dimension]
        )
        for dimension, each in answers.items()
    }
    evidence = np.array([one[1] for one in tried.values()])
    chances = np.exp(evidence - evidence.max())
    chances /= chances.sum()
    moved = [
        Moved(dimension, tr(NAMES[dimension]), amount, float(chance))
        for (dimension, (amount, _, _)), chance in zip(tried.items(), chances, strict=True)
    ]
    moved.sort(key=lambda one: -one.chance)
    return Explained(tuple(moved), tried[moved[0].dimension][2] <= FARTHEST)


def _alone(answer: Array, step: Array, doubt: Array, spread: float) -> tuple[Known, float, float]:
    """Return one dimension's move, the logarithm of how likely the steps are if it alone moved, and what is left."""
    precision = float(np.sum((answer / doubt) ** 2)) + 1.0 / spread**2
    amount = float(np.sum(answer * step / doubt**2)) / precision
    left = (step - answer * amount) / doubt
    evidence = -0.5 * (float(np.sum(left**2)) + (amount / spread) ** 2) - 0.5 * np.log(precision * spread**2)
    return Known(amount, precision**-0.5), float(evidence), float(np.sqrt(np.mean(left**2)))


def _answers(service: Service, budget: Budget) -> dict[str, dict[str, float]]:
    """Return what one unit of each dimension does to each quantity, mean over its strings, in the quantity's unit."""
    now = _as_wanted(service)
    targets = targets_of(service, now.board).wanted
    rows = sight_of(now, targets).rows
    names = [str(target_kind(one).role(one)[0]) for one in targets]
    directions = _directions(now, budget)
    return {
        dimension: {
            name: float(np.mean([row @ direction for row, at in zip(rows, names, strict=True) if at == name]))
            for name in dict.fromkeys(names)
        }
        for dimension, direction in directions.items()
    }


def _as_wanted(service: Service) -> Estimate:
    """Return the state in which every target reads what is wanted."""
    blank = service.model_copy(update={"readings": (), "work": ()})
    board = board_of(blank.instrument, blank.reference_hz)
    readings = []
    for one in targets_of(blank, board).wanted:
        kind = target_kind(one)
        readings.append(kind.as_reading(one, kind.wanted(one), kind.tolerance(one)))
    return estimate(blank.model_copy(update={"readings": tuple(readings)}))


def _directions(now: Estimate, budget: Budget) -> dict[str, Array]:
    """Return what one unit of each dimension adds to the state, (N,): heights stand over the crowns' line."""
    layout, slopes = now.picture.layout, {one.name: one.slope for one in budget.shares}
    found = {one.name: np.zeros(layout.size) for one in fields(Build)}
    for name in ("bridge_mm", "saddle_mm", "board_mm", "crown_mm", "angle_degrees"):
        found[name][layout["saddle_height"]] = slopes[name] / slopes["bridge_mm"]
    found["floor_mm"][layout["nut_height"]] = 1.0
    found["relief_mm"][layout["neck"][0]] = 1.0
    found["reach_mm"][layout["saddle_setback"]] = 1.0
    return found
