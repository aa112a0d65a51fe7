"""What an elevation shows is where the state says it is: to scale, never through a crown, alike from both sides."""

import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.drawings.elevation.elevation import elevation, strings_at_the_edges
from breakangle.drawings.elevation.profile import figures_of, level_of, measures_of, profile_of
from breakangle.drawings.look import Drawing, Look
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.reference.families import families
from drawing_setups import SVG, after, everything_moves, solved, texts
from planning_cases import ordinary, service_reading

POINT = re.compile(r"(-?[\d.]+) (-?[\d.]+)")


def paths(drawing: Drawing, ink: str) -> list[list[tuple[float, float]]]:
    """Return the points of every path of one ink, inside groups of that ink too."""
    root = ElementTree.fromstring(drawing.svg)
    found = [one for one in root.iter(f"{SVG}path") if one.get("class") == f"dr-{ink}"]
    for group in root.iter(f"{SVG}g"):
        if group.get("class") == f"dr-{ink}":
            found += list(group.iter(f"{SVG}path"))
    return [[(float(x), float(y)) for x, y in POINT.findall(one.get("d", ""))] for one in found]


@pytest.mark.parametrize("kind", families())
@pytest.mark.parametrize("left_handed", [False, True])
def test_the_string_is_drawn_to_the_scale_that_is_written(kind, left_handed):
    """Height over length in the picture is that of the state, times the exaggeration in words."""
    _, now = solved(kind)
    string = strings_at_the_edges(now)[0]
    drawn = elevation(now, [string], look=Look(width=1100.0, left_handed=left_handed))
    times = int(next(one for one in texts(drawn) if one.startswith("heights drawn")).split()[2])
    line = paths(drawn, "string")[0]  # the second is the key's sample
    nut, saddle = line[1], line[-2]
    board, index = now.board, string - 1
    level = level_of(now, string)
    height = level.above(board.along_mm[index], now.picture.height_mm[index])
    setback = now.picture.mean[now.picture.layout["saddle_setback"]][index]
    along_scale = abs(saddle[0] - nut[0]) / (board.along_mm[index, -1] + setback)
    rise = (nut[1] - saddle[1]) / along_scale / times
    assert rise == pytest.approx(height[-1] - height[0], abs=0.15 / along_scale / times)
    assert (saddle[0] < nut[0]) == left_handed


@pytest.mark.parametrize("kind", families())
def test_the_bar_is_one_millimetre_high(kind):
    _, now = solved(kind)
    string = strings_at_the_edges(now)[0]
    drawn = elevation(now, [string], look=Look(width=760.0))
    times = int(next(one for one in texts(drawn) if one.startswith("heights drawn")).split()[2])
    line = paths(drawn, "string")[0]  # the second is the key's sample
    setback = now.picture.mean[now.picture.layout["saddle_setback"]][string - 1]
    along_scale = abs(line[-2][0] - line[1][0]) / (now.board.along_mm[string - 1, -1] + setback)
    bar = paths(drawn, "rule")[0]
    assert "1 mm" in texts(drawn)
    assert abs(bar[1][1] - bar[0][1]) == pytest.approx(along_scale * times, abs=0.11)


@pytest.mark.parametrize("kind", families())
@pytest.mark.parametrize("off", [-8.0, 0.0, 4.0])
def test_the_string_never_passes_through_a_crown(kind, off):
    """The upper hull: no crown above the string, and it is straight or bends over a crown it lies on."""
    now = estimate(service_reading(ordinary(kind), lambda target: off))
    for one in now.board.instrument.in_order():
        seen = profile_of(now, one.string, level_of(now, one.string))
        beyond = slice(seen.first + 1, -1)
        assert np.all(seen.string_mm[beyond] >= seen.crown_mm[beyond] - 1e-9)
        known = np.isfinite(seen.string_mm)
        slopes = np.diff(seen.string_mm[known]) / np.diff(seen.along_mm[known])
        assert np.all(np.diff(slopes) <= 1e-9)  # bends only as a taut string over something does
        bent = np.flatnonzero(np.diff(slopes) < -1e-7) + 1 + seen.first
        assert set(bent) <= set(seen.resting)


@pytest.mark.parametrize("kind", families())
def test_the_level_lies_on_first_and_joint_crown(kind):
    _, now = solved(kind)
    joint = now.board.instrument.joint_fret
    for one in now.board.instrument.in_order():
        seen = profile_of(now, one.string, level_of(now, one.string))
        left = min(seen.first + 1, joint - 1)
        assert seen.crown_mm[[left, joint]] == pytest.approx([0.0, 0.0], abs=1e-12)


@pytest.mark.parametrize("kind", families())
def test_arrows_leave_no_line_over_a_text(kind):
    """The thin lines that tie labels to their places never run through a label."""
    service, now = solved(kind)
    moves = everything_moves(service.instrument)
    targets = house_targets(now.board, "medium")
    crossed = []
    for width in (340.0, 760.0, 1300.0):
        for string in [one.string for one in service.instrument.in_order()]:
            drawn = elevation(
                now,
                [string],
                after=after(now, moves),
                adjustments=moves,
                targets=targets,
                look=Look(width=width),
            )
            for (x, start), (_, end) in paths(drawn, "leader"):
                low, high = min(start, end), max(start, end)
                crossed += [
                    (width, string, box.text)
                    for box in drawn.text_boxes
                    if box.left < x < box.right and box.top < high - 1.0 and box.bottom > low + 1.0
                ]
    assert crossed == []


@given(st.sampled_from(families()), st.floats(-3.0, 6.0), st.floats(300.0, 1600.0), st.booleans())
@settings(max_examples=40, deadline=None)
def test_a_drawing_does_not_depend_on_how_wide_it_is(kind, off, width, left_handed):
    """The table says the same at any width and from either side; the picture is well-formed."""
    now = estimate(service_reading(ordinary(kind), lambda target: round(off, 1)))
    string = strings_at_the_edges(now)
    usual = elevation(now, string)
    other = elevation(now, string, look=Look(width=width, left_handed=left_handed))
    assert other.table == usual.table
    assert ElementTree.fromstring(other.svg).tag == f"{SVG}svg"


@pytest.mark.parametrize("kind", families())
def test_figures_are_those_of_the_state(kind):
    """What is written is the gap of the state, to 0.01 mm and to 0.001 inch, with twice its uncertainty."""
    _, now = solved(kind)
    string = strings_at_the_edges(now)[0]
    measures = measures_of(now, string, (), relief_fret=7)
    figures = figures_of(now, measures)
    metric = elevation(now, [string], targets=(), look=Look(units="mm")).table
    inches = elevation(now, [string], targets=(), look=Look(units="inch")).table
    for measure, figure, row, small in zip(measures, figures, metric.rows, inches.rows, strict=False):
        if measure.words == "relief":
            continue  # its fret is the family's own
        mm, doubt = row[2].split(" ± ")
        assert float(mm) == pytest.approx(figure.mm, abs=0.005001)
        assert float(doubt) == pytest.approx(max(2 * figure.spread_mm, 0.01), abs=0.005001)
        assert float(small[2].split(" ± ")[0]) == pytest.approx(figure.mm / 25.4, abs=0.0005001)
