"""A design's tolerance budget by simulation: builds drawn as near as they are built, and what becomes of their action.

Beside the slopes of `services/design/budget.py`: what each dimension does by itself over the builds, how many builds
are right as they leave the bench, and how many once saddle heights have taken up what they reach.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.physics.making.build import Build, action_mm, drawn_builds
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.state.board import Board, board_of
from breakangle.services.design.budget import BUILDS, SEED, Budget, designed, octave_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Simulated:
    """A design's builds.

    Attributes:
        budget: the design with its budget by slopes.
        builds: how many were drawn.
        spread_mm: standard deviation of the action over them, mm.
        shares: of each dimension, the variance of the action where it alone is drawn, over that where all are.
        tolerance_mm: how far from what is wanted the action is still right, mean over the strings, mm.
        as_built: share of the builds that are right with nothing adjusted.
        adjusted: share that are right once the saddles have moved within their travel; None where that is not known.
    """

    budget: Budget
    builds: int
    spread_mm: float
    shares: Mapping[str, float]
    tolerance_mm: float
    as_built: float
    adjusted: float | None


def simulated(service: Service, builds: int = BUILDS, seed: int = SEED) -> Simulated:
    """Return what becomes of builds of a design, drawn with their usual spreads.

    Args:
        service: the instrument, strung as it is wanted; its targets are the action, nut and relief.
        builds: how many are drawn.
        seed: of the drawing; the same one draws the same builds.

    Raises:
        CorrectInputError: no strings that start at the nut.
    """
    budget = designed(service)
    board = board_of(service.instrument_now(), service.reference_hz)
    share, place = octave_of(board)
    spreads = Build(**{one.name: one.spread for one in budget.shares})
    off = action_mm(drawn_builds(budget.build, spreads, builds, seed), share, place) - budget.action_mm
    tolerance = _tolerance_mm(service, board)
    return Simulated(
        budget=budget,
        builds=builds,
        spread_mm=float(off.std()),
        shares=_alone(budget, spreads, (share, place), builds, seed, float(off.var())),
        tolerance_mm=tolerance,
        as_built=float(np.mean(np.abs(off) <= tolerance)),
        adjusted=_adjusted(service, off, share, tolerance),
    )


def _alone(
    budget: Budget, spreads: Build, octave: tuple[float, float], builds: int, seed: int, variance: float
) -> dict[str, float]:
    """Return each dimension's own share of the variance: builds in which it alone is drawn."""
    still = Build(**dict.fromkeys((one.name for one in fields(Build)), 0.0))
    found = {}
    for one in budget.shares:
        only = replace(still, **{one.name: getattr(spreads, one.name)})
        found[one.name] = float(
            action_mm(drawn_builds(budget.build, only, builds, seed), *octave).var()
        ) / max(variance, 1e-18)
    return found


def _tolerance_mm(service: Service, board: Board) -> float:
    wanted = [one for one in targets_of(service, board).wanted if isinstance(one, GapTarget)]
    tolerances = [one.tolerance_mm for one in wanted if trade_name(one) == "action"]
    return float(np.mean(tolerances)) if tolerances else 0.0


def _adjusted(service: Service, off_mm: Array, share: float, tolerance_mm: float) -> float | None:
    """Return the share of builds that saddle heights within their travel bring inside; None without a travel."""
    travel = service.instrument_now().bridge.height_travel_mm
    if travel is None:
        return None
    moved = np.clip(-off_mm / share, *travel)
    return float(np.mean(np.abs(off_mm + share * moved) <= tolerance_mm))
