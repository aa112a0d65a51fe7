"""Fret templates against equal temperament: the twelfth root of two; plain arithmetic, no published table.

The constant a scale is divided by at each fret, 17.817153745, is 1 / (1 - 2^(-1/12)): `test_equal_temperament`.
"""

from itertools import pairwise

import pytest

from breakangle.documents.true_size.geometry import Line
from breakangle.documents.true_size.registry import template_kind
from paper_fixtures.instruments import EVERY_SERVICE, family_service, fanned_service

CONSTANT = 17.817153745
FRETS_MM = [round(648.0 * (1.0 - 2.0 ** (-fret / 12.0)), 3) for fret in range(1, 13)]


def fret_lines(drawing) -> list[Line]:
    """Return the fret lines in order, the nut first: lines that are worked to and run across the board."""
    lines = [one for one in drawing.parts if isinstance(one, Line) and one.role == "mark"]
    across = [one for one in lines if abs(one.end_mm[1] - one.start_mm[1]) > 20.0]
    return sorted(across, key=lambda one: one.start_mm[0] + one.end_mm[0])


def test_a_648_mm_scale_has_the_distances_of_equal_temperament():
    service = family_service("electric-guitar")
    scaled = service.model_copy(
        update={"instrument": service.instrument.model_copy(update={"scale_mm": 648.0})}
    )
    lines = fret_lines(template_kind("fret-positions").drawing(scaled))
    assert [round(one.start_mm[0], 3) for one in lines[1:13]] == pytest.approx(FRETS_MM, abs=1e-9)


@pytest.mark.parametrize("kind", [name for name in EVERY_SERVICE if name != "fanned"])
def test_each_fret_takes_one_part_in_17_817153745_of_what_is_left(kind):
    service = EVERY_SERVICE[kind]
    scale = service.instrument.scale_mm
    places = [one.start_mm[0] for one in fret_lines(template_kind("fret-positions").drawing(service))]
    assert len(places) == service.instrument.frets + 1
    for before, place in pairwise(places):
        assert place - before == pytest.approx((scale - before) / CONSTANT, abs=1e-6)


@pytest.mark.parametrize("square", [0, 7, 12])
def test_with_a_scale_of_each_string_every_string_meets_every_fret_at_its_own_distance(square):
    service = fanned_service()
    instrument = service.instrument
    drawing = template_kind("fret-positions").drawing(service, {"square_fret": str(square)})
    lines = fret_lines(drawing)
    assert lines[square].start_mm[0] == pytest.approx(lines[square].end_mm[0], abs=1e-9)
    for one in instrument.in_order():
        places = []
        for fret, line in enumerate(lines):
            (x0, y0), (x1, y1) = line.start_mm, line.end_mm
            share = 1.0 - 2.0 ** (-fret / 12.0)
            side = 0.5 - (one.string - 1) / 5.0
            wide = instrument.spread_nut_mm + (instrument.spread_bridge_mm - instrument.spread_nut_mm) * share
            y = side * wide
            places.append(x0 + (x1 - x0) * (y - y0) / (y1 - y0))
        for fret, place in enumerate(places):
            assert place - places[0] == pytest.approx(one.scale_mm * (1.0 - 2.0 ** (-fret / 12.0)), abs=1e-6)
