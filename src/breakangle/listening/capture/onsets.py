"""Where plucks begin and end, block by block: the same finder serves a file and a live stream."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench listening_honesty` tells what it costs.
HOP_S = 0.005
RISE_RATIO = 5.0  # power, over the strongest of the last 60 ms
LOOK_BACK_HOPS = 12
REST_HOPS = 16
FLOOR_RATIO = 12.0
SILENCE_POWER = 1e-9
FALL_RATIO = 3e-5
QUIET_HOPS = 30


@dataclass(frozen=True)
class Edge:
    """A pluck's beginning or the end of its sound, at a sample counted from the start of the stream."""

    sample: int
    begins: bool


class OnsetFinder:
    """Finds beginnings and ends of plucks in a stream of samples.

    Keeps one number for each 5 ms: the power of the differenced sound, in which a pick's attack stands out
    against a ringing string. A pluck begins where that power is five times the strongest of the last 60 ms
    and well above the room's own noise; its sound ends where the plain power has stayed near the room's
    noise, or 45 dB below its own peak, for 150 ms.
    """

    def __init__(self, rate_hz: float, room_first: bool) -> None:
        """Start listening.

        Args:
            rate_hz: samples a second.
            room_first: whether the stream surely begins before the first pluck, as a microphone's does; a
                file may begin with it.
        """
        self._silent_hops = LOOK_BACK_HOPS if room_first else 0
        self.hop = max(1, round(HOP_S * rate_hz))
        self._rest = np.zeros(0)
        self._last = 0.0
        self._hops = 0
        self._recent = np.zeros((2, LOOK_BACK_HOPS))
        self._floor = np.zeros(2)
        self._since = REST_HOPS
        self._ringing = False
        self._peak = 0.0
        self._quiet = 0

    @property
    def room_power(self) -> float:
        """Mean square of the room's noise between plucks."""
        return float(self._floor[1])

    def push(self, block: FloatArray) -> list[Edge]:
        """Edges found in the next samples, in order."""
        samples = np.concatenate([self._rest, block])
        count = len(samples) // self.hop
        self._rest = samples[count * self.hop :]
        if count == 0:
            return []
        used = samples[: count * self.hop]
        differenced = np.diff(used, prepend=self._last)
        self._last = float(used[-1])
        sharp = np.mean(differenced.reshape(count, self.hop) ** 2, axis=1)
        plain = np.mean(used.reshape(count, self.hop) ** 2, axis=1)
        edges: list[Edge] = []
        for powers in np.stack([sharp, plain], axis=1):
            edges += self._hop(powers)
        return edges

    def _hop(self, powers: FloatArray) -> list[Edge]:
        """Edges in one hop of 5 ms; `powers` are those of the differenced and of the plain sound."""
        edges: list[Edge] = []
        at = self._hops * self.hop
        before = self._recent.max(axis=1)
        rises = (powers > RISE_RATIO * before) & (powers > FLOOR_RATIO * self._floor)
        heard = rises.any() and powers[1] > SILENCE_POWER and self._hops >= self._silent_hops
        if heard and self._since >= REST_HOPS:
            if self._ringing:
                edges.append(Edge(at, False))
            edges.append(Edge(at, True))
            self._ringing, self._peak, self._quiet, self._since = True, 0.0, 0, 0
        elif self._ringing:
            edges += self._ring(at, float(powers[1]))
        else:
            self._room(powers)
        self._recent[:, self._hops % LOOK_BACK_HOPS] = powers
        self._hops += 1
        self._since += 1
        return edges

    def _ring(self, at: int, plain: float) -> list[Edge]:
        """The end of the sound, once it has been quiet long enough."""
        self._peak = max(self._peak, plain)
        low = max(FALL_RATIO * self._peak, 2.0 * self.room_power, SILENCE_POWER)
        self._quiet = self._quiet + 1 if plain < low else 0
        if self._quiet < QUIET_HOPS:
            return []
        self._ringing = False
        return [Edge(at - (QUIET_HOPS - 1) * self.hop, False)]

    def _room(self, powers: FloatArray) -> None:
        """Learn the room's noise: quick to fall, slow to rise."""
        if not self._floor.any():
            self._floor = powers.copy()
            return
        self._floor += np.where(powers < self._floor, 0.3, 0.02) * (powers - self._floor)
