"""Laws of what sheets say: figures within what is known, adjusters in the past tense, compensation that is true."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from breakangle.documents.sheets.done import done_words, together
from breakangle.documents.sheets.words import (
    SURE_CENTS,
    SURE_MM,
    figure,
    how_sure,
    listed,
    strings_words,
)
from breakangle.documents.true_size.compensation import as_wanted, compensation_of
from breakangle.model.instrument import Instrument
from breakangle.physics.string.intonation import error_cents
from breakangle.planning.kinds.adjustments.fret_level import FretLevel, LevelledFret
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.restring import Restring
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.shim import Shim
from breakangle.planning.kinds.adjustments.slot_width import SlotWidth
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.move import Move
from breakangle.planning.kinds.move import together as alike_together
from breakangle.planning.kinds.prior import prior_of
from breakangle.planning.kinds.registry import adjustment_kind, adjustment_kinds
from breakangle.planning.state.picture import picture_of
from paper_fixtures.instruments import EVERY_SERVICE

SPREADS = st.floats(0.001, 3.0)


@given(st.floats(-20.0, 20.0), SPREADS, st.sampled_from(["mm", "cents"]))
def test_a_figure_has_no_digit_that_is_not_known(value, spread, unit):
    """The last digit shown is worth at least what is doubtful, divided by twenty; and the figure is the value's."""
    text = figure(value, spread, unit).removesuffix(f"\N{NO-BREAK SPACE}{unit}").replace("−", "-")
    decimals = len(text.partition(".")[2])
    assert abs(float(text) - value) <= 0.5 * 10.0**-decimals + 1e-9
    finest = 2 if unit == "mm" else 1
    assert decimals == (finest if 2.0 * spread <= (0.13 if unit == "mm" else 1.2) else finest - 1)
    assert not text.startswith("-0") or float(text) != 0.0


@given(SPREADS, SPREADS, st.sampled_from(["mm", "cents"]))
def test_what_is_known_worse_is_never_called_surer(one, other, unit):
    order = [words for _, words in (SURE_MM if unit == "mm" else SURE_CENTS)]
    low, high = sorted((one, other))
    assert order.index(how_sure(low, unit)) <= order.index(how_sure(high, unit))


@given(st.sets(st.integers(1, 18), min_size=1))
def test_strings_named_in_runs_are_all_there_and_no_others(numbers):
    text = strings_words(sorted(numbers)).removeprefix("strings ").removeprefix("string ")
    found = set()
    for part in text.replace(" and ", ", ").split(", "):
        low, _, high = part.partition(" to ")
        found |= set(range(int(low), int(high or low) + 1))
    assert found == numbers


def test_lists_read_as_a_person_writes_them():
    assert [listed(["a"] * count) for count in range(4)] == ["", "a", "a and a", "a, a and a"]


def levers_of(service) -> list:
    picture = picture_of(as_wanted(service).board, prior_of(as_wanted(service).board).mean)
    levers = [one for kind in adjustment_kinds().values() for one in kind.levers(picture)]
    return [made for one in levers for way in (one.low, one.high) if way for made in one.made(way / 2.0)]


def made_without_a_lever(instrument: Instrument) -> list:
    """One of each adjustment that no lever, or a lever of few instruments alone, makes."""
    strings = len(instrument.strings)
    level = LevelledFret(fret=3, off_mm=(0.04,) * strings)
    fresh = instrument.in_order()[:1]
    return [Tune(), Restring(strings=fresh), Shim(degrees=0.4), Shim(degrees=-0.4), FretLevel(frets=(level,)),
            SlotWidth(string=1, mm=-0.1)]  # fmt: skip


SAME_IN_THE_PAST = {"Cut"}  # English: the past of this verb is its infinitive
# A second verb further on in its sentence.
PAST_WITHIN = {"fret-level": {"crown": "crowned"}, "slot-width": {"lies": "lay"}}


