"""How a string feels under the hand: how far aside and how hard it is pushed for a rise in pitch.

The string slides over nut and saddle as if it were free to: its whole length shares the stretch, the sounding
part runs from the place of the push to the saddle. Arrays of any shape broadcast.
"""

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats
from breakangle.physics.string.laws import CENTS_PER_NEPER

# Chosen: how the computation goes, nothing of an instrument.
HALVINGS = 60


def pushed_tension_n(
    *,
    axial_stiffness_n: ArrayLike,
    tension_n: ArrayLike,
    length_mm: ArrayLike,
    place_mm: ArrayLike,
    sideways_mm: ArrayLike,
) -> Array:
    """Tension in N of a string pushed aside by ``sideways_mm`` at ``place_mm`` from its nut: T + EA (stretch).

    Stretching by hand at the middle is this too.

    Source: Hooke's law on the two straight parts [derived].
    """
    whole, place, aside = floats(length_mm), floats(place_mm), floats(sideways_mm)
    longer = _longer_mm(place, aside) + _longer_mm(whole - place, aside)
    pulled: Array = floats(tension_n) + floats(axial_stiffness_n) * longer / whole
    return pulled


def bent_cents(
    *,
    axial_stiffness_n: ArrayLike,
    tension_n: ArrayLike,
    length_mm: ArrayLike,
    place_mm: ArrayLike,
    sideways_mm: ArrayLike,
) -> Array:
    """Cents by which the note stopped at ``place_mm`` from the nut rises when it is bent aside there.

    With T' = T + EA e, e the relative stretch, and mu' = mu / (1 + e), the sounding part of length l grows to
    l': f'/f = (l / l') sqrt((1 + e) T' / T). At the middle of the string this is ``string.bend_cents``.

    Source: Hooke's law and the limp string [derived].
    """
    whole, place, aside = floats(length_mm), floats(place_mm), floats(sideways_mm)
    pulled = pushed_tension_n(
        axial_stiffness_n=axial_stiffness_n, tension_n=tension_n, length_mm=whole, place_mm=place,
        sideways_mm=aside,
    )  # fmt: skip
    sounding = whole - place
    stretch = (_longer_mm(place, aside) + _longer_mm(sounding, aside)) / whole
    rise = 0.5 * (np.log1p(stretch) + np.log(pulled / floats(tension_n)))
    cents: Array = CENTS_PER_NEPER * (rise - np.log1p(_longer_mm(sounding, aside) / sounding))
    return cents


def bend_travel_mm(
    *,
    axial_stiffness_n: ArrayLike,
    tension_n: ArrayLike,
    length_mm: ArrayLike,
    place_mm: ArrayLike,
    rise_cents: ArrayLike,
) -> Array:
    """Sideways travel in mm that bends the note stopped at ``place_mm`` up by ``rise_cents``.

    The travel is sought up to the string's own length, NaN where that is not enough. The sounding part grows too, which
    lowers the note: with the place at a share s of the length, the note rises at all only where EA / T is more than
    2 s / (1 - s) [derived, from the first terms in the travel]; it is above that for every string that is played.
    Found by bisection.

    Source: `bent_cents` solved by halving; the bounds on s by its derivative at no travel [derived].
    """
    parts = (axial_stiffness_n, tension_n, length_mm, place_mm, rise_cents)
    axial, tension, whole, place, wanted = np.broadcast_arrays(*(floats(one) for one in parts))

    def rises(sideways_mm: Array) -> Array:
        return bent_cents(
            axial_stiffness_n=axial,
            tension_n=tension,
            length_mm=whole,
            place_mm=place,
            sideways_mm=sideways_mm,
        )

    low, high = np.zeros(whole.shape), whole.copy()
    reached = rises(high) >= wanted
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        enough = wanted < rises(middle)
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return np.where(reached, (low + high) / 2.0, np.nan)


def bend_force_n(
    *,
    axial_stiffness_n: ArrayLike,
    tension_n: ArrayLike,
    length_mm: ArrayLike,
    place_mm: ArrayLike,
    sideways_mm: ArrayLike,
) -> Array:
    """Force in N that holds the string aside at ``place_mm``: the sideways parts of the pull on either side.

    Friction of the string on its fret is left out.

    Source: equilibrium of the bent string, F = T' (sin a + sin b) [derived].
    """
    whole, place, aside = floats(length_mm), floats(place_mm), floats(sideways_mm)
    pulled = pushed_tension_n(
        axial_stiffness_n=axial_stiffness_n, tension_n=tension_n, length_mm=whole, place_mm=place,
        sideways_mm=aside,
    )  # fmt: skip
    slants = aside / np.hypot(place, aside) + aside / np.hypot(whole - place, aside)
    force: Array = pulled * slants
    return force


def _longer_mm(straight: Array, aside: Array) -> Array:
    """Return by how much the slanted part is longer than the straight one, without cancellation."""
    return np.asarray(aside**2 / (np.hypot(straight, aside) + straight))
