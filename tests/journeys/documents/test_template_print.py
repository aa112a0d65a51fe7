"""Templates on the rendered page: bars, every fret, every join within 0.05 mm, as vectors and as pixels of 1200 dpi.

Fret distances: equal temperament, x_n = L (1 - 2^(-n/12)); plain arithmetic.
"""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pdfplumber
import pytest

from breakangle.documents.true_size.tiling import PAPERS
from breakangle.model.errors import CorrectInputError
from breakangle.services.documents.templates import draw_template, printed_scale, template_file, templates
from paper_fixtures.instruments import EVERY_SERVICE, family_service
from paper_fixtures.rendered import Stroke, curve_ends, ink, line_places_mm, strokes

CLOSE_MM = 0.05
SERVICE = family_service("electric-guitar")
SCALE_MM, FRETS = SERVICE.instrument.scale_mm, SERVICE.instrument.frets
WANTED = [SCALE_MM * (1.0 - 2.0 ** (-fret / 12.0)) for fret in range(FRETS + 1)]
SIZE_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
PAPERS_TOO = pytest.mark.parametrize("on", PAPERS)


@pytest.fixture(scope="module")
def printed(tmp_path_factory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("print")
    made = {}
    for on in PAPERS:
        made[on] = folder / f"{on}.pdf"
        made[on].write_bytes(template_file(SERVICE, "fret-positions", on=on))
    return made


def drawing_pages(path: Path) -> list[list[Stroke]]:
    """Return the strokes of each page that has a part of the drawing: those with the two bars to measure."""
    with pdfplumber.open(path) as pdf:
        pages = [strokes(one) for one in pdf.pages]
    return [page for page in pages if any(abs(one.length_mm - 100.0) < 1.0 for one in page)]


def bars(page: list[Stroke]) -> list[Stroke]:
    return [one for one in page if abs(one.length_mm - 100.0) < 1.0]


def frets(page: list[Stroke]) -> list[float]:
    """Return how far down the page each fret is: level strokes of the width of a board, the bar apart."""
    level = [one for one in page if abs(one.y1 - one.y0) < 1e-3 and 30.0 < one.length_mm < 90.0]
    return sorted({round(one.y0, 6) for one in level})


def marks(path: Path, number: int) -> list[tuple[float, float]]:
    """Return the middles of the register marks' circles of 1.6 mm on a page, left to right, top to bottom."""
    with pdfplumber.open(path) as pdf:
        boxes = curve_ends(pdf.pages[number])
    found = [
        ((left + right) / 2.0, (top + bottom) / 2.0)
        for left, top, right, bottom in boxes
        if abs(right - left - 3.2) < 0.2 and abs(bottom - top - 3.2) < 0.2
    ]
    return sorted(found, key=lambda one: (round(one[1], 1), one[0]))


@PAPERS_TOO
def test_both_bars_measure_100_mm_on_every_page_and_the_page_has_its_paper_size(printed, on):
    with pdfplumber.open(printed[on]) as pdf:
        for page in pdf.pages:
            size = float(page.width) * 25.4 / 72.0, float(page.height) * 25.4 / 72.0
            assert size == pytest.approx(SIZE_MM[on], abs=0.01)
    pages = drawing_pages(printed[on])
    assert len(pages) >= 2
    for page in pages:
        across, down = sorted(bars(page), key=lambda one: abs(one.y1 - one.y0))
        assert abs(abs(across.x1 - across.x0) - 100.0) <= CLOSE_MM
        assert abs(abs(down.y1 - down.y0) - 100.0) <= CLOSE_MM
        for one in page:
            assert 0.0 <= min(one.x0, one.x1) <= max(one.x0, one.x1) <= SIZE_MM[on][0]


@PAPERS_TOO
def test_every_fret_is_where_equal_temperament_has_it_over_the_joined_pages(printed, on):
    pages = drawing_pages(printed[on])
    fallen, down = [], 0.0
    for number, page in enumerate(pages):
        if number:
            above, here = marks(printed[on], number - 1), marks(printed[on], number)
            down += above[-2][1] - here[0][1]  # laying the crossed circles over each other
            assert abs(above[-2][0] - here[0][0]) <= CLOSE_MM
            assert abs(above[-1][0] - here[1][0]) <= CLOSE_MM
            assert abs((above[-1][1] - above[-2][1]) - (here[1][1] - here[0][1])) <= CLOSE_MM
        fallen += [place + down for place in frets(page)]
    fallen = [
        place
        for place, before in zip(sorted(fallen), [-1.0, *sorted(fallen)], strict=False)
        if place - before > 0.2
    ]
    assert len(fallen) == FRETS + 1
    worst = max(abs(place - fallen[0] - wanted) for place, wanted in zip(fallen, WANTED, strict=True))
    assert worst <= CLOSE_MM


@PAPERS_TOO
def test_as_pixels_bars_and_frets_and_the_join_are_true(printed, on):
    """A print of 1200 dpi, its pixel 0.021 mm."""
    with pdfplumber.open(printed[on]) as pdf:
        bar = min(bars(strokes(pdf.pages[0])), key=lambda one: abs(one.y1 - one.y0))
    ticks = ink(printed[on], 1, bar.x0 - 2.0, bar.y0 - 0.6, 104.0, 0.3)
    places = line_places_mm(ticks.mean(axis=0), bar.x0 - 2.0)
    assert abs(places[-1] - places[0] - 100.0) <= CLOSE_MM
    assert np.diff(places) == pytest.approx([10.0] * 10, abs=CLOSE_MM)
    pages = drawing_pages(printed[on])
    middle = next(one for one in pages[0] if 30.0 < one.length_mm < 90.0 and abs(one.y1 - one.y0) < 1e-3)
    column_mm = (middle.x0 + middle.x1) / 2.0 + 1.7  # beside the dashed lines of the strings and the middle
    fallen, down = [], 0.0
    for number, page in enumerate(pages):
        strip = ink(printed[on], number + 1, column_mm, 20.0, 0.5, SIZE_MM[on][1] - 45.0)
        level = line_places_mm(strip.min(axis=1), 20.0)
        if number:
            down += round_mark(printed[on], number, lowest=True) - round_mark(
                printed[on], number + 1, lowest=False
            )
        wanted = frets(page)
        fallen += [place + down for place in level if min(abs(place - one) for one in wanted) < 0.3]
    joined = sorted(fallen)
    apart = [joined[0], *[b for a, b in pairwise(joined) if b - a > 0.2]]
    assert len(apart) == FRETS + 1
    assert max(abs(one - apart[0] - wanted) for one, wanted in zip(apart, WANTED, strict=True)) <= CLOSE_MM
    doubled = [b - a for a, b in pairwise(joined) if b - a <= 0.2]
    assert all(gap <= CLOSE_MM for gap in doubled)


def round_mark(path: Path, number: int, lowest: bool) -> float:
    """Return how far down a page a register mark's cross is, as pixels have it: the level arm left of the circle."""
    found = marks(path, number - 1)
    x, y = found[-2] if lowest else found[0]
    strip = ink(path, number, x - 3.6, y - 1.0, 1.0, 2.0)
    places = line_places_mm(strip.mean(axis=1), y - 1.0)
    return min(places, key=lambda one: abs(one - y))


@pytest.mark.parametrize("name", ["banjo-five", "bass-six", "fanned", "mandolin"])
@pytest.mark.parametrize("kind", [one.name for one in templates()])
def test_every_template_keeps_its_size_on_paper(name, kind, tmp_path):
    """The longest straight line that is worked to, as the model has it and as the page shows it."""
    drawing = draw_template(EVERY_SERVICE[name], kind)
    path = tmp_path / "template.pdf"
    path.write_bytes(template_file(EVERY_SERVICE[name], kind, on="letter"))
    with pdfplumber.open(path) as pdf:
        shown = [one.length_mm for page in pdf.pages for one in strokes(page)]
    wanted = [
        np.hypot(one.end_mm[0] - one.start_mm[0], one.end_mm[1] - one.start_mm[1])
        for one in drawing.parts
        if hasattr(one, "start_mm")
    ]
    for length in wanted:
        assert min(abs(length - one) for one in shown) <= CLOSE_MM


def test_a_print_that_was_shrunk_is_told_from_a_true_one():
    """Letter printed on A4 paper by a browser came out at 94.07 mm."""
    assert printed_scale(100.0).good
    assert printed_scale(100.1).good
    shrunk = printed_scale(94.07, longest_mm=466.2)
    assert not shrunk.good
    assert "5.9 % too small" in shrunk.told
    assert "27.6 mm over 466 mm" in shrunk.told
    with pytest.raises(CorrectInputError):
        printed_scale(3.94)
