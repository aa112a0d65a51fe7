"""Laws of a swap: there and back is nothing, more pull is more relief, what is told sharpens what is predicted."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.model.errors import CorrectInputError
from breakangle.planning.estimate.estimate import adjusted
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.adjustments.restring import Restring
from breakangle.planning.kinds.restrung import slot_widths
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.state.uncertain_value import Known
from breakangle.planning.swap.forecast import chance_above, strung_with, swapped
from breakangle.services.service_files.example import example_service
from breakangle.services.service_files.service import estimate_service
from breakangle.services.strings.sizes import typed_set
from breakangle.services.swap.comparison import Swap, swap

HEAVIER = (".011in", ".014in", ".018in", ".028in", ".038in", ".049in")
LIGHTER = (".009in", ".011in", ".016in", ".024in", ".032in", ".042in")


@cache
def example_swap(sizes: tuple[str, ...]) -> Swap:
    service = example_service()
    return swap(service, typed_set(service, sizes))


def relief(found: Swap) -> list[Known]:
    return [one.change for one in found.figures if one.words == "relief"]


def test_heavier_strings_bow_the_neck_more_and_lighter_less():
    for sizes, sign in ((HEAVIER, 1.0), (LIGHTER, -1.0)):
        found = example_swap(sizes)
        assert sign * found.pull_change_n.value > 20.0
        assert all(sign * one.value > 0.03 for one in relief(found))
        for string in found.strings:
            assert all(sign * one.value > 0.0 for one in string.clearance_change_mm if one is not None)


def test_a_new_set_moves_the_neck_as_its_restring_adjustment_does():
    """The mean of what bends and sounds is that of the file's own adjustment; only in the nut it may sit otherwise."""
    service = example_service()
    now = estimate_service(service)
    new = typed_set(service, LIGHTER)
    mine = swapped(now, strung_with(now.board.instrument, new)).after
    theirs = adjusted(now, Restring(strings=new))
    layout = mine.picture.layout
    for block in ("twist", "crown", "saddle_height", "saddle_setback", "load", "rod"):
        assert mine.belief.mean[layout[block]] == pytest.approx(theirs.belief.mean[layout[block]])
    assert mine.belief.mean[layout["neck"][0]] == pytest.approx(theirs.belief.mean[layout["neck"][0]])


def test_the_gap_at_the_nut_after_a_restring_on_record_is_that_of_the_swap_foretold():
    """Mean and spread: slots that hold a thicker string up count in both."""
    service = example_service()
    now = estimate_service(service)
    new = typed_set(service, HEAVIER)
    foretold = swapped(now, strung_with(now.board.instrument, new)).after
    recorded = adjusted(now, Restring(strings=new))
    nuts = [GapTarget(string=n, fret=1, held=(3,), mm=0.1) for n in range(1, 7)]
    before, mine, theirs = (sight_of(one, nuts) for one in (now, foretold, recorded))
    assert mine.value == pytest.approx(theirs.value, abs=1e-9)
    assert mine.spread == pytest.approx(theirs.spread, rel=1e-6)
    assert np.all(theirs.spread > before.spread)
    assert np.any(theirs.value > before.value + 0.01)


def test_there_and_back_leaves_the_neck_where_it_was():
    service = example_service()
    now = estimate_service(service)
    there = swapped(now, strung_with(now.board.instrument, typed_set(service, LIGHTER)))
    back = swapped(there.after, now.board.instrument)
    layout = now.picture.layout
    assert back.after.belief.mean[layout["neck"]] == pytest.approx(now.belief.mean[layout["neck"]])
    assert back.pull_change_n.value == pytest.approx(-there.pull_change_n.value)
    spread = np.sqrt(np.diag(back.after.belief.covariance))[layout["saddle_height"]]
    assert np.all(spread >= np.sqrt(np.diag(now.belief.covariance))[layout["saddle_height"]])


