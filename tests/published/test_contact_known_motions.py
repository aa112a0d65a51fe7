"""Contact against motions that are known in closed form.

- Jean le Rond d'Alembert (1747): the ideal plucked string is half the sum of its shape travelling both ways.
- H. Fletcher (1964), Normal vibration frequencies of a stiff piano string, J. Acoust. Soc. Am. 36, 203: partials of a
  pinned stiff string, f_n = n f0 √(1 + B n²).
- H. Cabannes (1984), "Cordes vibrantes avec obstacles", Acustica 55, 14 [from memory]: ideal string over a
  point obstacle; the case used here is worked out again from the characteristics in `test_point_obstacle`.
- C. Issanchou, J.-L. Le Carrou, C. Touzé, B. Fabre and O. Doaré (2018), String/frets contacts in the electric bass
  sound: Simulations and experiments, Applied Acoustics 129, 217-228: G string of an electric bass, L 0.863 m,
  μ 6.69e-3 kg/m, T 191.6 N, B 3.5e-5.
"""

import numpy as np
import pytest

from breakangle.physics.contact.collide import Grid, prepare, release, run_plain
from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.modes import (
    Losses,
    Pluck,
    angular_frequency_per_ms,
    inharmonicity,
    pluck_shape,
)
from breakangle.physics.contact.screen import envelope
from breakangle.physics.contact.severity import severity
from breakangle.physics.string.laws import stiff_partial_ratio
from contact_setups import Array, bare_note

NO_LOSS = Losses(0.0, 0.0, 0.0, 0.0)
ONE = np.array([0])


def travelling_triangle(place: Array, pluck: float, turns: float) -> Array:
    """d'Alembert's string of length 1 plucked at `pluck` to height 1, after `turns` periods."""

    def shape(x: Array) -> Array:
        folded = (x + 1.0) % 2.0 - 1.0
        along = np.abs(folded)
        return np.sign(folded) * np.where(along <= pluck, along / pluck, (1.0 - along) / (1.0 - pluck))

    return 0.5 * (shape(place - 2.0 * turns) + shape(place + 2.0 * turns))


@pytest.mark.parametrize("pluck_mm", [60.0, 130.0, 200.0])
def test_free_motion_is_dalemberts(pluck_mm: float) -> None:
    places = np.array([40.0, 150.0, 324.0, 500.0])
    notes = bare_note(bending_n_mm2=1e-9, crown_mm=places, gap_mm=np.full(4, 50.0))
    prepared = prepare(notes, None, Grid(400, 1600))
    state = release(notes, prepared, ONE, pluck_shape(notes, Pluck(pluck_mm), 400))
    at = 0
    for turns in (0.1, 0.37, 0.5, 0.83, 1.0, 2.25):
        run_plain(notes, prepared, state, ONE, at, round(1600 * turns) - at)
        at = round(1600 * turns)
        known = travelling_triangle(places / 648.0, 1.0 - pluck_mm / 648.0, turns)
        # 400 modes leave out a corner of about 1/(400 · π² · p(1 − p)/2).
        assert -state.here[0] - 50.0 == pytest.approx(known, abs=4e-3)


@pytest.mark.parametrize("away", [True, False])
@pytest.mark.parametrize("pluck_mm", [60.0, 130.0, 200.0])
def test_envelope_is_the_lowest_of_dalembert(pluck_mm: float, away: bool) -> None:
    places = np.array([40.0, 150.0, 324.0, 500.0])
    notes = bare_note(crown_mm=places, gap_mm=np.full(4, 50.0))
    turns = np.arange(4000) / 4000.0
    sign = 1.0 if away else -1.0
    known = [
        min(sign * travelling_triangle(np.array([x / 648.0]), 1.0 - pluck_mm / 648.0, t)[0] for t in turns)
        for x in places
    ]
    assert envelope(notes, Pluck(pluck_mm, away))[0] == pytest.approx(-np.array(known), abs=2e-3)


