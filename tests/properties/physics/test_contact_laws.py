"""Laws of contact: energy, sign of the force, convergence, both forms equal, and what bounds what."""

import os
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from breakangle.physics.contact import kernel
from breakangle.physics.contact.collide import Grid, energy, heights, prepare, push, release, run_plain
from breakangle.physics.contact.kernel import Compiled
from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.modes import Notes, Pluck, pluck_shape, static_series
from breakangle.physics.contact.screen import energy_reach
from breakangle.physics.contact.severity import severity, usual_grid
from breakangle.physics.contact.start import held_down
from contact_setups import LOSSES, Array, bare_note, steel_board

PICK = Pluck(130.0)
HEIGHTS = np.array([0.3, 0.5, 1.0])
depth_mm = st.floats(-0.5, 0.5)


@pytest.fixture(scope="module")
def low_board() -> Notes:
    return steel_board(0.8, 0.8, 0.1)


def compiled_or_skip() -> None:
    if kernel.library() is None:
        if os.environ.get("CI"):
            pytest.fail("the contact kernel was not built, and CI must test it")
        pytest.skip("no C compiler built the contact kernel here: only the numpy form is tested")


@given(was=depth_mm, free=depth_mm, soft=st.floats(1e-7, 1e-1), spring=st.floats(1.0, 1e6))
@settings(max_examples=500, deadline=None)
def test_push_is_never_negative_and_keeps_energy(was: float, free: float, soft: float, spring: float) -> None:
    force = float(push(np.array(was), np.array(free), np.array(soft), spring))
    assert force >= 0.0
    now = free - soft * force
    stored = 0.5 * spring * (max(now, 0.0) ** 2 - max(was, 0.0) ** 2)
    scale = 0.5 * spring * (max(now, 0.0) ** 2 + max(was, 0.0) ** 2) + force * (abs(free) + abs(was))
    assert force * (now - was) == pytest.approx(stored, abs=1e-9 * scale + 1e-15)


@pytest.mark.parametrize("spring", [1e2, 1e4, 1e5])
@pytest.mark.parametrize("compiled", [True, False])
def test_energy_is_kept_through_contact(low_board: Notes, spring: float, compiled: bool) -> None:
    """Lossless balance to 1e-10 of the pluck's energy, and never a pulling force."""
    if compiled:
        compiled_or_skip()
    notes = low_board.take(np.array([1, 30, 66, 115]))
    owner = np.arange(4)
    grid = Grid(200, 1024, 3.0, spring) if compiled else Grid(60, 400, 2.0, spring)
    prepared = prepare(notes, None, grid)
    state = release(notes, prepared, owner, pluck_shape(notes, PICK, grid.mode_count) * 1.0)
    run_plain(notes, prepared, state, owner, 0, 1)
    start = energy(prepared, owner, state)
    for part in range(1, grid.step_count, 200):
        count = min(200, grid.step_count - part)
        if compiled:
            Compiled(prepared).run(notes, state, owner, part, count)
        else:
            run_plain(notes, prepared, state, owner, part, count)
        assert energy(prepared, owner, state) == pytest.approx(start, rel=1e-10)
    assert np.all(state.touched.sum(axis=1) > 0)
    assert np.all(state.least_force >= 0.0)
    assert np.all(state.residual <= 1e-8 * state.most_force.max(axis=1))


def test_losses_only_take_energy(low_board: Notes) -> None:
    notes, owner = low_board.take(np.array([1, 66, 115])), np.arange(3)
    prepared = prepare(notes, LOSSES, Grid(100, 512))
    state = release(notes, prepared, owner, pluck_shape(notes, PICK, 100))
    run_plain(notes, prepared, state, owner, 0, 1)
    last = energy(prepared, owner, state)
    for part in range(1, 1536, 64):
        run_plain(notes, prepared, state, owner, part, 64)
        now = energy(prepared, owner, state)
        assert np.all(now <= last * (1.0 + 1e-12))
        last = now


