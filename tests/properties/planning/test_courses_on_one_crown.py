"""Courses on one crown: the common place is the best there is, what is left is said, else nothing."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from breakangle.physics.bridge.shared_crown import common_setback_mm, left_cents
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.explain.courses import (
    crown_messages,
    crowns,
    wanted_setback_mm,
)
from breakangle.planning.kinds.prior import picture_before, shared_crowns
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.plan import plan
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.picture import picture_of
from breakangle.reference.families import families, family
from breakangle.services.service_files.example import empty_service, usual_instrument
from breakangle.services.strings.string_set import strings

TWELVE = board_of(usual_instrument(family("twelve-string-guitar"), "one"))


@given(st.lists(st.floats(-3.0, 8.0), min_size=2, max_size=4), st.floats(-3.0, 8.0))
def test_no_other_place_serves_the_worst_string_better(wanted, elsewhere):
    def worst(common):
        return np.abs(left_cents(setback_mm=wanted, common_mm=common, length_mm=648.0)).max()

    assert worst(common_setback_mm(wanted)) <= worst(elsewhere) + 1e-9


def left_on_crown_cents(board: Board) -> NDArray[np.float64]:
    """What each string's octave is left with at best on the crown that it shares, before anything is read."""
    found = np.zeros(board.string_count)
    for crown in crowns(picture_before(board)) if shared_crowns(board.instrument) else ():
        found[np.array(crown.strings) - 1] = np.abs(crown.left_cents)
    return found


def test_strings_that_want_the_same_are_left_with_nothing():
    assert common_setback_mm([2.5, 2.5]) == 2.5
    assert list(left_cents(setback_mm=[2.5, 2.5], common_mm=2.5, length_mm=648.0)) == [0.0, 0.0]


@pytest.mark.parametrize("kind", families())
def test_only_courses_on_one_crown_have_a_say(kind):
    kin = family(kind)
    instrument = usual_instrument(kin, "one")
    paired = len({one.course for one in kin.strings}) < len(kin.strings)
    assert bool(shared_crowns(instrument)) is (
        paired and (kin.bridge.kind == "one-piece" or kin.bridge.stands_loose)
    )
    assert (left_on_crown_cents(board_of(instrument)) > 0.0).any() is np.bool_(
        bool(shared_crowns(instrument))
    )


def test_a_crown_where_it_is_best_leaves_what_was_said():
    """Set the saddle there in the state: the octaves then read as told, but for the bend of the law."""
    before = picture_before(TWELVE)
    mean = before.mean.copy()
    for crown in crowns(before):
        mean[before.layout["saddle_setback"][np.array(crown.strings) - 1]] = crown.setback_mm
    after = picture_of(TWELVE, mean)
    for crown in crowns(before):
        octaves = after.cents[np.array(crown.strings) - 1, 11]
        assert list(octaves) == pytest.approx(list(crown.left_cents), abs=0.25)


def test_the_low_pair_of_a_twelve_string_is_left_apart_by_an_octave_of_core():
    left = left_on_crown_cents(TWELVE)
    assert left[10] == pytest.approx(left[11])
    assert left.argmax() in (10, 11)
    assert 2.0 < left.max() < 8.0
    first = crown_messages(picture_before(TWELVE))[0]
    assert first.about == ("string 11", "string 12")
    alike = wanted_setback_mm(picture_before(TWELVE))[:2]
    assert abs(alike[0] - alike[1]) < 0.05, "two strings alike want the same place"


def test_set_and_plan_say_what_a_pair_is_left_with():
    service = empty_service(family("twelve-string-guitar"))
    assert "Strings 11 and 12 stand on one crown" in strings(service).words
    assert "one crown" not in strings(empty_service(family("steel-acoustic-guitar"))).words
    assert not any("one crown" in one for one in plan(service, estimate(service)).notes), "nothing was read"
    readings = [Gap(string=one, fret=7, held=(1, 14), mm=0.2) for one in (12, 1)]
    for one in range(1, 13):
        readings += [
            Gap(string=one, fret=12, held=(1,), mm=2.0),
            Gap(string=one, fret=1, held=(3,), mm=0.06),
            Pitch(string=one, fret=0, cents=0.0),
            Pitch(string=one, fret=12, cents={11: 4.0, 12: -4.0}.get(one, 0.0)),
        ]
    read = service.model_copy(update={"readings": tuple(readings)})
    (said,) = (
        one for one in plan(read, estimate(read)).notes if "Strings 11 and 12 stand on one crown" in one
    )
    left = [float(one.replace("−", "-")) for one in re.findall(r"[+−][\d.]+", said)]
    assert left == pytest.approx([4.0, -4.0], abs=0.6)
