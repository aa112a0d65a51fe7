"""Modes of a stopped string between stop and saddle: frequencies, decay, shapes, and a pluck's shape."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Notes:
    """Stopped strings with the crowns that lie between the stop and the saddle: N notes, C crowns at most.

    Distances run from the stop (nut or held crown) toward the saddle. Where a note has fewer than C crowns
    beyond its stop, `crown_mm` is NaN and `gap_mm` is infinite. Heights are measured from the straight line
    between the two ends of the speaking string; a gap of zero or less means that the string lies on that
    crown at rest.
    """

    length_mm: Array
    """Speaking length, mm, shape (N,)."""
    tension_n: Array
    """Tension, N, shape (N,)."""
    unit_mass_g_per_m: Array
    """Unit mass, g/m, shape (N,)."""
    bending_stiffness_n_mm2: Array
    """Bending stiffness EI, N·mm², shape (N,)."""
    diameter_mm: Array
    """Outer diameter, mm, shape (N,): only the drag of the air needs it."""
    crown_mm: Array
    """Place of each crown from the stop, mm, shape (N, C)."""
    gap_mm: Array
    """String at rest minus crown, mm, shape (N, C)."""
    bending_loss_ratio: Array | None = None
    """Loss factor of each string's material in bending, pure number, shape (N,)."""
    other_loss_ratio: Array | None = None
    """1/Q of what remains at all frequencies, pure number, shape (N,)."""

    @property
    def count(self) -> int:
        """Number of notes.

        Source: counting; no physics.
        """
        return len(self.length_mm)

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> "Notes":
        """The chosen notes, in that order.

        Source: choosing rows; no physics.
        """
        fields = ((name, getattr(self, name)) for name in self.__dataclass_fields__)
        taken: dict[str, Any] = {name: None if one is None else one[which] for name, one in fields}
        return Notes(**taken)


@dataclass(frozen=True)
class Losses:
    """What takes the vibration's energy: numbers come from tables, never from here."""

    air_viscosity_pa_s: float
    air_density_kg_per_m3: float
    bending_loss_ratio: float | None = None
    """Loss factor of every string's material in bending, pure number; None: each note's own."""
    other_loss_ratio: float | None = None
    """1/Q of what remains at all frequencies (friction inside the string, ends), pure number; None: each note's own."""

    def of_material(self, notes: Notes) -> tuple[Array, Array]:
        """Return the loss in bending and the rest, for each of the notes, shape (N, 1) each; one of both gives them.

        Source: the rows of reference/data/materials, each with its source there.
        """
        found = []
        for name in ("bending_loss_ratio", "other_loss_ratio"):
            given = getattr(self, name)
            value = getattr(notes, name) if given is None else given
            assert value is not None, f"{name} is given neither for all notes nor by the notes"
            found.append(np.broadcast_to(np.asarray(value, dtype=np.float64), (notes.count,))[:, None])
        return found[0], found[1]


@dataclass(frozen=True)
class Pluck:
    """Where and which way a string is let go; how high is given apart: it is linear until it touches.

    `away` is True for a release from above the resting string (away from the board), False from below it.
    """

    saddle_distance_mm: float
    away: bool = True
    furthest_ratio: float = 0.75
    """A pluck never comes nearer to the stop than this share of the speaking length from the saddle."""

    def from_stop_mm(self, length_mm: Array) -> Array:
        """Distance of the pluck from the stop, mm, same shape as `length_mm`.

        Source: lengths; no physics.
        """
        return length_mm - np.minimum(self.saddle_distance_mm, self.furthest_ratio * length_mm)


def inharmonicity(notes: Notes) -> Array:
    """Inharmonicity coefficient B of each note, pure number, shape (N,).

    Source: Fletcher (1964), "Normal vibration frequencies of a stiff piano string": B = π² EI / (T L²).
    """
    return np.pi**2 * notes.bending_stiffness_n_mm2 / (notes.tension_n * notes.length_mm**2)


def angular_frequency_per_ms(notes: Notes, mode_count: int) -> Array:
    """Angular frequency of each mode of a pinned stiff string, rad/ms, shape (N, mode_count).

    Source: Fletcher (1964): f_k = k f0 √(1 + B k²), f0 = √(T/μ)/(2 L).
    """
    k = np.arange(1.0, mode_count + 1.0)
    speed_mm_per_ms = np.sqrt(notes.tension_n / (notes.unit_mass_g_per_m * 1e-3))
    base = np.pi * speed_mm_per_ms / notes.length_mm
    return base[:, None] * k * np.sqrt(1.0 + inharmonicity(notes)[:, None] * k**2)


