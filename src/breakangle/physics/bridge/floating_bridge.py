"""A bridge that floats on knife edges between strings and springs: its balance, and what upsets it.

Lengths from the line of the knife edges: ``string_arm_mm`` up to the strings, ``spring_arm_mm`` down to where
the springs hook on, ``saddle_back_mm`` back to the saddles. Small tilts, in which the arms stay as they are.
A positive tilt is toward the nut: the saddles rise.
"""

from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats


def spring_force_n(*, string_pull_n: ArrayLike, string_arm_mm: ArrayLike, spring_arm_mm: ArrayLike) -> Array:
    """Force in N of all springs together that balances the strings: F b = T a about the knife edges.

    Source: equilibrium of moments; friction of the edges and the bridge's weight left out [derived].
    """
    force: Array = floats(string_pull_n) * floats(string_arm_mm) / floats(spring_arm_mm)
    return force


def claw_travel_mm(*, force_change_n: ArrayLike, spring_rate_n_per_mm: ArrayLike) -> Array:
    """Travel in mm of the springs' claw that changes their force so, the bridge level again; positive tightens.

    ``spring_rate_n_per_mm`` is that of all springs together: they hang side by side.

    Source: Hooke's law [derived].
    """
    travel: Array = floats(force_change_n) / floats(spring_rate_n_per_mm)
    return travel


def saddle_rise_mm(
    *, claw_travel_mm: ArrayLike, spring_arm_mm: ArrayLike, saddle_back_mm: ArrayLike
) -> Array:
    """How far in mm the saddles rise if the claw is left alone and the strings are tuned to pitch again.

    The springs must then lengthen by what the claw would have travelled: tilt = travel / b, rise = tilt x c.

    Source: the same moments, with the tilt as the only freedom [derived].
    """
    rise: Array = floats(claw_travel_mm) / floats(spring_arm_mm) * floats(saddle_back_mm)
    return rise


def saddle_forward_mm(
    *, claw_travel_mm: ArrayLike, spring_arm_mm: ArrayLike, string_arm_mm: ArrayLike
) -> Array:
    """How far in mm the saddles move toward the nut under the same tilt: tilt x a.

    Source: geometry of a small tilt [derived].
    """
    forward: Array = floats(claw_travel_mm) / floats(spring_arm_mm) * floats(string_arm_mm)
    return forward
