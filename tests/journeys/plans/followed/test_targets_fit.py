"""The house's figures fit the instrument: its bridge, scale, tuning and strings, and a wish always wins."""

import math

import pytest

from breakangle.model.instrument import Bridge, Instrument
from breakangle.model.plan import Plan
from breakangle.model.reading import Target
from breakangle.model.service import Service, Targets
from breakangle.planning.estimate.family_fit import swing_ratios
from breakangle.planning.estimate.house_targets import house_targets, targets_of
from breakangle.planning.explain.target_owner import whose_figures
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.kinds.targets.intonation import IntonationTarget
from breakangle.planning.state.board import board_of
from breakangle.planning.swap.forecast import strung_with
from breakangle.reference.families import families, family
from breakangle.reference.messages import words
from planning_cases import good, made_of, ordinary, role, service_reading

WHOLE_TONE_DOWN = {1: "F2", 2: "C2", 3: "G1", 4: "D1"}


def wanted(instrument: Instrument, hand: str = "medium") -> dict[tuple[str, int], Target]:
    return {(role(one), one.string): one for one in house_targets(board_of(instrument), hand)}


def actions(instrument: Instrument, hand: str = "medium") -> list[float]:
    return [one.mm for (name, _), one in wanted(instrument, hand).items() if name == "action"]  # type: ignore[attr-defined]


def down() -> Instrument:
    return strung_with(ordinary("bass-four"), (), WHOLE_TONE_DOWN)


@pytest.mark.parametrize("kind", families())
def test_an_ordinary_instrument_of_its_family_has_the_familys_figures(kind):
    kin, found = family(kind), wanted(ordinary(kind))
    hand = kin.targets["medium"]
    heights = [one.mm for (name, _), one in found.items() if name == "action"]  # type: ignore[attr-defined]
    assert min(heights) >= min(hand.action_low_mm, hand.action_high_mm) - 0.06
    assert max(heights) <= max(hand.action_low_mm, hand.action_high_mm) + 0.06
    assert {one.mm for (name, _), one in found.items() if name == "relief"} == {hand.relief_mm}  # type: ignore[attr-defined]


def test_strings_swing_as_wide_as_their_length_over_their_pull():
    """Pull goes with the square of pitch and length: a whole tone down 2^(4/12), 1.05 of the scale 1/1.05 [derived]."""
    assert swing_ratios(board_of(down())) == pytest.approx(2.0 ** (4.0 / 12.0), rel=1e-6)
    bass = ordinary("bass-four")
    longer = bass.model_copy(update={"scale_mm": bass.scale_mm * 1.05})
    assert swing_ratios(board_of(longer)) == pytest.approx(1.0 / 1.05, rel=1e-6)
    guitar = ordinary("electric-guitar")
    thin = guitar.in_order()[0].model_copy(update={"diameter_mm": 0.9 * 0.254})
    found = swing_ratios(board_of(strung_with(guitar, (thin,))))
    assert found[0] == pytest.approx(1.0 / 0.81, rel=1e-6)
    assert found[1:] == pytest.approx(1.0)


def test_softer_strings_ask_for_more_height_and_relief_and_stiffer_ones_for_less():
    usual, soft = wanted(ordinary("bass-four")), wanted(down())
    high = wanted(strung_with(ordinary("bass-four"), (), {1: "A2", 2: "E2", 3: "B1", 4: "F#1"}))
    for name in ("action", "relief"):
        for string in (1, 4):
            figures = [one[name, string].mm for one in (high, usual, soft)]  # type: ignore[attr-defined]
            assert figures == sorted(figures) and len(set(figures)) == 3
            assert figures[2] - figures[0] < 0.5 * figures[1]
    for string in (1, 4):
        assert usual["nut clearance", string] == soft["nut clearance", string]


def test_a_soft_string_at_one_hand_has_the_height_of_an_ordinary_one_that_swings_as_wide():
    """A medium hand whose strings swing as a heavy hand's do by the tables has a heavy hand's heights."""
    from breakangle.reference.strength import playing

    bass = ordinary("bass-four")
    strengths = playing(bass.kind).strengths
    ratio = strengths.heavy_mm / strengths.medium_mm
    assert 1.0 < ratio < 1.8  # nearer than that one string cannot stand for another
    reference = 440.0 / math.sqrt(ratio)
    board = board_of(bass, reference)
    medium = [one.mm for one in house_targets(board, "medium") if role(one) == "action"]  # type: ignore[attr-defined]
    usual = board_of(bass, 440.0)
    heavy = [one.mm for one in house_targets(usual, "heavy") if role(one) == "action"]  # type: ignore[attr-defined]
    assert medium == pytest.approx(heavy, abs=1e-3)


