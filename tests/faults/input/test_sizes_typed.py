"""Sizes whose unit may be two: taken in the one that makes a string of that place, refused where none or both do."""

import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.reference.families import family
from breakangle.services.intake.typed_instrument import instrument_typed
from breakangle.services.service_files.example import empty_service, usual_instrument
from breakangle.services.strings.typed_strings import set_typed, typed_strings
from breakangle.services.typed_values.sizes import gauge_mm, scale_ends_mm, scales_mm
from breakangle.web.forms.strings import strings_form

INCH_MM = 25.4  # by definition: international yard and pound agreement, 1959
GUITAR = usual_instrument(family("electric-guitar"), "a guitar")
NEW_BASS = {
    "kind": "bass-five", "name": "Bittern", "scale_mm": "864", "frets": "21", "joint_fret": "16",
    "spread_nut_mm": "39", "spread_bridge_mm": "70", "gauge_1": ".045", "gauge_2": "65", "gauge_3": ".085",
    "gauge_4": ".105", "gauge_5": ".130",
}  # fmt: skip


def test_a_bass_taken_in_with_bare_inch_sizes_is_strung_with_bass_strings():
    """`.105` and `.130` are inches, though both are millimetres that some string has."""
    made = instrument_typed(NEW_BASS, "mm")
    assert [one.diameter_mm for one in made.in_order()] == [
        pytest.approx(size * INCH_MM, abs=1e-4) for size in (0.045, 0.065, 0.085, 0.105, 0.130)
    ]


@pytest.mark.parametrize(
    ("number", "typed", "own", "mm"),
    [
        (1, ".012", "mm", 0.012 * INCH_MM),
        (1, "11 thou", "mm", 0.011 * INCH_MM),
        (1, "0.28 mm", "mm", 0.28),
        (1, "0.28", "mm", 0.28),
        (1, "0.28", "in", 0.28),
        (6, ".110", "mm", 0.110 * INCH_MM),
        (6, "45", "mm", 0.045 * INCH_MM),
        (6, "1,1", "mm", 1.1),
    ],
)
def test_the_strings_page_reads_a_bare_size_as_the_string_of_that_place(
    number: int, typed: str, own: str, mm: float
):
    found = typed_strings(GUITAR, strings_form({f"diameter-{number}": typed}), own)
    assert [(one.string, one.diameter_mm) for one in found] == [(number, pytest.approx(mm, abs=1e-4))]


def test_a_set_on_the_command_line_is_read_alike():
    service = empty_service(family("bass-five"))
    found = set_typed(service, (".045", "65", ".085", ".105", ".130"))
    assert found[4].diameter_mm == pytest.approx(0.130 * INCH_MM, abs=1e-4)
    with pytest.raises(CorrectInputError, match="1 sizes for 5 strings"):
        set_typed(service, (".045",))


def test_a_size_that_could_be_two_is_refused_with_both():
    with pytest.raises(CorrectInputError, match=r"could be 0.13 mm or 0.13 in \(3.3 mm\); type the unit"):
        gauge_mm(".130", "mm")
    told = r"string 6: '\.2' could be 0\.2 mm or 0\.2 in \(5\.08 mm\), far from the 1\.17 mm"
    with pytest.raises(CorrectInputError, match=told):
        typed_strings(GUITAR, strings_form({"diameter-6": ".2"}))
    with pytest.raises(CorrectInputError, match=r"'3' could be 3 mm, far from the 0\.254 mm"):
        gauge_mm("3", "mm", 0.254)
    assert gauge_mm("3 mm", "mm", 0.254) == 3.0  # with its unit it is what it says


@pytest.mark.parametrize("text", ["", "rope", "900", "-1", ".001", "1e3"])
def test_a_size_that_no_string_has_is_refused(text: str):
    with pytest.raises(CorrectInputError):
        gauge_mm(text, "mm", 0.254)


@pytest.mark.parametrize(
    ("text", "own", "mm"),
    [
        ("686 - 648", "mm", (686.0, 648.0)),
        ("686-648 mm", "mm", (686.0, 648.0)),
        ("27 - 25.5 in", "mm", (27 * INCH_MM, 25.5 * INCH_MM)),
        ("27in to 25.5in", "mm", (27 * INCH_MM, 25.5 * INCH_MM)),
        ("27 to 25.5", "in", (27 * INCH_MM, 25.5 * INCH_MM)),
        ('27" – 25 1/2"', "mm", (27 * INCH_MM, 25.5 * INCH_MM)),
        ("648", "mm", (648.0,)),
    ],
)
def test_a_scale_is_one_length_or_two(text: str, own: str, mm: tuple[float, ...]):
    assert scales_mm(text, own) == pytest.approx(mm)


@pytest.mark.parametrize("text", ["-648", "long", "686 - 660 - 648", "686 - long", "27 - 25.5", ""])
def test_a_scale_that_is_none_is_refused(text: str):
    with pytest.raises(CorrectInputError):
        scales_mm(text, "mm")


def test_fanned_frets_give_every_string_a_scale_in_equal_steps():
    made = instrument_typed(NEW_BASS | {"scale_mm": "37 - 33 in"}, "mm")
    scales = [one.scale_mm for one in made.in_order()]
    assert scales == [pytest.approx(inches * INCH_MM, abs=1e-3) for inches in (33, 34, 35, 36, 37)]
    assert scale_ends_mm(made) == pytest.approx((37 * INCH_MM, 33 * INCH_MM), abs=1e-3)
    plain = instrument_typed(NEW_BASS | {"scale_mm": "864 - 864"}, "mm")
    assert {one.scale_mm for one in plain.in_order()} == {None}


def test_a_board_whose_radius_grows_is_two_radii():
    made = instrument_typed(NEW_BASS | {"board_radius_mm": "254 - 406"}, "mm")
    assert made.model_dump(mode="json")["board_radius_mm"] == {"at_nut": 254.0, "at_last_fret": 406.0}
