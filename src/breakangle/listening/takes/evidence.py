"""What the checks of a take look at."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.buzz.heard import Buzz
from breakangle.listening.pitch.coarse import Spectrum
from breakangle.listening.pitch.measure import Pitch

FloatArray = NDArray[np.float64]

# Chosen; no source; `python -m bench listening_honesty` tells what it costs.
LEVEL_HOP_S = 0.05


@dataclass(frozen=True)
class Evidence:
    """What the checks look at: the window's samples, pitch, level every 50 ms (mean squares), spectrum, buzz."""

    samples: FloatArray
    rate_hz: float
    pitch: Pitch
    level: FloatArray
    spectrum: Spectrum
    buzz: Buzz | None = None

    @cached_property
    def step_count(self) -> float:
        """How many of the recording's own steps its largest sample is high; numbers without steps have very many."""
        heights = np.unique(np.abs(self.samples))
        return float(heights[-1] / np.diff(heights).min()) if len(heights) > 1 else 0.0


def levels(samples: FloatArray, rate_hz: float) -> FloatArray:
    """Mean square of each 50 ms; shape (pieces,)."""
    hop = round(LEVEL_HOP_S * rate_hz)
    count = len(samples) // hop
    return np.asarray(np.mean(samples[: count * hop].reshape(count, hop) ** 2, axis=1))