def decay_per_ms(notes: Notes, losses: Losses, mode_count: int) -> Array:
    """Decay rate σ of each mode's amplitude, 1/ms, shape (N, mode_count).

    1/Q is the sum of three terms: air drag R/(2π μ f) with R = 2π η + 2π d √(π η ρ f), loss in bending 4π²
    μ EI δ f²/T² (the bending share of a mode's energy, k²π²EI/(T L²), times the material's loss factor δ),
    and a remainder that does not depend on frequency; σ = π f / Q. Source: form and air drag: Valette and
    Cuesta (1993), "Mécanique de la corde vibrante", as used by Issanchou et al. (2017), "A modal-based
    approach to the nonlinear vibration of strings against a unilateral obstacle", J. Sound Vib. 393 (from
    memory; the bending term derived again here).
    """
    hertz = angular_frequency_per_ms(notes, mode_count) * 1e3 / (2.0 * np.pi)
    mass_kg_per_m = notes.unit_mass_g_per_m[:, None] * 1e-3
    diameter_m = notes.diameter_mm[:, None] * 1e-3
    root = np.sqrt(np.pi * losses.air_viscosity_pa_s * losses.air_density_kg_per_m3 * hertz)
    drag = 2.0 * np.pi * (losses.air_viscosity_pa_s + diameter_m * root)
    k = np.arange(1.0, mode_count + 1.0)
    in_bending, rest = losses.of_material(notes)
    loss = (
        drag / (2.0 * np.pi * mass_kg_per_m * hertz)
        + inharmonicity(notes)[:, None] * k**2 * in_bending
        + rest
    )
    return np.pi * hertz * loss * 1e-3


def shapes(notes: Notes, at_mm: Array, mode_count: int) -> Array:
    """Mode shapes sin(kπx/L) at the places `at_mm`, (N, M) to (N, M, mode_count); zeros where NaN.

    Source: a pinned string, any text on acoustics.
    """
    found = np.zeros((*at_mm.shape, mode_count))
    there = np.isfinite(at_mm)
    angle = np.pi * (at_mm / notes.length_mm[:, None])[there]
    found[there] = np.sin(angle[:, None] * np.arange(1.0, mode_count + 1.0))
    return found


def modal_mass_g(notes: Notes) -> Array:
    """Mass of every mode, g, shape (N,): μ L / 2.

    Source: ∫ μ sin²(kπx/L) dx over the length [derived].
    """
    return notes.unit_mass_g_per_m * 1e-3 * notes.length_mm / 2.0


def static_series(angle_radians: Array, stiffness_ratio: Array) -> Array:
    """Sum over all k of sin²(kθ) / (k² (1 + B k²)), pure number: how a string gives where it is pushed.

    `angle_radians` is θ = π x/L in 0 … π and `stiffness_ratio` the inharmonicity B, broadcast together. B = 0 gives
    θ (π − θ)/2.

    Source: partial fractions and Σ cos(kθ)/(k² + a²) = π cosh(a(π − θ))/(2a sinh(aπ)) − 1/(2a²), a = 1/√B [derived];
    the series: Gradshteyn and Ryzhik, "Table of Integrals, Series, and Products", 1.445.2, from memory.
    """
    edge = np.sqrt(np.maximum(stiffness_ratio, 1e-12))
    near, far = np.exp(-2.0 * angle_radians / edge), np.exp(-2.0 * (np.pi - angle_radians) / edge)
    whole = np.exp(-2.0 * np.pi / edge)
    layer = (1.0 + whole - near - far) / (1.0 - whole)
    given: Array = angle_radians * (np.pi - angle_radians) / 2.0 - np.pi * edge / 4.0 * layer
    return given


def pluck_shape(notes: Notes, pluck: Pluck, mode_count: int) -> Array:
    """Modal amplitudes per mm of pluck height, (N, mode_count): a point force lifts its own place by 1 mm.

    Derived: a static point force at p gives mode k an amplitude in proportion to sin(kπp/L)/(k² (1 + B
    k²)); the whole series is one at p. The sign is that of the release: negative from below.

    Source: the static point force above [derived].
    """
    angle = np.pi * pluck.from_stop_mm(notes.length_mm) / notes.length_mm
    stiffness = inharmonicity(notes)
    k = np.arange(1.0, mode_count + 1.0)
    unit: Array = np.sin(angle[:, None] * k) / (k**2 * (1.0 + stiffness[:, None] * k**2))
    unit /= static_series(angle, stiffness)[:, None]
    return unit if pluck.away else -unit
