"""Hum told apart: what the sound between plucks holds at multiples of the mains, and what makes such hum.

Mains itself and its odd multiples come in through a loop or a coil near a transformer; twice the mains and its
multiples are what a rectifier leaves; a dimmer or a switching supply strikes twice a period, so that its multiples go
on far up (common practice among those who repair electric instruments, no source).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.coarse import peak_near, spectrum_of
from breakangle.listening.pitch.hum import MAINS_HZ, local_level
from breakangle.listening.pitch.partials import thinned

FloatArray = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench listening_hum` tells what it costs.
SHORTEST_S, LONGEST_S = 0.6, 4.0
MULTIPLES, HIGH_FROM = 40, 13
HIGHEST_HZ = 2600.0
STANDS_OUT = 1.4  # nepers over what lies beside it
FEWEST = 3
OFF_RATIO, OFF_BINS = 0.003, 1.6  # mains is held to a fraction of a per cent
EVEN_TIMES, HIGH_SHARE = 2.0, 0.12
Kind = Literal["loop", "rectifier", "dimmer"]


@dataclass(frozen=True)
class HumHeard:
    """Hum between plucks: mains frequency, its whole level in dB below full scale, power by multiple, and its kind.

    `powers` has shape (multiples,), the mains itself first; zero where nothing stands out.
    """

    mains_hz: float
    level_db: float
    powers: FloatArray
    kind: Kind


def hum_between(samples: FloatArray, rate_hz: float) -> HumHeard | None:
    """The hum in a piece without plucks; None where none stands out, or the piece is shorter than 0.6 s.

    Args:
        samples: mono, full scale 1, shape (samples,).
        rate_hz: samples a second.
    """
    piece = samples[: round(LONGEST_S * rate_hz)]
    if len(piece) < SHORTEST_S * rate_hz:
        return None
    thin, thin_hz = thinned(piece, rate_hz, HIGHEST_HZ)
    spectrum = spectrum_of(thin, thin_hz)
    best: tuple[float, FloatArray] | None = None
    for mains in MAINS_HZ:
        powers, found_hz = np.zeros(MULTIPLES), []
        for k in range(1, MULTIPLES + 1):
            reach = max(OFF_RATIO * k * mains, OFF_BINS * spectrum.hz_per_bin)
            at_hz, _, level = peak_near(spectrum, k * mains, reach)
            if k * mains < HIGHEST_HZ and level > local_level(spectrum, at_hz) + STANDS_OUT:
                powers[k - 1] = (2 * np.exp(level) / spectrum.window_sum) ** 2 / 2
                found_hz.append((at_hz / k, powers[k - 1] * k**2))
        if np.sum(powers > 0) >= FEWEST and (best is None or powers.sum() > best[1].sum()):
            hz, weight = np.transpose(found_hz)
            best = float(np.average(hz, weights=weight)), powers
    if best is None:
        return None
    level_db = float(10 * np.log10(best[1].sum()))
    return HumHeard(best[0], level_db, best[1], _kind(best[1]))


def _kind(powers: FloatArray) -> Kind:
    """What makes such hum."""
    k = np.arange(1, len(powers) + 1)
    if powers[k >= HIGH_FROM].sum() > HIGH_SHARE * powers.sum():
        return "dimmer"
    even, odd = powers[k % 2 == 0].sum(), powers[k % 2 == 1].sum()
    return "rectifier" if even > EVEN_TIMES * odd else "loop"
