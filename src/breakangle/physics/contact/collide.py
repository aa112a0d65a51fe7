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
        """Number of steps of the whole run.

        Source: counting; no physics.
        """
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
        """Height after the step at one crown per newton at another, mm/N, (M, C, C).

        Source: the kick of one step seen at the other crowns: Σ φ s φ r/(m ω²) [derived].
        """
        place = self.kick * self.turn(1)[1]
        found: Array = (self.shape * place[:, None, :]) @ self.shape.transpose(0, 2, 1)
        return found

    def take(self, which: NDArray[np.intp]) -> "Prepared":
        """The tables of the chosen notes, in that order; a note may be chosen more than once.

        Source: choosing rows; no physics.
        """
        arrays = {name: getattr(self, name) for name in self.__dataclass_fields__ if name != "spring"}
        return Prepared(**{name: value[which] for name, value in arrays.items()}, spring=self.spring)

    def turn(self, steps: int) -> tuple[Array, Array]:
        """Rotation over `steps` steps: r^n cos and r^n sin, (M, K) each.

        Source: the damped rotation to the power n: r^n, n ω_d h [derived].
        """
        span = steps * self.step_ms[:, None]
        damped = np.sqrt(self.omega**2 - self.sigma**2)
        fade = np.exp(-self.sigma * span)
        return fade * np.cos(damped * span), fade * np.sin(damped * span)


def prepare(notes: Notes, losses: Losses | None, grid: Grid) -> Prepared:
    """Rotation, kicks and answers of the notes on this grid; `losses` None is a lossless string.

    Source: the exact damped rotation of the module's docstring, mode by mode [derived].
    """
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


def push(was_mm: Array, free_mm: Array, soft_mm_per_n: Array, spring_n_per_mm2: float) -> Array:
    """Force of a crown over one step, N, never negative: closed form of depth' = free − soft · F.

    `was_mm` is the depth one step before the force acts, `free_mm` the depth one step after it if nothing pushed,
    mm; `soft_mm_per_n` the answer of the string, mm/N.

    Source: the discrete gradient of V = ½ K [depth]₊², solved for F [derived].
    """
    a = 0.5 * spring_n_per_mm2 * soft_mm_per_n
    with np.errstate(divide="ignore", invalid="ignore"):
        both = was_mm + free_mm
        root = np.sqrt(np.maximum(both**2 - 4.0 * (1.0 + a) * was_mm * free_mm, 0.0))
        enter = np.where(
            both > 0.0, (both + root) / (2.0 * (1.0 + a)), 2.0 * was_mm * free_mm / (both - root)
        )
        entering = np.where(enter > 0.0, 0.5 * spring_n_per_mm2 * enter**2 / (enter - was_mm), 0.0)
        stay = (free_mm - a * was_mm) / (1.0 + a)
        gone = was_mm - free_mm
        root = np.sqrt(gone**2 + 4.0 * a * was_mm**2)
        rise = np.where(gone > 0.0, 0.5 * (gone + root), 2.0 * a * was_mm**2 / (root - gone))
        leaving = 0.5 * spring_n_per_mm2 * was_mm**2 / np.fmax(rise, was_mm)
    inside = np.where(stay > 0.0, 0.5 * spring_n_per_mm2 * (stay + was_mm), leaving)
    outside = np.where(free_mm > 0.0, entering, 0.0)
    return np.where(was_mm > 0.0, inside, outside)


def sweep(
    prepared: Prepared, which: NDArray[np.intp], was_mm: Array, free_mm: Array
) -> tuple[Array, Array, Array]:
    """Forces at all crowns of one step for the notes `which`: force N, depth after it mm, change left N.

    Source: `push` at one crown after another, each seeing what the others gave [derived].
    """
    answer, free_mm, force = prepared.answer[which], free_mm.copy(), np.zeros_like(was_mm)
    change = np.zeros(len(which))
    for _ in range(60):
        change = np.zeros(len(which))
        for j in range(was_mm.shape[1]):
            soft_mm_per_n = answer[:, j, j]
            new = push(
                was_mm[:, j], free_mm[:, j] + soft_mm_per_n * force[:, j], soft_mm_per_n, prepared.spring
            )
            step = new - force[:, j]
            free_mm -= answer[:, :, j] * step[:, None]
            force[:, j] = new
            change = np.maximum(change, np.abs(step))
        if np.all(change <= 1e-15 * force.max(axis=1)):
            break
    return force, free_mm, change


def heights(prepared: Prepared, owner: NDArray[np.intp], place_mm: Array) -> Array:
    """Heights of strings with modal places (M, K) over their crowns, mm, (M, C); `owner` as in `release`.

    Source: the sum of modes, any text on acoustics.
    """
    return np.array([prepared.shape[note] @ modes for note, modes in zip(owner, place_mm, strict=True)])


def release(notes: Notes, prepared: Prepared, owner: NDArray[np.intp], place_mm: Array) -> Strikes:
    """Strings at rest in the shapes `place_mm` (M, K), about to be let go; `owner` (M,) is the note of each.

    Source: a string at rest: every v_k = 0.
    """
    gap = notes.gap_mm[owner]
    here = -(gap + heights(prepared, owner, place_mm))
    stiffness = prepared.mass[:, None] * prepared.omega**2
    give = np.einsum("nck,nk->nc", prepared.shape**2, 1.0 / stiffness)[owner]
    stored = 0.5 * np.sum(stiffness[owner] * place_mm**2, axis=1)
    stored += 0.5 * prepared.spring * np.sum(np.maximum(here, 0.0) ** 2, axis=1)
    count, crowns = here.shape
    return Strikes(
        place=place_mm.copy(),
        speed=np.zeros_like(place_mm),
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
    """Step the strings in plain numpy, all together: the reference, and what runs without a compiler.

    Source: the steps of the module's docstring [derived].
    """
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
    """Energy of string and crowns between the last two steps, N·mm, (M,): constant when nothing is lost.

    Source: modal energy ½ m ω² (q² + v²) plus ½ (V + V') of each crown, as in the module's docstring [derived].
    """
    modes = 0.5 * (prepared.mass[:, None] * prepared.omega**2)[owner] * (state.place**2 + state.speed**2)
    springs = 0.25 * prepared.spring * (np.maximum(state.was, 0) ** 2 + np.maximum(state.here, 0) ** 2)
    total: Array = np.sum(modes, axis=1) + np.sum(springs, axis=1)
    return total
