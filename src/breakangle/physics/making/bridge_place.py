"""Bridge placement: how far the saddle's ends lie from the 12th fret's, straight and crossed."""

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats


def corner_distances_mm(
    *,
    scale_mm: ArrayLike,
    setback_bass_mm: ArrayLike,
    setback_treble_mm: ArrayLike,
    width_at_12_mm: ArrayLike,
    width_at_saddle_mm: ArrayLike,
) -> tuple[Array, Array, Array, Array]:
    """Return the distances, mm, from the ends of the 12th fret to those of the saddle line.

    In order: bass to bass, treble to treble, bass end of the fret to treble end of the saddle, and treble to bass. Both
    lines lie square to the centre line but for the setbacks; widths are between the points that are measured from.

    Source: Pythagoras; the 12th fret halves the scale [derived].
    """
    half = floats(scale_mm) / 2.0
    bass, treble = half + floats(setback_bass_mm), half + floats(setback_treble_mm)
    at_fret, at_saddle = floats(width_at_12_mm) / 2.0, floats(width_at_saddle_mm) / 2.0
    out, across = at_saddle - at_fret, at_saddle + at_fret
    return (np.hypot(bass, out), np.hypot(treble, out), np.hypot(treble, across), np.hypot(bass, across))
