"""A plucked string against the crowns: impulse, first crown, first time, what is left of the low partials.

The string is a sum of pinned modes, place q_k and speed v_k over its angular frequency ω_k, mass m. A step
of length h is the exact damped rotation

    q' = r (c q + s v),   v' = r (c v − s q),   c, s = cos ω_d h, sin ω_d h,   r = exp(−σ h),

preceded, where a crown pushes with force F, by the kick v += s φ F/(m ω²), φ being the mode's shape at the
crown. With that kick the work of a lossless step is exactly F (u' − u⁻)/2, u' and u⁻ the string's heights
over the crown after and before the step. Taking F as the discrete gradient of the spring's energy V = ½ K
[depth]₊²,

    F = (V(depth') − V(depth⁻)) / (depth' − depth⁻),

makes the modal energy plus ½ (V + V') a constant; as V never falls with depth, F is never negative. With
one crown depth' = free − G F is solved in closed form (three cases); with several, closed-form pushes are
swept over them until they agree, which takes few sweeps because the band-limited string answers weakly at a
neighbouring crown.

Sources: energy argument and discrete gradient: Chatziioannou and van Walstijn (2015), "Energy conserving
schemes for the simulation of musical instrument contact dynamics", J. Sound Vib. 339, 262; exact modal
steps with contact: Issanchou et al. (2017), J. Sound Vib. 393, 229-251. The kick that keeps the true modal energy,
and the closed form, are derived here. Units inside: g, mm, ms, N (g·mm/ms² = N), energy N·mm.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.contact.modes import (
    Array,
    Losses,
    Notes,
    angular_frequency_per_ms,
    decay_per_ms,
    modal_mass_g,
    shapes,
)

# Chosen: how the computation goes, nothing of an instrument.
MOST_DAMPED_RATIO = 0.9
"""Modes that would creep back without swinging (hundreds of kHz) are kept just swinging."""

# Chosen: how the computation goes, nothing of an instrument.
FASTEST_TURN = 0.5
"""Share of half a turn that a mode may make in one step: faster modes of a stiff string are left out."""


@dataclass(frozen=True)
class Grid:
    """How finely contact is resolved: stiffness of a crown, numbers of modes, steps and periods.

    Modes and steps: within 5 % of 800 modes at 8192 steps on every note of `python -m bench contact`.
    """

    mode_count: int = 600
    steps_per_period_count: int = 8192
    period_count: float = 8.0
    # Chosen, no source: far stiffer than any string, so that a crown hardly gives.
    spring_n_per_mm: float = 1e4

    @property
    def step_count(self) -> int:
        """Number of steps of the whole run."""
        return round(self.steps_per_period_count * self.period_count)


@dataclass
class Strikes:
    """State and tallies of M notes in motion, changed in place by a run. Shapes: (M, K), (M, C), (M,)."""

    place: Array
    speed: Array
    was: Array
    here: Array
    live: NDArray[np.bool_]
    """Crowns the string has the energy to reach: no other can be touched, so no other is looked at."""
    impulse: Array
    first: NDArray[np.int64]
    touched: NDArray[np.int64]
    most_force: Array
    least_force: Array
    residual: Array


@dataclass(frozen=True)
class Prepared:
    """What M notes need for stepping, worked out once per note and shared by its strengths."""

    step_ms: Array
    mass: Array
    omega: Array
    sigma: Array
    kept: NDArray[np.bool_]
    """Modes slow enough for the step, (M, K): the others are left out."""
    shape: Array
    """Mode shapes at the crowns, (M, C, K); zero for modes left out."""
    kick: Array
    """Speed before the step per newton, without the shape, (M, K): s/(m ω²)."""
    spring: float

    @cached_property
    def answer(self) -> Array:
        """Height after the step at one crown per newton at another, mm/N, (M, C, C)."""
        place = self.kick * self.turn(1)[1]
        found: Array = (self.shape * place[:, None, :]) @ self.shape.transpose(0, 2, 1)
        return found

    def take(self, which: NDArray[np.intp]) -> "Prepared":
        """The tables of the chosen notes, in that order; a note may be chosen more than once."""
        arrays = {name: getattr(self, name) for name in self.__dataclass_fields__ if name != "spring"}
        return Prepared(**{name: value[which] for name, value in arrays.items()}, spring=self.spring)

    def turn(self, steps: int) -> tuple[Array, Array]:
        """Rotation over `steps` steps: r^n cos and r^n sin, (M, K) each."""
        span = steps * self.step_ms[:, None]
        damped = np.sqrt(self.omega**2 - self.sigma**2)
        fade = np.exp(-self.sigma * span)
        return fade * np.cos(damped * span), fade * np.sin(damped * span)


def prepare(notes: Notes, losses: Losses | None, grid: Grid) -> Prepared:
    """Rotation, kicks and answers of the notes on this grid; `losses` None is a lossless string."""
    omega = angular_frequency_per_ms(notes, grid.mode_count)
    sigma = decay_per_ms(notes, losses, grid.mode_count) if losses else np.zeros_like(omega)
    sigma = np.minimum(sigma, MOST_DAMPED_RATIO * omega)
    step = 2.0 * np.pi / omega[:, 0] / grid.steps_per_period_count
    mass = modal_mass_g(notes)
    kept = omega * step[:, None] <= FASTEST_TURN * np.pi
    shape = shapes(notes, notes.crown_mm, grid.mode_count) * kept[:, None, :]
    damped = np.sqrt(omega**2 - sigma**2)
    kick = np.sin(damped * step[:, None]) / (mass[:, None] * omega**2)
    return Prepared(step, mass, omega, sigma, kept, shape, kick, grid.spring_n_per_mm)


def push(was: Array, free: Array, soft: Array, spring: float) -> Array:
    """Force of a crown over one step, N, never negative: closed form of depth' = free − soft · F.

    `was` is the depth one step before the force acts, `free` the depth one step after it if nothing pushed,
    mm; `soft` the answer of the string, mm/N.
    """
    a = 0.5 * spring * soft
    with np.errstate(divide="ignore", invalid="ignore"):
        both = was + free
        root = np.sqrt(np.maximum(both**2 - 4.0 * (1.0 + a) * was * free, 0.0))
        enter = np.where(both > 0.0, (both + root) / (2.0 * (1.0 + a)), 2.0 * was * free / (both - root))
        entering = np.where(enter > 0.0, 0.5 * spring * enter**2 / (enter - was), 0.0)
        stay = (free - a * was) / (1.0 + a)
        gone = was - free
        root = np.sqrt(gone**2 + 4.0 * a * was**2)
        rise = np.where(gone > 0.0, 0.5 * (gone + root), 2.0 * a * was**2 / (root - gone))
        leaving = 0.5 * spring * was**2 / np.fmax(rise, was)
    inside = np.where(stay > 0.0, 0.5 * spring * (stay + was), leaving)
    outside = np.where(free > 0.0, entering, 0.0)
    return np.where(was > 0.0, inside, outside)


def sweep(prepared: Prepared, which: NDArray[np.intp], was: Array, free: Array) -> tuple[Array, Array, Array]:
    """Forces at all crowns of one step for the notes `which`: force N, depth after it mm, change left N."""
    answer, free, force = prepared.answer[which], free.copy(), np.zeros_like(was)
    change = np.zeros(len(which))
    for _ in range(60):
        change = np.zeros(len(which))
        for j in range(was.shape[1]):
            soft = answer[:, j, j]
            new = push(was[:, j], free[:, j] + soft * force[:, j], soft, prepared.spring)
            step = new - force[:, j]
            free -= answer[:, :, j] * step[:, None]
            force[:, j] = new
            change = np.maximum(change, np.abs(step))
        if np.all(change <= 1e-15 * force.max(axis=1)):
            break
    return force, free, change


def heights(prepared: Prepared, owner: NDArray[np.intp], place: Array) -> Array:
    """Heights of strings with modal places (M, K) over their crowns, mm, (M, C); `owner` as in `release`."""
    return np.array([prepared.shape[note] @ modes for note, modes in zip(owner, place, strict=True)])


def release(notes: Notes, prepared: Prepared, owner: NDArray[np.intp], place: Array) -> Strikes:
    """Strings at rest in the shapes `place` (M, K), about to be let go; `owner` (M,) is the note of each."""
    gap = notes.gap_mm[owner]
    here = -(gap + heights(prepared, owner, place))
    stiffness = prepared.mass[:, None] * prepared.omega**2
    give = np.einsum("nck,nk->nc", prepared.shape**2, 1.0 / stiffness)[owner]
    stored = 0.5 * np.sum(stiffness[owner] * place**2, axis=1)
    stored += 0.5 * prepared.spring * np.sum(np.maximum(here, 0.0) ** 2, axis=1)
    count, crowns = here.shape
    return Strikes(
        place=place.copy(),
        speed=np.zeros_like(place),
        was=here.copy(),
        here=here,
        live=gap < np.sqrt(2.0 * stored[:, None] * give) * (1.0 + 1e-9),
        impulse=np.zeros((count, crowns)),
        first=np.full((count, crowns), -1),
        touched=np.zeros((count, crowns), dtype=np.int64),
        most_force=np.zeros((count, crowns)),
        least_force=np.zeros(count),
        residual=np.zeros(count),
    )


def run_plain(
    notes: Notes, prepared: Prepared, state: Strikes, owner: NDArray[np.intp], start: int, steps: int
) -> None:
    """Step the strings in plain numpy, all together: the reference, and what runs without a compiler."""
    notes, prepared = notes.take(owner), prepared.take(owner)
    c, s = prepared.turn(1)
    for step in range(start, start + steps):
        place = c * state.place + s * state.speed
        speed = c * state.speed - s * state.place
        free = -(notes.gap_mm + np.einsum("mck,mk->mc", prepared.shape, place))
        live = np.flatnonzero(np.any((free > 0.0) | (state.was > 0.0), axis=1))
        if len(live):
            force, free[live], change = sweep(prepared, live, state.was[live], free[live])
            kick = np.einsum("mc,mck->mk", force, prepared.shape[live]) * prepared.kick[live]
            place[live] += s[live] * kick
            speed[live] += c[live] * kick
            state.impulse[live] += force
            state.touched[live] += force > 0.0
            state.most_force[live] = np.maximum(state.most_force[live], force)
            state.least_force[live] = np.minimum(state.least_force[live], force.min(axis=1))
            state.residual[live] = np.maximum(state.residual[live], change)
            state.first[live] = np.where((state.first[live] < 0) & (force > 0.0), step, state.first[live])
        state.place, state.speed, state.was, state.here = place, speed, state.here, free


def energy(prepared: Prepared, owner: NDArray[np.intp], state: Strikes) -> Array:
    """Energy of string and crowns between the last two steps, N·mm, (M,): constant when nothing is lost."""
    modes = 0.5 * (prepared.mass[:, None] * prepared.omega**2)[owner] * (state.place**2 + state.speed**2)
    springs = 0.25 * prepared.spring * (np.maximum(state.was, 0) ** 2 + np.maximum(state.here, 0) ** 2)
    total: Array = np.sum(modes, axis=1) + np.sum(springs, axis=1)
    return total
