"""Neck angle: what it is, what it should be, and what turning a neck at its joint does everywhere else.

The neck is turned about the joint's top edge, where body and board meet. Angles are positive where the head leans back
from the top's plane, in degrees; lengths in mm. All broadcast.
"""

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats


def neck_angle_degrees(
    *,
    bridge_mm: ArrayLike,
    airspace_mm: ArrayLike,
    board_mm: ArrayLike,
    fret_mm: ArrayLike,
    joint_to_saddle_mm: ArrayLike,
) -> Array:
    """Return the angle of the frets' line to the top, degrees.

    `airspace_mm`: from the bridge's top up to a straight-edge over the frets, negative where it meets the bridge lower.
    `board_mm`, `fret_mm`: thickness of the board and height of a crown at the joint.

    Source: tan α = ((bridge + airspace) − (board + fret)) / (joint to saddle); W. R. Cumpiano and J. D. Natelson,
    Guitarmaking: Tradition and Technology, as quoted on a secondary page, which has an airspace of 1/64 to 1/16 in for
    steel strings.
    """
    rise = _plane_mm(bridge_mm, airspace_mm) - floats(board_mm) - floats(fret_mm)
    return np.asarray(np.degrees(np.arctan2(rise, floats(joint_to_saddle_mm))))


def _plane_mm(bridge_mm: ArrayLike, airspace_mm: ArrayLike) -> Array:
    return floats(bridge_mm) + floats(airspace_mm)


def string_over_frets_mm(*, action_mm: ArrayLike, nut_mm: ArrayLike, action_share: ArrayLike) -> Array:
    """Return how high a string's underside stands at the saddle over the frets' line produced, mm.

    `action_mm` over the action's fret, open; `nut_mm` over the line at the nut; `action_share`: how far along the
    scale that fret lies (0.5 at the 12th).

    Source: a straight line through nut and action [derived].
    """
    share = floats(action_share)
    return np.asarray((floats(action_mm) - (1.0 - share) * floats(nut_mm)) / share)


def airspace_wanted_mm(protrusion_mm: ArrayLike, over_frets_mm: ArrayLike) -> Array:
    """Return the airspace at which a saddle that stands `protrusion_mm` over the bridge gives the action wanted, mm.

    Source: bridge + protrusion = bridge + airspace + string over the frets' line [derived].
    """
    return floats(protrusion_mm) - floats(over_frets_mm)


def wedge_mm(turn_degrees: ArrayLike, heel_depth_mm: ArrayLike) -> Array:
    """Return what comes off the heel's cheek at its cap so that the neck leans back by `turn_degrees`, mm.

    Nothing at the top's edge, this at `heel_depth_mm` below it; negative where the heel must be built up.

    Source: the side opposite the turned angle, D tan δ [derived].
    """
    return np.asarray(np.tan(np.radians(floats(turn_degrees))) * floats(heel_depth_mm))


def tongue_gap_mm(turn_degrees: ArrayLike, tongue_mm: ArrayLike) -> Array:
    """Return how far the end of a board's tongue comes up off the top when the neck leans back, mm: the shim's height.

    Negative: it would press into the top by so much. Source: T tan δ [derived].
    """
    return np.asarray(np.tan(np.radians(floats(turn_degrees))) * floats(tongue_mm))


def scale_change_mm(
    turn_degrees: ArrayLike, *, over_joint_mm: ArrayLike, nut_to_joint_mm: ArrayLike
) -> Array:
    """Return how much longer the way from nut to saddle is along the top once the neck has leaned back, mm.

    `over_joint_mm`: how high the crowns stand over the joint's top edge. The nut goes back by that times sin δ, and
    comes nearer by the shortening of the leaning neck.

    Source: a point at (−x, h) turned about the origin by δ: −x cos δ − h sin δ [derived].
    """
    turn = np.radians(floats(turn_degrees))
    shorter: Array = floats(nut_to_joint_mm) * 2.0 * np.sin(turn / 2.0) ** 2
    back: Array = floats(over_joint_mm) * np.sin(turn)
    return back - shorter


def break_angle_degrees(
    protrusion_mm: ArrayLike, behind_mm: ArrayLike, anchor_below_mm: ArrayLike = 0.0
) -> Array:
    """Return how steeply a string leaves the saddle toward its anchor, degrees, over its level course in front.

    `behind_mm`: from saddle to anchor; `anchor_below_mm`: how far the anchor lies below the bridge's top.

    Source: the angle whose tangent is height over distance [derived].
    """
    fall = floats(protrusion_mm) + floats(anchor_below_mm)
    return np.asarray(np.degrees(np.arctan2(fall, floats(behind_mm))))