def test_intonation_is_held_to_what_the_bridge_can_give():
    """Two cents by a screw for each string, five by a crown shaped by hand; common practice, no source."""
    by_hand = ["steel-acoustic-guitar", "nylon-acoustic-guitar", "ukulele-soprano", "banjo-five", "mandolin"]
    by_screw = ["electric-guitar", "bass-four"]
    for kinds, cents in ((by_hand, 5.0), (by_screw, 2.0)):
        for kind in kinds:
            found = [one for one in wanted(ordinary(kind)).values() if isinstance(one, IntonationTarget)]
            assert {one.tolerance_cents for one in found} == {cents}
    changed = ordinary("electric-guitar").model_copy(update={"bridge": Bridge(kind="one-piece")})
    screwed = ordinary("steel-acoustic-guitar").model_copy(update={"bridge": Bridge(kind="individual")})
    assert wanted(changed)["intonation", 1].tolerance_cents == 5.0  # type: ignore[attr-defined]
    assert wanted(screwed)["intonation", 1].tolerance_cents == 2.0  # type: ignore[attr-defined]


def test_a_wish_wins_over_every_fit():
    wishes = (
        IntonationTarget(string=1, fret=12, tolerance_cents=1.0),
        GapTarget(string=4, fret=12, held=(1,), mm=1.5, tolerance_mm=0.05),
    )
    service = Service(instrument=down(), targets=Targets(wanted=wishes))
    found = targets_of(service, board_of(service.instrument)).wanted
    assert found[:2] == wishes
    assert len(found) == len(house_targets(board_of(service.instrument), "medium"))


def test_each_figure_says_whose_it_is():
    wish = GapTarget(string=4, fret=12, held=(1,), mm=1.5)
    service = Service(instrument=down(), targets=Targets(hand="heavy", wanted=(wish,)))
    board = board_of(service.instrument)
    told = {(role(one), one.string): words(message) for one, message in whose_figures(service, board).items()}
    assert told["action", 4] == "Wished for this instrument."
    assert "heavy hand" in told["action", 1]
    assert "26 % wider" in told["action", 1]
    assert told["nut clearance", 1] == "The house's figure for a heavy hand."
    acoustic = Service(instrument=ordinary("steel-acoustic-guitar"))
    crown = whose_figures(acoustic, board_of(acoustic.instrument))
    said = next(words(message) for one, message in crown.items() if isinstance(one, IntonationTarget))
    assert "held to 5 cents: a crown shaped by hand gives no more" in said


def test_a_plan_tells_that_heights_are_for_softer_strings():
    assert any(
        "swing up to 26 % wider" in note for note in made_of(service_reading(down(), lambda _: 0.0)).notes
    )
    assert not [note for note in made_of(good("bass-four")).notes if "swing" in note]


def _pair(made: Plan) -> list[float]:
    return [
        one.cents  # type: ignore[attr-defined]
        for one in made.then.readings
        if one.quantity == "pitch" and one.string in (3, 4)
    ]


def test_a_course_on_one_crown_is_left_as_near_as_its_common_setback_can_bring_it():
    """Best setbacks of 1.4 and 3.8 mm at 648 mm: 1.2 mm from their middle, 1200/ln 2 · 1.2/648 = 3.2 cents [derived].

    Both 3.2 cents from their notes to either side: inside what an ear tells, and nothing is moved; six and twelve
    cents apart from a common middle are brought to either side of it.
    """
    apart = 1200.0 / math.log(2.0) * 1.2 / 648.0
    assert apart == pytest.approx(3.2, abs=0.05)
    twelve = ordinary("twelve-string-guitar")

    def wish(middle: float):  # type: ignore[no-untyped-def]
        def off(target: Target) -> float:
            if role(target) != "intonation" or target.string not in (3, 4):
                return 0.0
            return (middle + (apart if target.string == 3 else -apart)) / 5.0

        return off

    left = made_of(service_reading(twelve, wish(0.0)))
    assert not [one for one in left.steps if one.adjustment.adjust == "saddle-position"]
    moved = made_of(service_reading(twelve, wish(3.4)))
    assert [one.adjustment.strings for one in moved.steps if one.adjustment.adjust == "saddle-position"] == [
        (3, 4)
    ]
    high, low = sorted(_pair(moved), reverse=True)
    assert high <= 5.0
    assert low >= -5.0
    assert high - low == pytest.approx(2 * apart, abs=0.8)
