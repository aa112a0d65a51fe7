"""Laws of templates: the same geometry in SVG and DXF, slots that add up, arcs of their radius, pages that cover."""

import re
import xml.etree.ElementTree as ElementTree
from io import StringIO
from itertools import pairwise
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from breakangle.documents.renderers.template_dxf import template_dxf
from breakangle.documents.renderers.template_svg import template_svg
from breakangle.documents.templates.nut_slots import courses, slot_places_mm
from breakangle.documents.true_size.geometry import Arc, Circle, Curve, Line, Words, arc_cubics, extent_mm
from breakangle.documents.true_size.registry import template_kind, template_kinds
from breakangle.documents.true_size.tiling import MOST_PAGES, PAPERS, REGISTER_MM, WIDEST_MM, tiling_of
from breakangle.model.errors import CorrectInputError
from paper_fixtures.instruments import EVERY_SERVICE, family_service

FINE_MM = 1e-6
CASES = [(name, kind) for name in EVERY_SERVICE for kind in template_kinds()]
SVG = "{http://www.w3.org/2000/svg}"


def drawing_of(name, kind, **options):
    return template_kind(kind).drawing(EVERY_SERVICE[name], options)


def numbers(text: str) -> list[float]:
    return [float(one) for one in re.findall(r"-?\d+(?:\.\d+)?", text)]


def close(found, wanted) -> bool:
    flat = [value for pair in wanted for value in pair]
    return len(found) == len(flat) and all(abs(a - b) <= FINE_MM for a, b in zip(found, flat, strict=True))


@pytest.mark.parametrize(("name", "kind"), CASES)
def test_svg_has_every_part_where_the_model_has_it(name, kind):
    drawing = drawing_of(name, kind)
    root = ElementTree.fromstring(template_svg(drawing).encode())
    view = numbers(root.get("viewBox"))
    assert numbers(root.get("width")) == pytest.approx([view[2]], abs=FINE_MM)
    assert numbers(root.get("height")) == pytest.approx([view[3]], abs=FINE_MM)
    assert root.get("width").endswith("mm")
    shapes = [one for one in root if one.tag in (f"{SVG}path", f"{SVG}circle", f"{SVG}text")]
    assert len(shapes) == len(drawing.parts)
    for shape, part in zip(shapes, drawing.parts, strict=True):
        if isinstance(part, Line):
            wanted = [(x, -y) for x, y in (part.start_mm, part.end_mm)]
            assert close(numbers(shape.get("d")), wanted)
        elif isinstance(part, Curve):
            assert close(numbers(shape.get("d")), [(x, -y) for x, y in part.points_mm])
        elif isinstance(part, Circle):
            x, y = part.centre_mm
            assert close([float(shape.get(one)) for one in ("cx", "cy", "r")], [(x, -y), (part.radius_mm,)])
        elif isinstance(part, Arc):
            (x0, y0), (x1, y1) = part.at_mm(part.start_degrees), part.at_mm(part.end_degrees)
            wanted = [(x0, -y0), (part.radius_mm, part.radius_mm), (0, 0, 0), (x1, -y1)]
            assert close(numbers(shape.get("d")), wanted)
        else:
            assert isinstance(part, Words)
            assert close([float(shape.get("x")), float(shape.get("y"))], [(part.at_mm[0], -part.at_mm[1])])
            assert shape.text == part.text


@pytest.mark.parametrize(("name", "kind"), CASES)
def test_dxf_has_every_part_where_the_model_has_it_in_mm(name, kind):
    import ezdxf

    drawing = drawing_of(name, kind)
    document = ezdxf.read(StringIO(template_dxf(drawing).decode().replace("\r\n", "\n")))
    assert document.units == ezdxf.units.MM
    assert document.audit().errors == []
    entities = list(document.modelspace())
    assert len(entities) == len(drawing.parts)
    for entity, part in zip(entities, drawing.parts, strict=True):
        if isinstance(part, Line):
            found = [*entity.dxf.start.vec2, *entity.dxf.end.vec2]
            assert close(found, [part.start_mm, part.end_mm])
        elif isinstance(part, Curve):
            assert entity.closed == part.closed
            assert close([v for point in entity.get_points("xy") for v in point], part.points_mm)
        elif isinstance(part, Circle | Arc):
            assert close([*entity.dxf.center.vec2, entity.dxf.radius], [part.centre_mm, (part.radius_mm,)])
            if isinstance(part, Arc):
                ends = [*entity.start_point.vec2, *entity.end_point.vec2]
                assert close(ends, [part.at_mm(part.start_degrees), part.at_mm(part.end_degrees)])
        else:
            assert entity.dxf.text == part.text


