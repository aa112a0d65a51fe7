"""The bench's instruments of another hand: their geometry, pitch, rod, gauges and slips against laws of their own.

Expected values are derived here by other means than the generator's (chords instead of a hull, formulas instead of a
polyline), each beside its check.
"""

import copy

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.workshop import figures
from bench.workshop.arrivals import arrival, blank, months_later, sound
from bench.workshop.instrument import WorkshopInstrument, length_of, taut
from bench.workshop.readings import Reader, same_place
from bench.workshop.wanted import figure_of, out_by_truth, targets_of, wanted_of
from breakangle.model.service import Service
from breakangle.reference.families import families

KINDS = families()
heights = st.lists(st.floats(-1.0, 1.0), min_size=3, max_size=24)


def level(kind: str = "electric-guitar", seed: int = 1) -> WorkshopInstrument:
    """Return an instrument with crowns level and wood straight, so that what is planted stands alone."""
    one = blank(kind, seed)
    one.crown_mm[:] = 0.0
    return one


def reader(one: WorkshopInstrument, seed: int = 0, **told: object) -> Reader:
    return Reader(one, np.random.default_rng(seed), **told)  # type: ignore[arg-type]


# -- geometry ------------------------------------------------------------------------------------------------------


@given(heights)
@settings(max_examples=60, deadline=None)
def test_a_taut_string_is_the_highest_chord_over_every_point(given_mm):
    """Over each point the string stands as high as the highest chord between a point before and one after (derived)."""
    points = [(10.0 * i, y) for i, y in enumerate(given_mm)]
    line = taut(points)
    for i, (x, y) in enumerate(points):
        chords = [
            a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0])
            for a in points[: i + 1] for b in points[i:] if b[0] > a[0]
        ]  # fmt: skip
        hull = np.interp(x, [p[0] for p in line], [p[1] for p in line])
        assert hull == pytest.approx(max([*chords, y]), abs=1e-9)


@pytest.mark.parametrize("kind", KINDS)
def test_a_gap_is_the_highest_chord_less_the_crown_and_never_below_nothing(kind):
    one = arrival(kind, 7)
    for target in wanted_of(one):
        if figure_of(target) == "intonation":
            continue
        first = one.first[target.string - 1]
        points = one.points(target.string)
        at = target.fret - first
        left = max([h for h in target.held if h < target.fret], default=first) - first
        right = min([h - first for h in target.held if h > target.fret], default=len(points) - 1)
        x, y = points[at]
        chord = max(
            points[a][1] + (points[b][1] - points[a][1]) * (x - points[a][0]) / (points[b][0] - points[a][0])
            for a in range(left, at + 1) for b in range(at, right + 1) if b > a
        )  # fmt: skip
        gap = one.gap_mm(target.string, target.fret, target.held)
        assert gap == pytest.approx(max(chord - y, 0.0), abs=1e-9)
        assert gap >= 0.0
        assert gap >= one.clearance_mm(target.string, target.fret, target.held) - 1e-9


def test_the_length_of_a_line_is_that_of_its_parts():
    assert length_of([(0.0, 0.0), (3.0, 4.0), (3.0, 5.0)]) == pytest.approx(6.0)


@pytest.mark.parametrize("kind", KINDS)
def test_a_sound_instrument_has_everything_inside(kind):
    one = sound(kind, 3)
    assert out_by_truth(one, wanted_of(one)).max() <= 0.95


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_wanted_covers_every_string(kind):
    """Relief at two edges; action and octave of every string; a slot of every string that runs to the nut."""
    one = blank(kind, 0)
    names = [figure_of(target) for target in wanted_of(one)]
    assert names.count("relief") == 2
    assert names.count("action") == names.count("intonation") == one.count
    assert names.count("nut") == sum(first == 0 for first in one.first)
    Service(instrument=one.instrument, targets=targets_of(one), readings=tuple(reader(one).full_set()))


def test_the_short_string_of_a_banjo_begins_at_its_own_nut():
    one = blank("banjo-five", 0)
    fifth = [target for target in wanted_of(one) if target.string == 5]
    assert [(figure_of(t), t.fret, getattr(t, "held", None)) for t in fifth] == [
        ("action", 17, ()),
        ("intonation", 17, None),
    ]
    assert one.points(5)[0][0] == pytest.approx(one.fret_x[4, 5])


def test_a_zero_fret_has_no_slot_to_file():
    one = arrival("electric-guitar", 4, zero_fret=True)
    assert "nut" not in {figure_of(target) for target in wanted_of(one)}
    assert one.nut_mm.max() < 0.08


