"""A string by finite differences: two polarisations, stiffness, losses, tension that rises with swing, crowns below.

Written for the bench alone: nothing of it is shared with listening or with the contact model, which is modal. Lengths
are in string lengths and times in half periods of the unstretched string, so that the wave speed is 1:

    u_tt = (1 + κ/2 ∫(u_x² + w_x²) dx) u_xx − ε u_xxxx − 2 σ0 u_t + 2 σ1 u_txx + crowns,   ε = B/π².

Sources: scheme, stability and losses: S. Bilbao (2009), Numerical Sound Synthesis, Wiley, chapter 7 (from memory);
tension: G. F. Carrier (1945), On the nonlinear vibration problem of the elastic string, Q. Appl. Math. 3, 157 (from
memory); a crown is a one-sided spring and damper acting on the mean of two steps, solved for each crown alone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
CELLS = 90
COURANT = 0.7
HARDNESS = 6.0  # spring of a crown over what a grid cell answers with in one step: hardly gives
CROWN_LOSS = 0.35  # damper of a crown, likewise


@dataclass(frozen=True)
class Strings:
    """M strings to be plucked together; lengths in millimetres, shape (M,) unless said.

    `crown_ratio` (M, C) is where crowns stand from the stop, over the length; `gap_mm` (M, C) how far below, infinite
    for none. `height_mm` is the whole displacement at the pluck, `toward` the angle in radians of the release out of
    the board's plane; `axial_ratio` is EA/T.
    """

    hz: Array
    length_mm: Array
    axial_ratio: Array
    stiffness: Array
    height_mm: Array
    toward: Array
    pluck_ratio: Array
    decay_per_s: Array
    decay_growth: Array
    apart_ratio: Array
    crown_ratio: Array
    gap_mm: Array


@dataclass(frozen=True)
class Swung:
    """What M strings did: force on the saddle of both polarisations (M, T), samples a second (M,), and crowns' impulse.

    `impulse` (M, C) is in units of the string's own; `last_s` (M,) when a crown was touched last, 0 for never.
    """

    upright: Array
    sideways: Array
    rate_hz: Array
    impulse: Array
    last_s: Array


def swing(strings: Strings, seconds: float) -> Swung:
    """Let the strings go and follow them for so long."""
    count, h = len(strings.hz), 1.0 / CELLS
    k = COURANT * h
    half_s = 0.5 / strings.hz
    steps = int(np.ceil(seconds / half_s.min() / k))
    x = np.linspace(0.0, 1.0, CELLS + 1)
    p = strings.pluck_ratio[:, None]
    peak = (strings.height_mm / strings.length_mm)[:, None]
    shape = peak * np.where(x <= p, x / p, (1.0 - x) / (1.0 - p))
    for _ in range(3):  # a plectrum is not a needle
        shape[:, 1:-1] = 0.25 * shape[:, :-2] + 0.5 * shape[:, 1:-1] + 0.25 * shape[:, 2:]
    here = np.stack([shape * np.sin(strings.toward)[:, None], shape * np.cos(strings.toward)[:, None]])
    before = here.copy()
    crowns = _Crowns(strings, k, h)
    sigma0 = (strings.decay_per_s * half_s)[:, None]
    sigma1 = sigma0 * strings.decay_growth[:, None] / np.pi**2
    eps = (strings.stiffness / np.pi**2)[:, None]
    speed = np.stack([np.ones(count), 1.0 + 2.0 * strings.apart_ratio])[:, :, None]
    kappa = strings.axial_ratio[:, None] / 2.0
    out = np.zeros((2, count, steps), dtype=np.float32)
    bend = np.zeros_like(here)
    bend_before = np.zeros_like(here)
    lam2, loss = COURANT**2, 2.0 * sigma1 * k / h**2
    for step in range(steps):
        slope = np.diff(here, axis=2)
        bend[:, :, 1:-1] = slope[:, :, 1:] - slope[:, :, :-1]
        tight = 1.0 + kappa * (np.einsum("pmn,pmn->m", slope, slope) / h)[:, None]
        ahead = 2.0 * here - (1.0 - sigma0 * k) * before + (lam2 * speed * tight) * bend
        ahead += loss * (bend - bend_before)
        ahead[:, :, 1:-1] -= eps * (k**2 / h**4) * (bend[:, :, 2:] - 2.0 * bend[:, :, 1:-1] + bend[:, :, :-2])
        ahead /= 1.0 + sigma0 * k
        crowns.push(ahead[0], here[0], before[0], step)
        ahead[:, :, 0] = ahead[:, :, -1] = 0.0
        out[:, :, step] = ahead[:, :, -2]
        bend_before[:] = bend
        before, here = here, ahead
    last = np.where(crowns.last < 0, 0.0, crowns.last * k * half_s)
    return Swung(out[0] / h, out[1] / h, 1.0 / (k * half_s), crowns.impulse, last)


class _Crowns:
    """The crowns below M strings, and what they have done so far."""

    def __init__(self, strings: Strings, step: float, cell: float) -> None:
        self.gap = strings.gap_mm / strings.length_mm[:, None]
        at = np.clip(np.nan_to_num(strings.crown_ratio) / cell, 1.0, CELLS - 1.001)
        self.node = at.astype(int)
        self.right = at - self.node
        self.row = np.arange(len(self.node))[:, None]
        answer = ((1.0 - self.right) ** 2 + self.right**2) / cell
        self.gain = step**2 / cell
        self.spring = HARDNESS / (step**2 * answer)
        self.damper = CROWN_LOSS / (step * answer)
        self.stiff = 1.0 + 0.5 * self.spring * step**2 * answer + 0.5 * self.damper * step * answer
        self.impulse = np.zeros_like(self.gap)
        self.last = np.full(len(self.gap), -1)
        self.step = step

    def at(self, string: Array) -> Array:
        """Height of strings (M, N) over their resting line at the crowns, (M, C)."""
        return np.asarray(
            (1.0 - self.right) * string[self.row, self.node] + self.right * string[self.row, self.node + 1]
        )

    def push(self, ahead: Array, here: Array, before: Array, step: int) -> None:
        """Push `ahead` up where it would be below a crown."""
        del here
        then, now = self.at(before), self.at(ahead)
        deep = -self.gap - 0.5 * (then + now)
        if not (deep > 0.0).any():
            return
        sinking = (then - now) / (2.0 * self.step)
        force = np.where(deep > 0.0, (self.spring * deep + self.damper * sinking) / self.stiff, 0.0)
        force = np.maximum(force, 0.0)
        np.add.at(ahead, (self.row, self.node), self.gain * (1.0 - self.right) * force)
        np.add.at(ahead, (self.row, self.node + 1), self.gain * self.right * force)
        self.impulse += force * self.step
        self.last = np.where((force > 0.0).any(axis=1), step, self.last)