def test_tuning_down_and_up_are_opposite_and_keep_what_was_learned():
    service = example_service()
    down, up = (swap(service, reference_hz=hz) for hz in (432.0, 448.0))
    ratio = [one.pull_change_n.value / service.reference_hz for one in (down, up)]
    assert ratio[0] < 0.0 < ratio[1]
    total = down.old.total_n.value
    assert down.pull_change_n.value == pytest.approx(total * ((432.0 / 440.0) ** 2 - 1.0), rel=1e-6)
    before, after = (estimate_service(service), down.predicted)
    layout = before.picture.layout
    for block in ("log_axial", "log_stiffness", "nut_height", "saddle_height"):
        places = layout[block]
        assert after.belief.mean[places] == pytest.approx(before.belief.mean[places])
        assert np.diag(after.belief.covariance)[places] == pytest.approx(
            np.diag(before.belief.covariance)[places]
        )
    assert down.slots == ()


def test_what_was_weighed_sharpens_the_change_of_pull():
    service = example_service()
    new = typed_set(service, HEAVIER)
    weighed = tuple(
        one.model_copy(update={"unit_mass_g_per_m": known.unit_mass_g_per_m.value})
        for one, known in zip(new, example_swap(HEAVIER).new.strings, strict=True)
    )
    found = swap(service, weighed)
    assert found.pull_change_n.value == pytest.approx(example_swap(HEAVIER).pull_change_n.value)
    assert found.pull_change_n.uncertainty < 0.75 * example_swap(HEAVIER).pull_change_n.uncertainty
    assert relief(found)[0].uncertainty < relief(example_swap(HEAVIER))[0].uncertainty


def test_a_measured_slot_decides_whether_the_string_binds():
    service = example_service()
    new = typed_set(service, HEAVIER)
    narrow = swap(service, new, slots={6: Known(1.20, 0.01)})
    wide = swap(service, new, slots={6: Known(1.30, 0.01)})
    loose = swap(service, new, slots={6: Known(1.60, 0.01)})
    by_width = [next(one for one in found.slots if one.string == 6) for found in (narrow, wide, loose)]
    assert [one.binds_chance > 0.95 for one in by_width] == [True, False, False]
    assert [one.loose_chance > 0.95 for one in by_width] == [False, False, True]
    assert by_width[0].sits_higher_mm.value > 0.1
    # It goes in; three slots in ten are a V, which lifts it by half of .077 mm.
    assert by_width[1].sits_higher_mm.value == pytest.approx(0.3 * (1.2446 - 1.168) / 2.0, abs=1e-4)
    assert [one.words for one in by_width] == ["too thick for the slot", "fits", "loose in the slot"]
    nut = [
        next(one.change.value for one in found.figures if one.words == "nut clearance" and one.string == 6)
        for found in (narrow, wide)
    ]
    assert nut[0] > nut[1] + 0.05


@settings(max_examples=30, deadline=None)
@given(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0), st.floats(0.1, 2.0))
def test_chances_are_chances(middle, limit, spread):
    one = chance_above(Known(middle, spread), limit)
    assert 0.0 <= one <= 1.0
    assert one + chance_above(Known(-middle, spread), -limit) == pytest.approx(1.0)
    assert chance_above(Known(middle, 0.0), limit) == float(middle > limit)


def test_an_unread_slot_is_a_little_wider_than_its_string():
    board = estimate_service(example_service()).board
    for one, width in zip(board.instrument.in_order(), slot_widths(board), strict=True):
        assert one.diameter_mm < width.value < one.diameter_mm + 0.1


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({}, "nothing is changed"),
        ({"notes": {9: "E2"}}, "strings 1 to 6"),
        ({"notes": {6: "H9"}}, "not a note"),
        ({"slots": {7: Known(1.0, 0.1)}, "reference_hz": 432.0}, "strings 1 to 6"),
    ],
)
def test_what_cannot_be_is_refused(asked, told):
    with pytest.raises(CorrectInputError, match=told):
        swap(example_service(), **asked)


def test_a_string_listed_twice_and_a_short_set_are_refused():
    service = example_service()
    one = service.instrument.in_order()[0]
    with pytest.raises(CorrectInputError, match="twice"):
        swap(service, (one, one))
    with pytest.raises(CorrectInputError, match="6 sizes"):
        typed_set(service, (".010in",))
