"""The screen: in one pass over the board, which notes cannot touch a crown. What it clears is proved clear.

The lower envelope of an ideal string plucked at p is the pluck's triangle mirrored through the middle of
the string. A real string goes lower, because its partials run ahead of the harmonic series and meet in new
ways. Per crown the screen takes the smaller of two bounds on how far the linear string goes down, both per
mm of pluck:

- all partials in step: Σ |a_k sin(kπx/L)|, whatever the time and whatever the losses;
- envelope plus allowance: against the ideal string in the same first periods, partial k can differ by no
  more than |c_k| (2 sin(Δ_k/2) + 1 − exp(−(σ_k − σ_1) t)), Δ_k being the most its phase has run ahead by
  time t, plus the difference in its starting amplitude.

The partials above the last one counted are bounded through |sin a sin b| ≤ (sin² a + sin² b)/2, whose
series are known in closed form. Derived here.
"""

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.contact.modes import (
    Array,
    Losses,
    Notes,
    Pluck,
    angular_frequency_per_ms,
    decay_per_ms,
    inharmonicity,
    static_series,
)

# Chosen: how the computation goes, nothing of an instrument.
COUNTED = 32
"""Partials taken one by one; those above are bounded together."""


def envelope(notes: Notes, pluck: Pluck) -> Array:
    """Depth of the ideal string's lower envelope at each crown per mm of pluck, pure number, shape (N, C).

    Released from above, the mirrored triangle; released from below, the triangle itself. NaN where there is
    no crown.

    Source: the plucked ideal string of d'Alembert (1747), whose corner runs along the mirrored triangle
        [derived].
    """
    along = notes.crown_mm / notes.length_mm[:, None]
    peak = (pluck.from_stop_mm(notes.length_mm) / notes.length_mm)[:, None]
    if pluck.away:
        peak = 1.0 - peak
    depth: Array = np.minimum(along / peak, (1.0 - along) / (1.0 - peak))
    return depth


def energy_reach(notes: Notes, pluck: Pluck) -> Array:
    """Furthest a string with the pluck's energy can go at each crown per mm of pluck, (N, C); NaN: no crown.

    Holds for every motion that gains no energy, so also after the string has struck crowns that push back
    without loss. Derived: |u(x)| ≤ √(2 E G(x, x)) with G the static give, and E = ½ /G(p, p) for the pluck.

    Source: Cauchy and Schwarz on the static answer G [derived].
    """
    stiffness = inharmonicity(notes)
    at_pluck = np.pi * pluck.from_stop_mm(notes.length_mm) / notes.length_mm
    give = static_series(np.pi * notes.crown_mm / notes.length_mm[:, None], stiffness[:, None])
    reach: Array = np.sqrt(give / static_series(at_pluck, stiffness)[:, None])
    return reach


def reach_bound(notes: Notes, pluck: Pluck, losses: Losses, period_count: float) -> Array:
    """Proved bound on how far down the linear string goes at each crown per mm of pluck, (N, C), NaN: none.

    Holds for the first `period_count` periods of each note.

    Source: the two bounds of the module's docstring [derived].
    """
    note, column = np.nonzero(np.isfinite(notes.crown_mm))
    x = np.pi * notes.crown_mm[note, column] / notes.length_mm[note]
    p = np.pi * pluck.from_stop_mm(notes.length_mm) / notes.length_mm
    stiffness = inharmonicity(notes)[:, None]
    k = np.arange(1.0, COUNTED + 1.0)
    stiff = 1.0 / (1.0 + stiffness * k**2)
    at_pluck = np.abs(np.sin(p[:, None] * k))
    give, ideal_give = static_series(p[:, None], stiffness), (p * (np.pi - p) / 2.0)[:, None]
    real, ideal = at_pluck * stiff / k**2 / give, at_pluck / k**2 / ideal_give
    apart = real * _drift(notes, losses, period_count) + np.abs(real - ideal)
    at_crown = np.abs(_sines(x))
    in_step = np.einsum("kc,kc->c", at_crown, real.T[:, note])
    allowance = np.einsum("kc,kc->c", at_crown, apart.T[:, note])
    rest_pluck = p * (np.pi - p) / 2.0 - at_pluck**2 @ k**-2.0
    rest = 0.5 * (x * (np.pi - x) / 2.0 - k**-2.0 @ at_crown**2 + rest_pluck[note])
    rest_real, rest_ideal = rest * (stiff[:, -1:] / give)[note, 0], rest / ideal_give[note, 0]
    bound = np.full(notes.crown_mm.shape, np.nan)
    ideal_depth = envelope(notes, pluck)[note, column]
    bound[note, column] = np.minimum(in_step + rest_real, ideal_depth + allowance + rest_real + rest_ideal)
    return bound


def _sines(angle: Array) -> Array:
    """sin(k·angle) for the counted partials, (COUNTED, M): sin kθ = 2 cos θ sin (k−1)θ − sin (k−2)θ."""
    out = np.empty((COUNTED, len(angle)))
    out[0], twice = np.sin(angle), 2.0 * np.cos(angle)
    np.multiply(twice, out[0], out=out[1])
    for row in range(2, COUNTED):
        np.multiply(twice, out[row - 1], out=out[row])
        out[row] -= out[row - 2]
    return out


def _drift(notes: Notes, losses: Losses, period_count: float) -> Array:
    """How far each partial, over its amplitude, can come from the ideal string's: (N, K), at most two."""
    omega = angular_frequency_per_ms(notes, COUNTED)
    sigma = decay_per_ms(notes, losses, COUNTED)
    span = period_count * 2.0 * np.pi / omega[:, :1]
    k = np.arange(1.0, COUNTED + 1.0)
    ahead = (omega - k * omega[:, :1] + 0.5 * sigma**2 / omega) * span
    phase = 2.0 * np.sin(np.minimum(np.abs(ahead), np.pi) / 2.0)
    fade = 1.0 - np.exp(-np.maximum(sigma - sigma[:, :1], 0.0) * span)
    return np.minimum(phase + fade, 2.0)


def cleared(gap_mm: Array, bound_ratio: Array, height_mm: Array) -> NDArray[np.bool_]:
    """Notes that no crown can meet at these pluck heights, shape (N, S) for gaps (N, C) and heights (S,).

    A gap of zero or less is never cleared.

    Source: `reach_bound` times the height against the gap [derived].
    """
    with np.errstate(invalid="ignore"):
        most = np.nanmin(np.where(np.isnan(bound_ratio), np.inf, gap_mm / bound_ratio), axis=1)
    lies = np.any(gap_mm <= 0.0, axis=1)
    clear: NDArray[np.bool_] = (height_mm[None, :] < most[:, None]) & ~lies[:, None]
    return clear
