"""Gaps and neck shapes against general-purpose libraries, and the laws they must keep."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.spatial import ConvexHull

from breakangle.physics.neck.bend import bending_shapes, board_drop_mm
from breakangle.physics.neck.gaps import fret_positions_mm, gaps, open_clearance_mm

heights = st.lists(st.floats(-0.5, 0.5), min_size=24, max_size=24)


def _points(crowns: list[float], nut_mm: float, saddle_mm: float) -> tuple[np.ndarray, np.ndarray]:
    x = np.append(fret_positions_mm(648.0, 22), 648.0)
    y = np.concatenate([[nut_mm], crowns[:22], [saddle_mm]])
    return x, y


def _one(x: np.ndarray, y: np.ndarray, fret: int, left: int, right: int):  # type: ignore[no-untyped-def]
    index = [np.array([one], dtype=np.intp) for one in (fret, left, right)]
    return gaps(x[None, :], y[None, :], *index)


@settings(max_examples=150, deadline=None)
@given(heights, st.integers(1, 22), st.integers(0, 21), st.integers(2, 23))
def test_the_taut_string_is_the_upper_hull_that_scipy_finds(crowns, fret, left, right):
    left, right = min(left, fret - 1), max(right, fret + 1)
    x, y = _points(crowns, 0.5, 4.0)
    found = _one(x, y, fret, left, right).gap_mm[0]
    span = np.column_stack([x[left : right + 1], y[left : right + 1]])
    floor = span[:, 1].min() - 1000.0
    corners = np.vstack([span, [[span[0, 0], floor], [span[-1, 0], floor]]])
    on_top = np.array(sorted(one for one in ConvexHull(corners).vertices if one < len(span)))
    expected = np.interp(x[fret], span[on_top, 0], span[on_top, 1]) - y[fret]
    assert abs(found - max(expected, 0.0)) < 1e-9


@settings(max_examples=100, deadline=None)
@given(heights, st.integers(2, 21), st.floats(0.01, 1.0))
def test_raising_a_support_never_lowers_the_string_and_no_gap_is_negative(crowns, fret, up_mm):
    x, y = _points(crowns, 0.5, 4.0)
    before = _one(x, y, fret, 1, 23)
    higher = y.copy()
    higher[-1] += up_mm
    after = _one(x, higher, fret, 1, 23)
    assert after.gap_mm[0] >= before.gap_mm[0] >= 0.0
    assert np.isclose(before.left_ratio[0] + before.right_ratio[0], 1.0)


def test_the_gap_is_what_its_supports_carry():
    x, y = _points([0.02 * np.sin(n) for n in range(22)], 0.5, 4.0)
    found = _one(x, y, 12, 1, 23)
    carried = found.left_ratio[0] * y[found.left[0]] + found.right_ratio[0] * y[found.right[0]]
    assert np.isclose(carried - y[12], found.gap_mm[0])


@settings(max_examples=60, deadline=None)
@given(heights)
def test_open_clearance_is_the_open_gap_wherever_the_string_is_free(crowns):
    x, y = _points(crowns, 1.2, 8.0)
    clear = open_clearance_mm(x[None, :], y[None, :], np.array([0], dtype=np.intp))[0]
    if clear.min() > 0.0:
        found = [_one(x, y, fret, 0, 23).gap_mm[0] for fret in range(1, 23)]
        assert np.allclose(clear, found)


def test_neck_shapes_are_the_twice_integrated_curvatures_of_a_clamped_beam():
    curvatures = (lambda u: 1.0, lambda u: 1.0 - 2.0 * u, lambda u: 6.0 * u * u - 6.0 * u + 1.0)
    places = np.linspace(0.0, 1.0, 21)
    for shape, curvature in zip(bending_shapes(places), curvatures, strict=True):
        # From the clamp at u = 1 back to the nut; 8 makes even bending's amplitude its sag.
        solved = solve_ivp(
            lambda u, state, c=curvature: [state[1], 8.0 * c(u)],
            (1.0, 0.0),
            [0.0, 0.0],
            t_eval=places[::-1],
            rtol=1e-9,
            atol=1e-12,
        )
        assert np.allclose(shape[::-1], solved.y[0], atol=1e-7)


def test_the_first_shape_sags_one_millimetre_and_nothing_bends_past_the_joint():
    nut, middle, joint = bending_shapes(np.array([0.0, 0.5, 1.0]))[0]
    assert np.isclose((nut + joint) / 2.0 - middle, 1.0)
    assert np.allclose(bending_shapes(np.array([1.0, 1.2, 1.6])), 0.0, atol=1e-12)


@given(st.floats(0.0, 30.0), st.floats(60.0, 5000.0))
def test_the_board_drops_as_its_circle_does_and_a_flat_board_does_not(z_mm, radius_mm):
    drop = float(board_drop_mm(np.array(z_mm), np.array(radius_mm)))
    assert np.isclose((radius_mm - drop) ** 2 + z_mm**2, radius_mm**2, rtol=1e-9)
    assert float(board_drop_mm(np.array(z_mm), np.array(np.inf))) == 0.0