def test_exact_depth_of_a_limp_string_is_the_envelope() -> None:
    notes = bare_note(bending_n_mm2=1e-9, crown_mm=np.array([40.0, 150.0, 324.0]), gap_mm=np.full(3, 50.0))
    found = reach(notes, Pluck(130.0), NO_LOSS, np.zeros(0), 2.0, mode_count=400, times_per_period_count=2048)
    assert found.depth[0] == pytest.approx(envelope(notes, Pluck(130.0))[0], abs=4e-3)


def test_point_obstacle() -> None:
    """Plucked at its middle, over a point at its middle at rest height: one strike of 2/π, then up again.

    After a quarter period T the string is straight, everywhere at speed V = 2Ac/L. The middle stops; either
    half swings down and back as a string of its own in another T/4, and pushes on the point with (tension)
    V/c. Both together: 2 (tension) V/c for T/4 = L/(2c), which is an impulse μ V L, or 2/π of μ L A ω₁.
    """
    notes = bare_note(bending_n_mm2=1e-9, crown_mm=np.array([324.0]), gap_mm=np.array([1e-9]))
    for periods, strikes in ((0.9, 1), (1.6, 2), (2.4, 3)):
        done = severity(notes, ONE, np.array([0.5]), Pluck(324.0), None, Grid(400, 2048, periods))
        assert done.impulse_ratio[0] == pytest.approx(strikes * 2.0 / np.pi, rel=0.01)
    period_ms = 2 * np.pi / angular_frequency_per_ms(notes, 1)[0, 0]
    assert done.first_ms[0] == pytest.approx(period_ms / 4.0, rel=0.005)


def test_issanchou_bass_is_a_g() -> None:
    notes = bare_note(length_mm=863.0, tension_n=191.6, unit_mass_g_per_m=6.69, bending_n_mm2=0.0)
    hertz = angular_frequency_per_ms(notes, 1)[0, 0] * 1e3 / (2 * np.pi)
    # Unit mass is printed to three digits: half a digit of it is 0.7 c. G2 is 98.00 Hz in equal temperament.
    assert 1200 * np.log2(hertz / 97.999) == pytest.approx(0.0, abs=1.5)


@pytest.mark.parametrize("bending", [50.0, 400.0, 4000.0])
def test_first_partial_within_a_twentieth_of_a_cent(bending: float) -> None:
    """Read off the stepped motion itself, against the stiff string's formula as another module has it."""
    notes = bare_note(bending_n_mm2=bending, crown_mm=np.array([71.0]), gap_mm=np.array([50.0]))
    grid = Grid(60, 512)
    prepared = prepare(notes, None, grid)
    state = release(notes, prepared, ONE, pluck_shape(notes, Pluck(130.0), 60))
    heard = np.empty(40 * 512)
    for step in range(len(heard)):
        run_plain(notes, prepared, state, ONE, step, 1)
        heard[step] = -state.here[0, 0] - 50.0
    beta = np.sqrt(bending / notes.tension_n[0]) / notes.length_mm[0]
    speed = np.sqrt(notes.tension_n[0] / (notes.unit_mass_g_per_m[0] * 1e-3))
    wanted = (
        speed
        / (2 * notes.length_mm[0])
        * stiff_partial_ratio(partial=1, stiffness_ratio=beta, clamped_ends=0)
    )
    assert inharmonicity(notes)[0] == pytest.approx(np.pi**2 * beta**2)
    found = _strongest_near(heard, prepared.step_ms[0], float(wanted))
    assert 1200 * np.log2(found / wanted) == pytest.approx(0.0, abs=0.05)


def _strongest_near(heard: Array, step_ms: float, about: float) -> float:
    """Frequency, per ms, where a Blackman-windowed transform of the whole take is strongest near `about`."""
    time = step_ms * np.arange(1, len(heard) + 1)
    windowed = heard * np.blackman(len(heard))
    low, high = about * 0.999, about * 1.001
    for _ in range(6):
        tried = np.linspace(low, high, 41)
        size = np.abs(np.exp(-2j * np.pi * tried[:, None] * time) @ windowed)
        best, width = tried[np.argmax(size)], (high - low) / 20
        low, high = best - width, best + width
    return float(best)
