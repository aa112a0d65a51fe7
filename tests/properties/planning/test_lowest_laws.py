"""The lowest set-up: free of contact, at the edge of it, and no higher than it need be."""

from dataclasses import replace

import numpy as np
import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.planning.buzz.contact_notes import board_notes
from breakangle.planning.buzz.figures import relief_of, relief_reach
from breakangle.planning.buzz.lowest import levelled, lowest
from breakangle.planning.buzz.no_buzz import conflicts, floors
from breakangle.planning.buzz.set_up import present
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.state.picture import Picture, picture_of
from breakangle.reference.strength import Playing, playing
from contact_setups import left_mm, service

MARGIN_MM = 0.02


@pytest.fixture(scope="module")
def now() -> Estimate:
    return estimate(service())


@pytest.fixture(scope="module")
def hand() -> Playing:
    return playing("electric-guitar")


def test_a_gaps_spread_is_that_of_its_own_row_and_its_row_is_its_slope(now: Estimate) -> None:
    """By first-order propagation, JCGM 100:2008 (GUM), equation (13), row by row; and each row by differences."""
    board, covariance = board_notes(now.picture), now.belief.covariance
    by_row = np.sqrt(np.einsum("ncs,st,nct->nc", board.gap_rows, covariance, board.gap_rows))
    assert board.spread_mm(covariance) == pytest.approx(by_row, abs=1e-12)
    assert by_row.max() > 0.01
    step = np.random.default_rng(3).normal(0.0, 1e-3, len(now.belief.mean))
    moved = board_notes(replace(now.picture, mean=now.picture.mean + step)).notes.gap_mm
    there = np.isfinite(moved)
    slope = (board.gap_rows @ step)[there]
    assert moved[there] - board.notes.gap_mm[there] == pytest.approx(slope, abs=1e-12)


@pytest.mark.parametrize("strength", ["light", "medium", "heavy"])
def test_lowest_is_free_by_the_exact_motion_and_by_no_more(
    now: Estimate, hand: Playing, strength: str
) -> None:
    found = lowest(now.picture, hand, strength, MARGIN_MM)
    assert left_mm(found.picture, hand, strength) == pytest.approx(MARGIN_MM, abs=1e-6)


def test_no_saddle_can_come_down_further(now: Estimate, hand: Playing) -> None:
    found = lowest(now.picture, hand, "medium", MARGIN_MM)
    saddles = found.picture.layout["saddle_height"]
    for saddle in saddles:
        mean = found.picture.mean.copy()
        mean[saddle] -= 0.01
        assert left_mm(picture_of(found.picture.board, mean), hand, "medium") < MARGIN_MM - 1e-6
    assert {one.string for one in found.limits} == set(range(1, len(saddles) + 1))


def test_no_other_relief_is_lower(now: Estimate, hand: Playing) -> None:
    best = lowest(now.picture, hand, "medium", MARGIN_MM)
    reliefs = [0.0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4]
    curve = [lowest(now.picture, hand, "medium", MARGIN_MM, one) for one in reliefs]
    actions = [one.action_mm.mean() for one in curve]
    assert min(actions) >= best.action_mm.mean() - 1e-3
    assert actions[0] > best.action_mm.mean() + 0.05
    assert np.all(np.diff(actions, 2) > -0.02), "a linear programme's value is convex in what is held"
    assert [one.relief_mm for one in curve] == pytest.approx(reliefs, abs=1e-9)


def test_harder_play_and_more_to_spare_cost_action(now: Estimate, hand: Playing) -> None:
    light, medium, heavy = (
        lowest(now.picture, hand, one).action_mm.mean() for one in ("light", "medium", "heavy")
    )
    assert light < medium < heavy
    assert lowest(now.picture, hand, "medium", 0.1).action_mm.mean() > medium + 0.05


