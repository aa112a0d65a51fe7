"""Templates can be read: no words over words or under a line, the same board in each, units that make sense."""

from itertools import combinations

import pytest

from breakangle.documents.true_size.geometry import Line, Words, columns_of, extent_mm
from breakangle.documents.true_size.outline import SQUARE_FRET
from breakangle.documents.true_size.registry import template_kind, template_kinds
from breakangle.model.errors import CorrectInputError
from paper_fixtures.instruments import EVERY_SERVICE, family_service


def boxes(drawing) -> list[tuple[str, tuple[float, float, float, float]]]:
    found = []
    for one in drawing.parts:
        if isinstance(one, Words):
            points = list(extent_mm(one))
            across, up = [x for x, _ in points], [y for _, y in points]
            found.append((one.text, (min(across), min(up), max(across), max(up))))
    return found


def overlap(one, other) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


@pytest.mark.parametrize("name", EVERY_SERVICE)
@pytest.mark.parametrize("kind", ["saddle-line", "nut-slots"])
def test_no_words_stand_over_others_even_where_strings_lie_in_courses(name: str, kind: str):
    words = boxes(template_kind(kind).drawing(EVERY_SERVICE[name]))
    over = [(a, b) for (a, one), (b, other) in combinations(words, 2) if overlap(one, other)]
    assert over == []


@pytest.mark.parametrize("name", EVERY_SERVICE)
def test_no_dashed_line_runs_through_a_saddle_s_figures(name: str):
    drawing = template_kind("saddle-line").drawing(EVERY_SERVICE[name])
    dashed = [one for one in drawing.parts if isinstance(one, Line) and one.role == "aid"]
    for text, (left, low, right, high) in boxes(drawing):
        for one in dashed:
            (x0, y0), (x1, y1) = one.start_mm, one.end_mm
            through = overlap((left, low, right, high), (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))
            assert not through, text


def test_columns_leave_room_and_no_more_than_needed():
    assert columns_of([0.0, 10.0, 20.0], 3.0) == [0, 0, 0]
    assert columns_of([20.0, 2.0, 0.0], 3.0) == [0, 1, 0]
    assert columns_of([0.0, 1.0, 2.0, 3.0], 3.0) == [0, 1, 2, 0]


def test_the_neck_of_a_fanned_board_has_the_frets_of_its_fret_template():
    lines = [
        {
            (one.start_mm[0] - one.end_mm[0]) / (one.start_mm[1] - one.end_mm[1])
            for one in template_kind(kind).drawing(EVERY_SERVICE["fanned"]).parts
            if isinstance(one, Line) and one.role == "mark" and one.start_mm[1] != one.end_mm[1]
        }
        for kind in ("neck-depth", "fret-positions")
    ]
    neck, board = ({round(lean, 6) for lean in some} for some in lines)
    assert 0.0 in neck  # the square one, which is not the nut
    assert SQUARE_FRET > 0 and len(neck) == EVERY_SERVICE["fanned"].instrument.joint_fret + 1
    assert neck <= board


def test_the_shape_of_a_back_is_a_number_in_every_unit():
    kind, service = template_kind("neck-depth"), family_service("electric-guitar")
    shoulder = next(one for one in kind.options if one.name == "shoulder")
    assert shoulder.usual_text("in") == shoulder.usual_text("mm") == "2.3"
    assert shoulder.allowed("in") == "a number from 1.5 to 4"
    drawn = [  # the words are in its unit, the lines in mm whatever it is
        [one for one in kind.drawing(service, {"shoulder": typed}, unit).parts if not isinstance(one, Words)]
        for typed, unit in (("2,5", "in"), ("2.5", "mm"), ("2.3", "mm"))
    ]
    assert drawn[0] == drawn[1] != drawn[2]
    for wrong in ("2.3 mm", "0.1", "nan", "1e1", "", "5"):
        with pytest.raises(CorrectInputError):
            kind.drawing(service, {"shoulder": wrong})


def test_gauges_of_a_flat_board_say_that_it_is_flat():
    told = template_kind("radius-gauges").drawing(family_service("banjo-five")).told
    assert told[0].startswith("This board is flat")
    assert "flat:" not in " ".join(
        template_kind("radius-gauges").drawing(family_service("electric-guitar")).told
    )
    named = template_kind("radius-gauges").drawing(family_service("banjo-five"), {"radii": "254"}).told
    assert "flat:" not in " ".join(named)


def test_every_option_says_its_unit_or_has_none():
    for kind in template_kinds().values():
        for one in kind.options:
            assert (", mm" in one.words or "in mm" in one.words) == (one.form in ("length", "lengths")), (
                one.name
            )
