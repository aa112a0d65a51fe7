"""A floating bridge's balance with how well it is known: arms and springs as told, else as usual."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.words.speech import tr
from breakangle.physics.bridge import floating_bridge as balance
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import Prior
from breakangle.reference.floating import usual_floating

Array = NDArray[np.float64]
# Where nothing else is said below: chosen: how the computation goes, nothing of an instrument.
DRAWS, SEED = 20_000, 11
FARTHEST_SPREADS, LEAST_RATIO = 2.5, 0.2  # no draw farther out, no arm or rate below this share of its middle
CREST_RATIO = 0.03  # friction at the edges, of the springs' force; common practice, no source


@dataclass(frozen=True)
class FloatingBridge:
    """Arms in mm from the knife edges, all springs' rate in N/mm together; None: what is usual."""

    string_arm_mm: Known | None = None
    spring_arm_mm: Known | None = None
    saddle_back_mm: Known | None = None
    spring_count: int | None = None
    spring_rate_n_per_mm: Known | None = None  # of one spring


@dataclass(frozen=True)
class FloatingBalance:
    """What a change of pull does to the balance.

    `force_before_n`, `force_after_n`: of all springs. `claw_travel_mm`: to stand level again, positive
    tightens. `rise_if_left_mm` and `forward_if_left_mm`: what the saddles do if the claw is left alone and
    the strings are tuned to pitch again: up, and toward the nut. `assumed`: what was not told, in words.
    """

    force_before_n: Known
    force_after_n: Known
    claw_travel_mm: Known
    rise_if_left_mm: Known
    forward_if_left_mm: Known
    assumed: tuple[str, ...]


def floating_balance(
    before_n: Known, after_n: Known, change_n: Known, told: FloatingBridge
) -> FloatingBalance:
    """Return what the strings' change of pull does to a floating bridge.

    Arms and springs are drawn from what is told, or usual, of them.
    """
    usual, assumed = usual_floating(), []

    def one(value: Known | None, prior: Prior, words: str) -> Known:
        if value is not None:
            return value
        assumed.append(f"{words} {prior.mean:g} ± {2 * prior.sd:g}")
        return Known(prior.mean, prior.sd)

    count = told.spring_count
    if count is None:
        count = usual.spring_count
        assumed.append(tr("{count} springs", count=count))
    parts = (
        change_n,
        one(told.string_arm_mm, usual.string_arm_mm, tr("strings above the knife edges by, mm:")),
        one(told.spring_arm_mm, usual.spring_arm_mm, tr("springs below them by, mm:")),
        one(told.saddle_back_mm, usual.saddle_back_mm, tr("saddles behind them by, mm:")),
        one(told.spring_rate_n_per_mm, usual.rate_n_per_mm, tr("rate of one spring, N/mm:")),
    )
    travel = _known(lambda x: _moves(x, count)[0], parts)
    rise = _known(lambda x: _moves(x, count)[1], parts)
    forward = _known(lambda x: _moves(x, count)[2], parts)
    forces = []
    for pull in (before_n, after_n):
        force = _known(lambda x: x[0] * x[1] / x[2], (pull, *parts[1:]))
        forces.append(Known(force.value, math.hypot(force.uncertainty, CREST_RATIO * force.value)))
    return FloatingBalance(forces[0], forces[1], travel, rise, forward, tuple(assumed))


def _moves(parts: Array, count: int) -> tuple[Array, Array, Array]:
    """Return claw travel, and rise and forward movement if it is left, in mm, for each draw."""
    change, string_arm, spring_arm, saddle_back, rate = parts
    force = balance.spring_force_n(string_pull_n=change, string_arm_mm=string_arm, spring_arm_mm=spring_arm)
    travel = balance.claw_travel_mm(force_change_n=force, spring_rate_n_per_mm=count * rate)
    rise = balance.saddle_rise_mm(claw_travel_mm=travel, spring_arm_mm=spring_arm, saddle_back_mm=saddle_back)
    forward = balance.saddle_forward_mm(
        claw_travel_mm=travel, spring_arm_mm=spring_arm, string_arm_mm=string_arm
    )
    return travel, rise, forward


def _known(of: Callable[[Array], Array], parts: tuple[Known, ...]) -> Known:
    """Return `of` of the parts with the spread that theirs give it: springs may be half as stiff as usual, and
    one over a spread rate leans to the far side, so it is drawn and not differentiated.
    """
    chance = np.random.default_rng(SEED).normal(size=(len(parts), DRAWS))
    chance = np.clip(chance, -FARTHEST_SPREADS, FARTHEST_SPREADS)
    values = np.array([[one.value] for one in parts]) + chance * np.array(
        [[one.uncertainty] for one in parts]
    )
    arms = np.array([[one.value] for one in parts[1:]])
    values[1:] = np.maximum(values[1:], LEAST_RATIO * arms)
    found = of(values)
    return Known(float(np.mean(found)), float(np.std(found)))