def test_floors_are_the_gaps(now: Estimate, hand: Playing) -> None:
    """What a condition lacks changes with the state as its row says, by the full geometry."""
    before = floors(now.picture, hand, "medium", MARGIN_MM)
    random = np.random.default_rng(3)
    step = np.zeros(now.picture.layout.size)
    for block in ("neck", "twist", "fall", "crown", "crown_tilt", "nut_height", "saddle_height"):
        places = now.picture.layout[block]
        step[places] = 0.02 * random.standard_normal(len(places))
    after = floors(picture_of(now.board, now.picture.mean + step), hand, "medium", MARGIN_MM)
    assert after.lack_mm == pytest.approx(before.lack_mm - before.rows @ step, abs=1e-9)
    assert after.least == pytest.approx(before.least, abs=1e-9)
    near = floors(now.picture, hand, "medium", MARGIN_MM, within_mm=0.2)
    assert 0 < len(near.lack_mm) < len(before.lack_mm)
    assert near.lack_mm.min() >= -0.2


def test_levelling_a_proud_crown_buys_what_it_costs(hand: Playing) -> None:
    proud = estimate(service(crowns={9: 0.1})).picture
    flat = lowest(estimate(service()).picture, hand, "medium")
    high = lowest(proud, hand, "medium")
    level, frets = levelled(proud)
    assert frets == (9,)
    assert high.action_mm.mean() - flat.action_mm.mean() > 0.3
    assert lowest(level, hand, "medium").action_mm == pytest.approx(flat.action_mm, abs=0.03)


def test_relief_is_told_without_single_crowns() -> None:
    plain = relief_of(board_notes(estimate(service(relief_mm=0.3)).picture))[0]
    proud = relief_of(board_notes(estimate(service(relief_mm=0.3, crowns={9: 0.1})).picture))[0]
    assert plain == pytest.approx(0.3, abs=0.02)
    assert proud == pytest.approx(plain, abs=0.01)


def test_a_rod_is_not_said_to_give_what_it_cannot(now: Estimate) -> None:
    """A neck bent back further than its rod lets it come: the most that it gives, below nothing, is the least too."""
    picture = now.picture
    mean = picture.mean.copy()
    mean[picture.layout["neck"][0]] -= 3.0
    back = board_notes(picture_of(picture.board, mean))
    relief, row = relief_of(back)
    turn = row[picture.layout["neck"]] @ mean[picture.layout["rod"]]
    low, high = relief_reach(back)
    assert low == high == pytest.approx(relief + 1.5 * abs(turn))
    assert high < 0.0


def test_conflicts_say_what_action_frees_a_string(hand: Playing) -> None:
    low = estimate(service(low_mm=0.9, high_mm=0.8, relief_mm=0.2))
    found = conflicts(low.picture, hand, "medium")
    assert {one.string for one in found} == {1, 2, 3, 4, 5, 6}
    assert list(found) == sorted(found, key=lambda one: -one.short_mm)
    mean = low.picture.mean.copy()
    present_mm = present(low.picture).action_mm
    for one in found:
        assert one.action_mm is not None
        mean[low.picture.layout["saddle_height"][one.string - 1]] += _raise_for(
            low.picture, one.string - 1, one.action_mm - present_mm[one.string - 1]
        )
    freed = picture_of(low.board, mean)
    assert conflicts(freed, hand, "medium") == ()
    assert left_mm(freed, hand, "medium") == pytest.approx(0.0, abs=1e-6)


def _raise_for(picture: Picture, string: int, action_mm: float) -> float:
    """Saddle raise that gives `action_mm` more over the 12th with fret 1 held: similar triangles."""
    along = picture.board.along_mm[string]
    return float(action_mm * (along[-1] - along[1]) / (along[12] - along[1]))


def test_nothing_is_free_with_a_metre_to_spare(now: Estimate, hand: Playing) -> None:
    with pytest.raises(CorrectInputError, match="no set-up is free of buzz"):
        lowest(now.picture, hand, "medium", 1000.0)
    wild = replace(hand, strengths=replace(hand.strengths, medium_mm=60.0))
    with pytest.raises(CorrectInputError, match="level the crowns"):
        lowest(now.picture, wild, "medium")