@pytest.mark.parametrize("bridge", ["individual", "two-post", "one-piece", "floating"])
def test_every_kind_of_bridge_can_be_asked_for(bridge):
    one = arrival("electric-guitar", 5, bridge)
    assert one.instrument.bridge.kind == bridge
    assert (one.instrument.bridge.position_mm_per_turn is None) == (bridge == "one-piece")


def test_one_seed_gives_one_instrument():
    first, second = arrival("bass-four", 9), arrival("bass-four", 9)
    assert out_by_truth(first, wanted_of(first)) == pytest.approx(out_by_truth(second, wanted_of(second)))


# -- rod, strings, seasons -----------------------------------------------------------------------------------------


def test_after_a_change_of_direction_the_first_part_of_a_turn_does_nothing():
    neck = level().neck
    neck.turn(0.5)
    working = neck.rod_turns()
    neck.turn(-0.9 * neck.slack_turns)
    assert neck.rod_turns() == working
    neck.turn(-0.2)
    assert neck.rod_turns() < working


def test_tightening_lessens_relief_and_loosening_adds_to_it():
    one = level()
    start = one.relief_mm(1)
    one.neck.turn(0.5)
    tight = one.relief_mm(1)
    one.neck.turn(-1.0)
    assert tight < start < one.relief_mm(1)


def test_a_rod_of_one_way_lets_go_of_the_wood_once_it_is_loose():
    neck = level().neck
    assert neck.one_way
    neck.turn(neck.least_turns - 1.0)
    loose = neck.rod_turns()
    neck.turn(-1.0)
    assert neck.rod_turns() == loose


def test_a_higher_string_plays_sharper():
    one = level()
    before = one.stopped_cents(1, 12)
    one.saddle_mm[0] += 1.0
    assert one.stopped_cents(1, 12) > before


def test_a_higher_slot_sharpens_the_first_fret_most():
    one = level()
    before = [one.stopped_cents(2, fret) for fret in (1, 3, 12)]
    one.nut_mm[1] += 0.3
    grown = [one.stopped_cents(2, fret) - b for fret, b in zip((1, 3, 12), before, strict=True)]
    assert grown[0] > 2.0 * grown[1] > 0.0
    assert grown[0] > 3.0 * abs(grown[2])


def test_a_season_changes_the_instrument_and_keeps_what_it_is():
    one = arrival("steel-acoustic-guitar", 6)
    kept = copy.deepcopy(one)
    months_later(one, 6)
    assert one.bow_mm != kept.bow_mm
    assert one.instrument == kept.instrument
    assert one.neck.rod == pytest.approx(kept.neck.rod)


# -- gauges and slips ----------------------------------------------------------------------------------------------


def test_four_in_a_hundred_figures_are_mistyped():
    """3,000 figures at 4 %: 120 ± 11 slips; four spreads to either side."""
    one = arrival("electric-guitar", 2)
    maker = reader(one)
    while maker.figures_read < 3000:
        maker.full_set()
    share = maker.slips / maker.figures_read
    assert share == pytest.approx(figures.MISTYPED_SHARE, abs=4 * (0.04 * 0.96 / 3000) ** 0.5)


def test_a_figure_mistyped_is_another_and_fits_the_service_file():
    one = arrival("electric-guitar", 2)
    maker = reader(one, mistyped_share=1.0)
    right = [taken for target in wanted_of(one) for taken in maker._of(target)]
    wrong = maker.written(right)
    assert all(same_place(a, b) for a, b in zip(right, wrong, strict=True))
    assert sum(a != b for a, b in zip(right, wrong, strict=True)) >= 0.9 * len(right)
    Service(instrument=one.instrument, readings=tuple(wrong))


@pytest.mark.parametrize(("coarse", "spread"), [(False, 0.0104), (True, 0.0301)])
def test_the_nut_is_read_by_fine_feelers_or_by_coarse_ones(coarse, spread):
    """The spread of the gauge with that of rounding to 0.01: √(s² + 0.01²/12); 400 readings know it to 3.5 %."""
    one = level()
    one.nut_mm[:] += 0.4
    true = one.gap_mm(4, 1, (3,))
    maker = reader(one, coarse_nut=coarse, mistyped_share=0.0)
    read = [maker.gap(4, 1, (3,)).mm - true for _ in range(400)]
    assert np.std(read) == pytest.approx(spread, rel=0.15)
    assert abs(np.mean(read)) < 4 * spread / 20


def test_a_finger_scatters_more_at_the_first_frets():
    one = level()
    maker = reader(one, mistyped_share=0.0)
    low = np.std([maker.pitch(3, 2).cents for _ in range(300)])
    high = np.std([maker.pitch(3, 12).cents for _ in range(300)])
    assert low == pytest.approx(np.hypot(1.5, 0.25), rel=0.2)
    assert high == pytest.approx(np.hypot(0.5, 0.25), rel=0.2)