@pytest.mark.parametrize("away", [True, False])
def test_both_forms_agree(low_board: Notes, away: bool) -> None:
    compiled_or_skip()
    pluck, grid = Pluck(130.0, away), Grid(120, 640, 3.0)
    owner, height = np.arange(2, 130, 11), np.full(12, 0.7)
    plain = severity(low_board, owner, height, pluck, LOSSES, grid, compiled=False)
    fast = severity(low_board, owner, height, pluck, LOSSES, grid)
    assert np.count_nonzero(plain.impulse_ratio) >= 5
    assert fast.impulse_ratio == pytest.approx(plain.impulse_ratio, rel=1e-6, abs=1e-9)
    assert fast.low_loss_ratio == pytest.approx(plain.low_loss_ratio, abs=1e-6)
    assert np.array_equal(fast.first_crown, plain.first_crown)
    assert np.array_equal(fast.first_ms, plain.first_ms, equal_nan=True)


def test_every_width_of_the_kernel_agrees(low_board: Notes, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a smaller processor would run gives the same impulses."""
    compiled_or_skip()
    owner, height = np.arange(2, 130, 11), np.full(12, 0.7)
    found = {}
    for lanes in [one for one in (2, 4, 8) if one <= kernel.lanes()]:
        monkeypatch.setattr(kernel, "lanes", lambda lanes=lanes: lanes)
        found[lanes] = severity(low_board, owner, height, PICK, LOSSES, Grid(120, 640, 3.0)).impulse_ratio
    assert 2 in found
    for other in found.values():
        assert other == pytest.approx(found[2], rel=1e-6, abs=1e-9)


def test_both_forms_of_the_decision_agree(low_board: Notes) -> None:
    compiled_or_skip()
    fast = reach(low_board, PICK, LOSSES, HEIGHTS, 3.0)
    plain = reach(low_board, PICK, LOSSES, HEIGHTS, 3.0, compiled=False)
    assert np.allclose(fast.depth, plain.depth, atol=1e-10, equal_nan=True)
    assert np.array_equal(fast.first_crown, plain.first_crown)


def test_without_the_kernel_numpy_does_it(low_board: Notes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("breakangle.physics.contact.severity.library", lambda: None)
    monkeypatch.setattr("breakangle.physics.contact.linear.library", lambda: None)
    done = severity(low_board, np.array([30]), np.array([0.7]), PICK, LOSSES, Grid(60, 320, 2.0))
    assert done.impulse_ratio[0] > 0.0
    assert reach(low_board.take(np.array([30])), PICK, LOSSES, HEIGHTS, 1.0).first_crown[0, 2] >= 0


def touching(notes: Notes) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    note, level = np.nonzero(reach(notes, PICK, LOSSES, HEIGHTS).first_crown >= 0)
    return note, level


def change(one: Array, other: Array) -> Array:
    return np.abs(one / other - 1.0)


def test_looking_ahead_changes_nothing(low_board: Notes) -> None:
    """The kernel skips what it proves to be free: every push comes at the same step as when none is skipped."""
    compiled_or_skip()
    owner = np.arange(2, 130, 25)
    notes, each, grid = low_board.take(owner), np.arange(len(owner)), Grid(240, 4096, 1.5)
    prepared = prepare(notes, LOSSES, grid)
    place = pluck_shape(notes, PICK, grid.mode_count) * 0.9 * prepared.kept
    plain, fast = release(notes, prepared, each, place), release(notes, prepared, each, place)
    run_plain(notes, prepared, plain, each, 0, grid.step_count)
    Compiled(prepared).run(notes, fast, each, 0, grid.step_count)
    assert plain.touched.sum() > 500
    assert np.array_equal(fast.touched, plain.touched)
    assert np.array_equal(fast.first, plain.first)
    assert fast.impulse == pytest.approx(plain.impulse, rel=1e-6, abs=1e-9)
    assert fast.place == pytest.approx(plain.place, abs=1e-9)


def test_impulse_is_within_five_percent_of_the_reference() -> None:
    """Twenty-four notes that touch, from a set-up with ordinary gaps and one with none to spare.

    The reference is 800 modes at 8192 steps a period; every note of both set-ups: `python -m bench contact`.
    """
    compiled_or_skip()
    for board in (steel_board(1.5, 1.25, 0.25), steel_board(0.8, 0.8, 0.1)):
        note, level = touching(board)
        every = slice(3, None, len(note) // 12)
        best, used = (
            severity(board, note[every], HEIGHTS[level[every]], PICK, LOSSES, grid)
            for grid in (Grid(800, 8192), usual_grid(8.0))
        )
        assert change(used.impulse_ratio, best.impulse_ratio).max() < 0.05
        assert np.all(used.least_force_n >= 0.0)


def test_first_touch_of_decision_and_contact_agree() -> None:
    compiled_or_skip()
    board = steel_board(1.0, 1.0, 0.2)
    found = reach(board, PICK, LOSSES, HEIGHTS, mode_count=400, times_per_period_count=2048)
    note, level = np.nonzero(found.first_crown >= 0)
    done = severity(board, note, HEIGHTS[level], PICK, LOSSES, Grid())
    clear_touch = done.impulse_ratio > 0.02
    step_ms = prepare(board.take(note), LOSSES, Grid(8, 2048)).step_ms
    late = np.abs(done.first_ms - found.first_ms[note, level])[clear_touch]
    assert np.count_nonzero(clear_touch) > 50
    assert np.quantile(late / step_ms[clear_touch], 0.95) <= 3.0


def test_energy_bounds_every_motion(low_board: Notes) -> None:
    notes = low_board.take(np.arange(1, 132, 13))
    owner = np.arange(notes.count)
    grid = Grid(100, 512)
    prepared = prepare(notes, None, grid)
    state = release(notes, prepared, owner, pluck_shape(notes, PICK, 100))
    most = energy_reach(notes, PICK) * 1.01 + 0.01
    for step in range(900):
        run_plain(notes, prepared, state, owner, step, 1)
        height = heights(prepared, owner, state.place)
        assert np.all(np.abs(height)[np.isfinite(most)] <= most[np.isfinite(most)])


@given(angle=st.floats(0.05, 3.09), stiffness=st.floats(1e-6, 5e-3))
@settings(max_examples=60, deadline=None)
def test_static_series_is_its_sum(angle: float, stiffness: float) -> None:
    k = np.arange(1.0, 200001.0)
    whole = np.sum(np.sin(k * angle) ** 2 / (k**2 * (1.0 + stiffness * k**2)))
    assert static_series(np.array(angle), np.array(stiffness)) == pytest.approx(whole, rel=1e-4)


def test_a_string_held_down_lies_on_its_crowns() -> None:
    """Pressed below the crowns: none of them pulls, the pluck is where it is held, and the crowns carry."""
    places = np.array([100.0, 200.0, 300.0, 400.0])
    notes = bare_note(crown_mm=places, gap_mm=np.array([0.2, 0.25, 0.3, 0.6]))
    prepared = prepare(notes, None, Grid(200, 1024))
    pluck = Pluck(130.0, away=False)
    place = held_down(notes, prepared, 0, pluck, 1.5)
    height = prepared.shape[0] @ place
    at_pluck = np.sin(np.pi * (1 - 130.0 / 648.0) * np.arange(1, 201)) * prepared.kept[0] @ place
    assert at_pluck == pytest.approx(-1.5)
    depth = -(notes.gap_mm[0] + height)
    assert np.all(depth <= 1e-3)
    assert np.count_nonzero(depth > 0.0) >= 1
    done = severity(notes, np.array([0]), np.array([1.5]), pluck, None, Grid(200, 1024, 2.0), compiled=False)
    assert done.least_force_n[0] >= 0.0
    assert done.first_ms[0] == 0.0


def test_swing_is_proportional_to_the_pluck(low_board: Notes) -> None:
    one = reach(low_board, PICK, LOSSES, np.array([0.4]))
    half = replace(low_board, gap_mm=low_board.gap_mm / 2.0)
    other = reach(half, PICK, LOSSES, np.array([0.2]))
    assert np.array_equal(one.first_crown, other.first_crown)
    assert np.array_equal(one.depth, other.depth, equal_nan=True)