@pytest.mark.parametrize("name", EVERY_SERVICE)
def test_whatever_can_be_adjusted_is_told_in_the_past(name):
    instrument: Instrument = EVERY_SERVICE[name].instrument
    for one in [*levers_of(EVERY_SERVICE[name]), *made_without_a_lever(instrument)]:
        move = adjustment_kind(one).move(one, instrument)
        to_do, done = move.words().split(), move.words(done=True).split()
        assert adjustment_kind(one).told(one, instrument).split() == to_do
        assert (done[0] != to_do[0]) == (to_do[0] not in SAME_IN_THE_PAST)
        past = PAST_WITHIN.get(one.adjust, {})
        assert done[1:] == [past.get(word, word) for word in to_do[1:]]


def test_no_adjustment_is_left_out_of_the_past():
    tried = set()
    for service in EVERY_SERVICE.values():
        made = [*levers_of(service), *made_without_a_lever(service.instrument)]
        tried |= {one.adjust for one in made}
    assert tried == set(adjustment_kinds())


def test_like_moves_of_several_strings_are_one_sentence_in_any_order_of_words():
    """So that another language may put strings and amount where it likes."""
    instrument = EVERY_SERVICE["electric-guitar"].instrument
    work = [NutSlot(string=string, mm=-mm) for string, mm in ((1, 0.1), (2, 0.25), (4, 0.1))]
    assert done_words(work, instrument) == (
        "Cut the nut slot of strings 1, 2 and 4 deeper by 0.10 to 0.25 mm.",
    )
    swapped = Move("by {amount}: {strings}", "by {amount} it was: {strings}", (1,), (0.1,))
    (both,) = alike_together([swapped, replace(swapped, strings=(2,), amounts_mm=(0.2,))])
    assert both.words(done=True) == "by 0.10 to 0.20 mm it was: strings 1 and 2"
    other = replace(swapped, values={"way": "toward"})
    assert len(alike_together([swapped, other])) == 2
    assert len(alike_together([replace(swapped, strings=()), replace(swapped, strings=())])) == 2


def test_moves_of_one_screw_are_drawn_together_and_what_cancels_is_left_out():
    instrument = EVERY_SERVICE["electric-guitar"].instrument
    work = [
        RodTurn(turns=0.25), SaddleHeight(string=6, mm=-0.2), RodTurn(turns=0.25), SaddleHeight(string=1, mm=0.1),
        Tune(), SaddleHeight(string=6, mm=-0.1), SaddleHeight(string=1, mm=-0.1), Tune(),
    ]  # fmt: skip
    assert [getattr(one, "turns", getattr(one, "mm", None)) for one in together(work)] == [
        0.5,
        pytest.approx(-0.3),
        None,
    ]
    assert done_words(work, instrument)[:2] == (
        "Tightened the truss rod half a turn.",
        "Lowered the saddle at string 6 by 0.30 mm.",
    )


@pytest.mark.parametrize("name", EVERY_SERVICE)
def test_the_compensated_saddle_makes_the_octave_true_and_a_moved_nut_leaves_less(name):
    service = EVERY_SERVICE[name]
    found, now = compensation_of(service), as_wanted(service)
    board, picture = now.board, now.picture
    for string in range(board.string_count):
        first = int(board.first[string])
        places = np.arange(first, board.fret_count)
        constants = board.strings[string]
        arguments = {
            "open_length_mm": board.open_length_mm[string],
            "fret_ratio": board.fret_ratio[string, places],
            "clearance_mm": np.maximum(picture.clearance_mm[string, places], 0.0),
            "saddle_rise_mm": picture.height_mm[string, -1] - picture.height_mm[string, first],
            "axial_ratio": constants.axial_stiffness_n / constants.tension_n,
            "stiffness_ratio": np.sqrt(constants.bending_stiffness_n_mm2 / constants.tension_n)
            / board.open_length_mm[string],
        }
        plain = error_cents(**arguments, saddle_setback_mm=found.plain_saddle_mm[string])
        assert plain[min(12, len(places)) - 1] == pytest.approx(0.0, abs=1e-6)
        both = error_cents(
            **arguments, saddle_setback_mm=found.saddle_mm[string], nut_setback_mm=-found.nut_mm[string]
        )
        assert np.sqrt(np.mean(both**2)) == pytest.approx(found.left_cents[string], abs=1e-6)
        assert np.sqrt(np.mean(both**2)) <= np.sqrt(np.mean(plain**2))
        assert 0.0 < found.spread_mm[string] < found.plain_saddle_mm[string]
