"""Readings of crowns by rocker, dial, straight-edge and groove: what they should show, and what they tell. [derived]"""

import numpy as np
import pytest

from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.units_doubted.judge import doubted_figures
from breakangle.planning.kinds.prior import prior_of
from breakangle.planning.kinds.readings.crown_dial import CrownDial
from breakangle.planning.kinds.readings.crown_edge import CrownEdge
from breakangle.planning.kinds.readings.crown_height import CrownHeight
from breakangle.planning.kinds.readings.crown_rocker import CrownRocker
from breakangle.planning.kinds.readings.groove_depth import GrooveDepth
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.planning.levelling.from_estimate import heights_of
from breakangle.planning.state.board import board_of
from breakangle.planning.state.layout import layout_of
from breakangle.planning.state.picture import picture_of
from breakangle.reference.families import family
from breakangle.services.service_files.example import empty_service, example_service

BOARD = board_of(example_service().instrument)
LAYOUT = layout_of(BOARD.string_count, BOARD.fret_count)
SHIFTED = ("crown-rocker", "crown-dial", "crown-edge", "groove-depth")


def picture(crowns: dict[int, float] | None = None, bow_mm: float = 0.0):
    mean = np.zeros(LAYOUT.size)
    mean[LAYOUT["neck"][0]] = bow_mm
    for fret, mm in (crowns or {}).items():
        mean[LAYOUT["crown"][fret - 1]] = mm
    return picture_of(BOARD, mean)


def shows(reading, where) -> float:
    return float(reading_kinds()[reading.quantity].predict([reading], where).values[0])


def flat(string: int, fret: int) -> float:
    """What a rocker shows of the board's own roundness: strings splay over a cone, so a level one is not quite zero."""
    return shows(CrownRocker(string=string, fret=fret, mm=0.0), picture())


def test_a_proud_crown_rocks_by_what_it_is_proud():
    one = CrownRocker(string=3, fret=9, mm=0.0)
    assert shows(one, picture({9: 0.1})) - flat(3, 9) == pytest.approx(0.1)


def test_a_proud_neighbour_makes_a_crown_read_low_by_its_share_of_the_way():
    x = BOARD.along_mm[2]
    share = (x[10] - x[9]) / (x[10] - x[8])
    one = CrownRocker(string=3, fret=9, mm=0.0)
    assert shows(one, picture({8: 0.1})) - flat(3, 9) == pytest.approx(-0.1 * share)


def test_a_dial_shows_a_crown_and_the_bow_together():
    one = CrownDial(string=4, fret=7, mm=0.0)
    bowed = shows(one, picture(bow_mm=0.3))
    assert bowed < -0.05
    assert shows(one, picture({7: 0.05}, bow_mm=0.3)) - bowed == pytest.approx(0.05)


def test_a_straight_edge_lies_on_the_highest_crowns():
    bowed = picture(bow_mm=0.3)
    assert shows(CrownEdge(string=4, fret=7, mm=0.0), bowed) > 0.05
    assert shows(CrownEdge(string=4, fret=7, mm=0.0), picture({7: 0.4}, bow_mm=0.3)) == 0.0
    low = shows(CrownEdge(string=4, fret=9, mm=0.0), picture({9: -0.07}))
    assert low - shows(CrownEdge(string=4, fret=9, mm=0.0), picture()) == pytest.approx(0.07, abs=0.02)


def test_rows_are_the_derivatives_of_the_values():
    start, step = prior_of(BOARD).mean, 1e-6
    random = np.random.default_rng(2)
    for name in SHIFTED:
        kind = reading_kinds()[name]
        one = kind.model(quantity=name, string=5, fret=6, mm=0.0)
        told = kind.predict([one], picture_of(BOARD, start))
        way = random.normal(size=LAYOUT.size)
        ends = [
            kind.predict([one], picture_of(BOARD, start + sign * step * way)).values[0] for sign in (1, -1)
        ]
        assert (ends[0] - ends[1]) / (2.0 * step) == pytest.approx(float(told.rows[0] @ way), abs=1e-6), name


def test_a_groove_read_lowers_its_crown_and_no_other():
    service = example_service()
    read = GrooveDepth(string=6, fret=2, mm=0.12)
    before = heights_of(estimate(service), service.readings, ())
    worn = service.model_copy(update={"readings": (*service.readings, read)})
    after = heights_of(estimate(worn), worn.readings, ())
    change = (after.height_mm - before.height_mm)[:, 1:-1] - np.median(
        (after.height_mm - before.height_mm)[:, 1:-1]
    )
    assert change[5, 1] < -0.06
    spread = [
        np.sqrt(one.covariance[5 * one.fret_count + 1, 5 * one.fret_count + 1]) for one in (before, after)
    ]
    assert spread[1] <= spread[0] + 0.003


def test_crowns_read_twice_are_surer_than_read_once():
    service = example_service()
    once = tuple(CrownRocker(string=2, fret=fret, mm=0.0) for fret in range(3, 20))
    spreads = []
    for readings in (once, (*once, *(one.model_copy(update={"uncertainty_mm": 0.013}) for one in once))):
        read = service.model_copy(update={"readings": (*service.readings, *readings)})
        found = heights_of(estimate(read), read.readings, ())
        row = np.zeros(len(found.covariance))
        row[[found.fret_count + 8, found.fret_count + 9, found.fret_count + 10]] = (-0.5, 1.0, -0.5)
        spreads.append(float(np.sqrt(row @ found.covariance @ row)))
    assert spreads[1] < spreads[0]


def test_how_much_metal_there_is_moves_nothing():
    service = empty_service(family("electric-guitar"))
    read = service.model_copy(update={"readings": (CrownHeight(string=1, fret=5, mm=0.8),)})
    assert np.allclose(estimate(read).belief.mean, estimate(service).belief.mean)


@pytest.mark.parametrize(("mm", "asked"), [(0.040, True), (1.05, False)])
def test_a_crowns_height_in_inches_is_asked_about(mm, asked):
    service = empty_service(family("electric-guitar"))
    read = service.model_copy(update={"readings": (CrownHeight(string=1, fret=5, mm=mm),)})
    found = doubted_figures(read, prior_of(board_of(service.instrument)))
    assert [one.unit for one in found] == (["in"] if asked else [])
