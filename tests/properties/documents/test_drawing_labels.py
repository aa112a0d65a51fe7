"""Labels of drawings: none over another, none cut off, for every family, width, unit and side."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.drawings.elevation.elevation import elevation, strings_at_the_edges
from breakangle.drawings.labels import Label, arranged
from breakangle.drawings.look import Look
from breakangle.drawings.text_width import ELLIPSIS, fitted, text_width, wrapped
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.reference.families import families
from breakangle.services.service_files.pictures import clearance_map, elevation_of, intonation_map
from drawing_setups import after, cut_off, everything_moves, fanned, many, overlapping, solved, texts

WIDTHS = (300.0, 340.0, 482.0, 760.0, 1100.0, 1400.0)


@pytest.mark.parametrize("kind", families())
def test_no_label_of_an_elevation_stands_over_another(kind):
    service, now = solved(kind)
    moves = everything_moves(service.instrument)
    then, targets = after(now, moves), house_targets(now.board, "medium")
    strings = [strings_at_the_edges(now), *((one.string,) for one in service.instrument.in_order())]
    for turn, width in enumerate(WIDTHS):
        look = Look(
            width=width,
            units=("mm", "inch")[turn % 2],
            left_handed=turn % 3 == 1,
            variant=("web", "print")[turn // 3],
        )
        for some in strings:
            drawn = elevation(now, some, after=then, adjustments=moves, targets=targets, look=look)
            assert overlapping(drawn) == [], (width, some)
            assert cut_off(drawn) == [], (width, some)
            assert not any(one.endswith(ELLIPSIS) for one in texts(drawn)), (width, some)


@pytest.mark.parametrize("kind", families())
def test_no_figure_of_a_map_stands_over_another(kind):
    service, now = solved(kind)
    for turn, width in enumerate(WIDTHS):
        for even in (True, False):
            look = Look(
                width=width, units=("mm", "inch")[turn % 2], even_frets=even, left_handed=turn % 3 == 1
            )
            for drawn in (
                intonation_map(service, now=now, look=look),
                clearance_map(service, now=now, look=look),
            ):
                assert overlapping(drawn) == [], (width, even)
                assert cut_off(drawn) == [], (width, even)


@pytest.mark.parametrize(
    ("count", "courses_of"), [(1, 1), (2, 1), (5, 5), (10, 2), (18, 1), (18, 3), (18, 18)]
)
@pytest.mark.parametrize("width", WIDTHS)
def test_one_to_eighteen_strings_are_drawn_whole(count, courses_of, width):
    service = Service(instrument=many(count, courses_of))
    now = estimate(service)
    for even in (True, False):
        drawn = intonation_map(service, now=now, look=Look(width=width, even_frets=even))
        assert overlapping(drawn) == []
        assert cut_off(drawn) == []
        figures = [one for one in texts(drawn) if one[:1] in "+−0"]  # whole cents where not surely known
        assert len(figures) == count * service.instrument.frets


@pytest.mark.parametrize("width", WIDTHS)
def test_a_fanned_board_is_drawn_whole(width):
    service = Service(instrument=fanned())
    for left in (True, False):
        look = Look(width=width, even_frets=False, left_handed=left)
        for drawn in (clearance_map(service, look=look), elevation_of(service, look=look)):
            assert overlapping(drawn) == []
            assert cut_off(drawn) == []


LINES = st.lists(st.text("abcdefghij 0123456789", min_size=1, max_size=30), min_size=1, max_size=4)
LABELS = st.lists(st.tuples(st.floats(10.0, 590.0), LINES), min_size=1, max_size=7)


@given(LABELS)
@settings(max_examples=120, deadline=None)
def test_labels_anywhere_never_overlap_in_a_row(found):
    labels = [Label(x, 0.0, tuple((line, "text") for line in lines)) for x, lines in found]
    placed = arranged(labels, 13.0, (6.0, 594.0))
    assert len(placed) == len(labels)
    for index, one in enumerate(placed):
        assert one.left >= 5.99
        assert one.right <= 594.01
        for other in placed[index + 1 :]:
            apart = one.right <= other.left or other.right <= one.left
            assert one.row != other.row or apart


@given(st.text(max_size=80), st.floats(20.0, 400.0), st.floats(6.0, 30.0), st.booleans())
@settings(max_examples=200, deadline=None)
def test_a_fitted_text_fits(text, width, size, strong):
    shown = fitted(text, width, size, strong)
    assert text_width(shown, size, strong) <= max(width, text_width(ELLIPSIS, size, strong))
    assert shown == text or shown.endswith(ELLIPSIS)
    for line in wrapped(text, width, size, strong):
        assert text_width(line, size, strong) <= max(width, text_width(ELLIPSIS, size, strong))
