"""What is typed at the bench: every way the trade writes it, and a sentence for what cannot be right."""

import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.reference.families import family
from breakangle.services.intake.typed_instrument import gauge_mm, instrument_typed
from breakangle.services.plans.done import step_given, with_amount
from breakangle.services.readings.typed_readings import understood
from breakangle.services.service_files.example import example_service, usual_instrument
from breakangle.services.visits.reading_places import place_keyed

SERVICE = example_service()
ELECTRIC = usual_instrument(family("electric-guitar"), "Dunlin")


@pytest.mark.parametrize(
    ("text", "own", "mm"),
    [
        ("1.5", "mm", 1.5),
        ("1,5", "mm", 1.5),
        ("1.5mm", "in", 1.5),
        (".059", "in", 1.4986),
        ("3/64", "mm", 1.1906),
        ("10 thou", "mm", 0.254),
    ],
)
def test_a_gap_is_understood_in_every_way_it_is_written(text: str, own: str, mm: float):
    assert understood(text, place_keyed("gap_6_12_h1"), SERVICE, own) == {"mm": pytest.approx(mm, abs=1e-4)}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("-3", {"cents": -3.0}),
        ("+2,5 c", {"cents": 2.5}),
        ("\N{MINUS SIGN}1.2", {"cents": -1.2}),
        ("82.41 Hz", {"hz": 82.41}),
        ("12", {"cents": 12.0}),
    ],
)
def test_a_pitch_is_cents_or_hertz(text: str, found: dict[str, float]):
    assert understood(text, place_keyed("pitch_6_0"), SERVICE) == found


@pytest.mark.parametrize("text", ["82.4", "sharp", "1e3", "nan", "", "1" * 90])
def test_a_pitch_that_could_be_two_or_is_none_is_refused(text: str):
    with pytest.raises(CorrectInputError):
        understood(text, place_keyed("pitch_6_0"), SERVICE)


@pytest.mark.parametrize(
    "key",
    ["", "gap", "gap_6_0_h1", "gap_6_12_h12", "gap_99_1", "weight_1_1", "pitch_1_0_n1", "gap_6_8_h17-1"],
)
def test_a_place_that_nobody_reads_is_refused(key: str):
    with pytest.raises(CorrectInputError):
        place_keyed(key)


@pytest.mark.parametrize(
    ("text", "own", "mm"),
    [
        (".010", "mm", 0.254),
        ("10", "mm", 0.254),
        ("0.254", "mm", 0.254),
        ("46", "in", 1.1684),
        ("0.66", "mm", 0.66),
        ("1,168", "mm", 1.168),
    ],
)
def test_a_string_s_gauge_is_taken_in_the_unit_that_makes_a_string(text: str, own: str, mm: float):
    assert gauge_mm(text, own) == pytest.approx(mm, abs=1e-4)


@pytest.mark.parametrize(
    ("text", "turns"), [("1/8", 0.125), ("0,5", 0.5), ("1/8 turn", 0.125), ("-1/4", -0.25), ("1 1/4", 1.25)]
)
def test_another_amount_goes_the_same_way_and_a_minus_the_other(text: str, turns: float):
    for planned in (0.25, -0.25):
        made = with_amount(RodTurn(turns=planned), text, ELECTRIC, "mm")
        assert isinstance(made, RodTurn)
        assert made.turns == pytest.approx(turns if planned > 0 else -turns)


@pytest.mark.parametrize(
    ("text", "own", "mm"),
    [("0.2", "mm", -0.2), ("1/2 turn", "mm", -0.25), (".010", "in", -0.254), ("-0.1", "mm", 0.1)],
)
def test_a_saddle_is_lowered_by_a_length_or_by_turns_of_its_screw(text: str, own: str, mm: float):
    made = with_amount(SaddleHeight(string=6, mm=-0.3), text, ELECTRIC, own)
    assert isinstance(made, SaddleHeight)
    assert made.mm == pytest.approx(mm, abs=1e-4)


@pytest.mark.parametrize("text", ["", "a lot", "1/0", "99 turns", "1e9", "--1"])
def test_an_amount_that_is_none_is_refused(text: str):
    with pytest.raises(CorrectInputError):
        with_amount(RodTurn(turns=0.25), text, ELECTRIC, "mm")


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", "null", '{"adjust": "hammer"}', '{"adjust": "rod"}', '{"adjust": "rod", "turns": "x"}'],
)
def test_a_step_that_is_none_is_refused(text: str):
    with pytest.raises(CorrectInputError):
        step_given(text)


def test_every_wrong_field_of_a_new_instrument_is_named_at_once():
    typed = {"kind": "electric-guitar", "name": " ", "scale_mm": "long", "frets": "two", "joint_fret": "17"}
    typed |= {"spread_nut_mm": "35", "spread_bridge_mm": "52", "gauge_1": "rope"}
    with pytest.raises(CorrectInputError) as caught:
        instrument_typed(typed)
    for words in (
        "no name",
        "scale: 'long' is not a length",
        'frets is "two"',
        "gauge of string 1",
        "string 2 has no gauge",
    ):
        assert words in caught.value.given


def test_an_instrument_typed_in_inches_is_the_usual_one_with_what_was_corrected():
    typed = {
        "kind": "electric-guitar",
        "name": "Dunlin",
        "scale_mm": "25.5",
        "frets": "22",
        "joint_fret": "17",
    }
    typed |= {
        "spread_nut_mm": "1 3/8",
        "spread_bridge_mm": "52.4 mm",
        "board_radius_mm": "12",
        "turns_left": "0,5",
    }
    typed |= {"post": "plain", "post_diameter_mm": "6 mm", "rod_reached_from": "head"}
    typed |= {
        f"gauge_{n}": one for n, one in zip(range(1, 7), ("9", "11", "16", "24", "32", "42"), strict=True)
    }
    made = instrument_typed(typed, "in")
    assert (made.scale_mm, made.spread_nut_mm, made.board_radius_mm) == (647.7, 34.925, 304.8)
    assert [round(one.diameter_mm, 3) for one in made.in_order()] == [0.229, 0.279, 0.406, 0.61, 0.813, 1.067]
    assert made.rod.turns_left == 0.5
    assert (made.model_extra or {})["tuner_post"] == {"kind": "plain", "diameter_mm": 6.0}
