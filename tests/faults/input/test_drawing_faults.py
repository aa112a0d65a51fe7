"""Drawings of what people type: markup, broken and turned-around text, sizes and strings that cannot be."""

import re
import xml.etree.ElementTree as ElementTree
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.drawings.charts.history import VisitPoint
from breakangle.drawings.charts.pitch_curve import pitch_chart
from breakangle.drawings.look import PAPER, Drawing, Look
from breakangle.drawings.sheet import legible
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.services.plans.charts import history_chart, trade_chart
from breakangle.services.service_files.pictures import buzz_map, elevation_of, intonation_map
from drawing_setups import SVG, cut_off, overlapping, solved
from planning_cases import ordinary

HOSTILE = (
    '<script>alert(1)</script>',
    '"><img src=x onerror=alert(1)>',
    "' onload='alert(1)",
    "]]><!--",
    "&lt;b&gt; &amp; &#x41;",
    "\u202eright to left\u202c שלום",
    "Ω\x00\x08\x1b[31m\ufffe",
    "x" * 200,
    "🎸" * 60,
)  # fmt: skip
ALLOWED = {"svg", "title", "desc", "g", "path", "rect", "circle", "text"}
ATTRIBUTES = re.compile(
    r"^(class|d|x|y|cx|cy|r|width|height|viewBox|role|fill|stroke|font|text-anchor|data-points)"
)


def safe(drawing: Drawing) -> ElementTree.Element:
    """Return the picture's root after looking that it holds nothing but lines, areas and text."""
    root = ElementTree.fromstring(drawing.svg)
    for one in root.iter():
        assert one.tag.removeprefix(SVG) in ALLOWED, one.tag
        for name, value in one.attrib.items():
            assert ATTRIBUTES.match(name), name
            assert "url(" not in value
            assert not name.startswith("on")
            assert name != "style"
    return root


def named(text: str) -> Service:
    return Service(instrument=ordinary("electric-guitar").model_copy(update={"name": text}))


@pytest.mark.parametrize("text", HOSTILE)
@pytest.mark.parametrize("look", [Look(), PAPER], ids=["page", "paper"])
def test_a_hostile_name_stays_a_name(text, look):
    for drawn in (elevation_of(named(text), look=look), intonation_map(named(text), look=look)):
        root = safe(drawn)
        title = root.find(f"{SVG}title")
        assert title is not None
        assert legible(text) in title.text
        assert drawn.svg.count("<title>") == 1


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_words_in_charts_stay_words(text):
    visit = VisitPoint(on=date(2026, 3, 1), words=text, relief_found_mm=0.3, humidity_percent=45.0)
    drawn = history_chart([visit], name=text)
    safe(drawn)
    assert legible(text) in drawn.title
    curve = pitch_chart(
        [0.1, 0.2], [1.0, 1.1], window_s=(0.1, 0.2), value_cents=1.0, uncertainty_cents=0.1, title=text
    )
    safe(curve)
    assert cut_off(curve) == []


@given(st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_any_text_becomes_one_legible_line(text):
    shown = legible(text)
    assert legible(shown) == shown
    root = ElementTree.fromstring(f"<a>{shown.replace('&', '&amp;').replace('<', '&lt;')}</a>")
    assert (root.text or "") == shown
    assert "\n" not in shown


@pytest.mark.parametrize("string", [0, -1, 7, 10_000])
def test_a_string_that_is_not_there_is_refused(string):
    with pytest.raises(CorrectInputError, match="strings 1 to 6"):
        elevation_of(named("Heron"), string)


@pytest.mark.parametrize(
    "wrong",
    [{"width": 0.0}, {"width": 100.0}, {"width": 1e9}, {"width": float("nan")}, {"text": 0.0}, {"text": 90.0},
     {"text": float("nan")}, {"width": 300.0, "text": 20.0}],
)  # fmt: skip
def test_a_look_that_nothing_fits_is_refused(wrong):
    with pytest.raises(CorrectInputError):
        Look(**wrong)


def test_a_strength_that_is_not_known_is_refused():
    service, now = solved("ukulele-soprano")
    with pytest.raises(CorrectInputError, match="light"):
        buzz_map(service, "gentle", now=now)


def test_a_history_without_visits_says_so():
    drawn = history_chart([])
    safe(drawn)
    assert drawn.description == "No visit yet."
    assert drawn.table.rows == ()


def test_visits_of_one_day_without_figures_are_drawn():
    bare = VisitPoint(on=date(2026, 3, 1), words="sheet 1")
    drawn = history_chart([bare, bare])
    safe(drawn)
    assert len(drawn.table.rows) == 2


def test_a_take_without_a_pitch_is_drawn():
    nothing = np.array([np.nan, np.nan])
    for times in ([], [0.1, 0.2]):
        drawn = pitch_chart(
            times, nothing[: len(times)], window_s=(0.1, 0.2), value_cents=0.0, uncertainty_cents=0.5
        )
        safe(drawn)
        assert overlapping(drawn) == []


def test_nothing_to_trade_off_is_said():
    with pytest.raises(CorrectInputError, match="rod"):
        trade_chart([])
