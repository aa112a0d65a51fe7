"""What a build's dimensions come to: the action they give, and which of them it hangs on.

Lengths in mm, angles in degrees, up is positive; all broadcast, so that ten thousand builds are one call.
"""

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Number = float | Array


@dataclass(frozen=True)
class Build:
    """The dimensions that a string's height hangs on, each a number or an array over builds.

    `bridge_mm`, `saddle_mm`: bridge over the top's plane, saddle over the bridge. `board_mm`, `crown_mm`: at the joint.
    `angle_degrees`: of the neck, leaning back positive. `floor_mm`: the nut slot's floor over the crowns' line.
    `relief_mm`: sag of an evenly bent neck between nut and joint. `reach_mm`: from joint to saddle.
    """

    bridge_mm: Number
    saddle_mm: Number
    board_mm: Number
    crown_mm: Number
    angle_degrees: Number
    floor_mm: Number
    relief_mm: Number
    reach_mm: Number


def over_frets_mm(build: Build) -> Array:
    """Return how high the string stands at the saddle over the crowns' line produced, mm.

    Source: bridge + saddle less the line's height there, board + crown + reach · tan α [derived].
    """
    plane = build.board_mm + build.crown_mm + build.reach_mm * np.tan(np.radians(build.angle_degrees))
    return np.asarray(build.bridge_mm + build.saddle_mm - plane)


def action_mm(build: Build, octave_share: float, octave_joint_share: float) -> Array:
    """Return the open string's height over its octave's crown, mm.

    `octave_share`: how far from nut to saddle that fret lies; `octave_joint_share`: how far from nut to joint, at most
    1.

    Source: a straight line from nut to saddle, less a neck of relief R that stands 4 R (1 − u)² over the line it
    leaves the body with (physics.neck, even bending) [derived].
    """
    bent = 4.0 * np.asarray(build.relief_mm)
    at_nut = np.asarray(build.floor_mm) + bent
    there = bent * (1.0 - min(octave_joint_share, 1.0)) ** 2
    return np.asarray((1.0 - octave_share) * at_nut + octave_share * over_frets_mm(build) - there)


def angle_for_degrees(
    build: Build, wanted_mm: float, octave_share: float, octave_joint_share: float
) -> float:
    """Return the neck angle at which a build has the action `wanted_mm`, its other dimensions as they are, degrees.

    Source: `action_mm` solved for the angle; it is linear in tan α [derived].
    """
    flat = float(action_mm(replace(build, angle_degrees=0.0), octave_share, octave_joint_share))
    return float(np.degrees(np.arctan((flat - wanted_mm) / (octave_share * np.asarray(build.reach_mm)))))


def slopes_mm(build: Build, octave_share: float, octave_joint_share: float) -> dict[str, float]:
    """Return by how much the action changes with each dimension, mm per mm (per degree for the angle), by name.

    Source: derivatives of `action_mm`, in closed form [derived].
    """
    angle = np.radians(float(np.asarray(build.angle_degrees)))
    reach = float(np.asarray(build.reach_mm))
    bends = 4.0 * (1.0 - octave_share) - 4.0 * (1.0 - min(octave_joint_share, 1.0)) ** 2
    return {
        "bridge_mm": octave_share,
        "saddle_mm": octave_share,
        "board_mm": -octave_share,
        "crown_mm": -octave_share,
        "angle_degrees": float(-octave_share * reach / np.cos(angle) ** 2 * np.pi / 180.0),
        "floor_mm": 1.0 - octave_share,
        "relief_mm": bends,
        "reach_mm": float(-octave_share * np.tan(angle)),
    }


def drawn_builds(build: Build, spreads: Build, count: int, seed: int) -> Build:
    """Return `count` builds around a nominal one, each dimension normal with a spread of its own (one sigma).

    Source: independent normal spreads; common practice, no source.
    """
    random = np.random.default_rng(seed)
    return Build(
        **{
            one.name: getattr(build, one.name) + getattr(spreads, one.name) * random.standard_normal(count)
            for one in fields(Build)
        }
    )
