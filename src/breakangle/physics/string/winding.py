"""Strings on their posts: how much slack gives how many winds, and how much of the post they fill."""

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats

# Exact: a quarter turn less its radius.
FIRST_QUARTER_RATIO = np.pi / 2.0 - 1.0


def wound_length_mm(
    *, winds_count: ArrayLike, post_diameter_mm: ArrayLike, string_diameter_mm: ArrayLike
) -> Array:
    """Length of string in mm, along its middle, that the post takes up in so many winds.

    The string enters a hole that faces the bridge and leaves the post at its side: the first quarter turn takes
    up r only, not r pi/2, so L = n sqrt((2 pi r)^2 + d^2) - (pi/2 - 1) r, with r = (D + d)/2 and each wind
    lying one string beside the last. Never less than zero. On which side of the post the string leaves it makes
    no difference to the length.

    Source: helix, and tangent to a circle far from the bridge [derived].
    """
    n, D, d = floats(winds_count), floats(post_diameter_mm), floats(string_diameter_mm)  # noqa: N806
    r = (D + d) / 2.0
    wound = n * np.hypot(2.0 * np.pi * r, d) - FIRST_QUARTER_RATIO * r
    return np.asarray(np.maximum(wound, 0.0))


def stretch_to_pitch_mm(
    *, free_length_mm: ArrayLike, tension_n: ArrayLike, axial_stiffness_n: ArrayLike
) -> Array:
    """Length in mm that a straight string gives by stretching while it comes up to pitch: L T / EA.

    ``free_length_mm`` runs from the string's anchor to the post, not from saddle to nut.

    Source: Hooke's law [derived].
    """
    given: Array = floats(free_length_mm) * floats(tension_n) / floats(axial_stiffness_n)
    return given


def slack_mm(
    *,
    winds_count: ArrayLike,
    post_diameter_mm: ArrayLike,
    string_diameter_mm: ArrayLike,
    stretch_mm: ArrayLike,
) -> Array:
    """Slack in mm to leave so that the string lies on its post in so many winds at pitch.

    Stretching to pitch winds string on as well, so the slack is what the post takes up less the stretch.
    Negative where stretching alone gives more winds than asked for.

    Source: turns of a helix on a cylinder, less Hooke's stretch [derived].
    """
    wound = wound_length_mm(
        winds_count=winds_count, post_diameter_mm=post_diameter_mm, string_diameter_mm=string_diameter_mm
    )
    return np.asarray(wound - floats(stretch_mm))


def winds_from_slack_count(
    *,
    slack_mm: ArrayLike,
    post_diameter_mm: ArrayLike,
    string_diameter_mm: ArrayLike,
    stretch_mm: ArrayLike,
) -> Array:
    """How many winds lie on the post at pitch from this slack; the inverse of ``slack_mm``.

    Source: the same, solved for the turns [derived].
    """
    D, d = floats(post_diameter_mm), floats(string_diameter_mm)  # noqa: N806
    r = (D + d) / 2.0
    taken_up = floats(slack_mm) + floats(stretch_mm)
    count: Array = (taken_up + FIRST_QUARTER_RATIO * r) / np.hypot(2.0 * np.pi * r, d)
    return np.where(taken_up > 0.0, count, 0.0)


def winds_height_mm(*, winds_count: ArrayLike, string_diameter_mm: ArrayLike) -> Array:
    """Length of post in mm that neat winds fill, the string's own thickness included: (n + 1) d; none for none.

    Source: turns side by side [derived].
    """
    n, d = floats(winds_count), floats(string_diameter_mm)
    return np.where(n > 0.0, (n + 1.0) * d, 0.0)