@given(st.floats(20.0, 90.0), st.sampled_from(sorted(EVERY_SERVICE)))
def test_equal_gaps_are_equal_and_equal_middles_too(spread_mm, name):
    instrument = EVERY_SERVICE[name].instrument
    rows = courses(instrument)
    gaps = slot_places_mm(instrument, spread_mm, "gaps")
    middles = slot_places_mm(instrument, spread_mm, "centres")
    assert set(gaps) == {one.string for one in instrument.strings if one.nut_at_fret == 0}
    between, steps, centres = [], [], []
    for before, after in pairwise(rows):
        left = gaps[before[-1].string] + before[-1].diameter_mm / 2.0
        between.append(gaps[after[0].string] - after[0].diameter_mm / 2.0 - left)
    for row in rows:
        low = middles[row[0].string] - row[0].diameter_mm / 2.0
        high = middles[row[-1].string] + row[-1].diameter_mm / 2.0
        centres.append((low + high) / 2.0)
    steps = [b - a for a, b in pairwise(centres)]
    assert between == pytest.approx([between[0]] * len(between), abs=1e-9)
    assert steps == pytest.approx([spread_mm / (len(rows) - 1)] * len(steps), abs=1e-9)


@given(st.floats(60.0, 5000.0), st.floats(20.0, 59.0))
def test_a_gauge_has_its_radius_at_both_ends_and_in_the_middle(radius_mm, width_mm):
    drawing = drawing_of(
        "electric-guitar", "radius-gauges", radii=f"{radius_mm:.3f}", width=f"{width_mm:.3f}"
    )
    arcs = [one for one in drawing.parts if isinstance(one, Arc)]
    assert len(arcs) == 2
    for arc in arcs:
        first, last = arc.at_mm(arc.start_degrees), arc.at_mm(arc.end_degrees)
        assert abs(abs(last[0] - first[0]) - round(width_mm, 3)) < 1e-6
        middle = arc.at_mm((arc.start_degrees + arc.end_degrees) / 2.0)
        rise = abs(middle[1] - (first[1] + last[1]) / 2.0)
        chord = hypot(last[0] - first[0], last[1] - first[1])
        assert (chord**2 / 4.0 + rise**2) / (2.0 * rise) == pytest.approx(round(radius_mm, 3), rel=1e-6)


@given(st.floats(5.0, 5000.0), st.floats(0.0, 350.0), st.floats(1.0, 360.0))
def test_cubics_stay_on_their_arc(radius_mm, start_degrees, span_degrees):
    arc = Arc((3.0, -2.0), radius_mm, start_degrees, start_degrees + span_degrees)
    points = arc_cubics(arc)
    for place in range(0, len(points) - 1, 3):
        a, b, c, d = points[place : place + 4]
        for t in (0.0, 0.2, 0.5, 0.8, 1.0):
            w = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
            x, y = (sum(p * q[axis] for p, q in zip(w, (a, b, c, d), strict=True)) for axis in (0, 1))
            assert abs(hypot(x - 3.0, y + 2.0) - radius_mm) <= 1e-6 * radius_mm


@pytest.mark.parametrize("on", PAPERS.values(), ids=lambda one: one.name)
@pytest.mark.parametrize(("name", "kind"), CASES)
def test_every_point_lies_on_a_page_and_every_join_has_its_marks(name, kind, on):
    drawing = drawing_of(name, kind)
    tiling = tiling_of(drawing, on)
    wide, tall = on.window_mm
    assert wide <= WIDEST_MM < on.width_mm
    for part in drawing.parts:
        for x, y in map(tiling.place_mm, extent_mm(part)):
            assert any(
                -1e-9 <= x - one.corner_mm[0] <= wide + 1e-9 and -1e-9 <= y - one.corner_mm[1] <= tall + 1e-9
                for one in tiling.tiles
            )
    shown = {
        mark: [
            one
            for one in tiling.tiles
            if REGISTER_MM - 1e-6 <= mark[0] - one.corner_mm[0] <= wide - REGISTER_MM + 1e-6
            and REGISTER_MM - 1e-6 <= mark[1] - one.corner_mm[1] <= tall - REGISTER_MM + 1e-6
        ]
        for mark in tiling.marks_mm
    }
    assert all(len(pages) >= 2 for pages in shown.values())
    joins = (tiling.rows - 1) * tiling.columns + (tiling.columns - 1) * tiling.rows
    assert len(tiling.marks_mm) == 2 * joins


def test_what_no_print_can_be_is_refused():
    service = family_service("electric-guitar")
    for options in (
        {"nut": "golden"},
        {"edge": "-1"},
        {"square_fret": "99"},
        {"colour": "red"},
        {"edge": "nan"},
    ):
        with pytest.raises(CorrectInputError):
            template_kind("fret-positions").drawing(service, options)
    with pytest.raises(CorrectInputError):
        template_kind("no-such-template")
    with pytest.raises(CorrectInputError):
        template_kind("radius-gauges").drawing(service, {"radii": "60", "width": "61"})
    many = template_kind("radius-gauges").drawing(service, {"radii": ";".join(["254"] * 1000)})
    with pytest.raises(CorrectInputError, match=f"{MOST_PAGES} at most"):
        tiling_of(many, PAPERS["a4"])
