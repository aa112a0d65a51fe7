"""Drawings on paper: typeset into a PDF with text as text, fonts from the package, black and greys only."""

import re
from datetime import date
from itertools import pairwise
from pathlib import Path

import pdfplumber
import pytest
import typst

from breakangle.drawings.charts.history import VisitPoint
from breakangle.drawings.look import PAPER, Drawing
from breakangle.services.plans.charts import history_chart
from breakangle.services.service_files.pictures import buzz_map, elevation_of, intonation_map
from drawing_setups import solved

COLOUR = re.compile(r'(?:fill|stroke)="([^"]+)"')


@pytest.fixture(scope="module")
def drawn() -> list[Drawing]:
    service, now = solved("electric-guitar", 3.0)
    visits = [
        VisitPoint(date(2025, 3, 1), "sheet 1", 0.4, 0.3, 1.9, 1.5, 6.0, 0.5, 38.0),
        VisitPoint(date(2025, 10, 1), "sheet 7", 0.35, 0.3, 1.6, 1.5, -3.0, 0.5, 52.0),
    ]
    return [
        elevation_of(service, 6, now=now, look=PAPER),
        intonation_map(service, now=now, look=PAPER),
        buzz_map(service, "heavy", now=now, look=PAPER),
        history_chart(visits, look=PAPER),
    ]


def test_paper_knows_black_and_greys_only(drawn: list[Drawing]):
    for one in drawn:
        for colour in COLOUR.findall(one.svg):
            if colour == "none":
                continue
            digits = colour.removeprefix("#")
            parts = [digits[i : i + len(digits) // 3] for i in range(0, len(digits), len(digits) // 3)]
            assert len(set(parts)) == 1, colour
        assert "class=" not in one.svg
        assert "var(" not in one.svg
        assert "currentColor" not in one.svg


def test_every_text_is_text_in_the_pdf(drawn: list[Drawing], tmp_path: Path):
    """Typeset with the package's own fonts alone; every word of every drawing can be read out of the file."""
    source = '#set page(paper: "a4", margin: 20mm)\n'
    for number, one in enumerate(drawn):
        (tmp_path / f"drawing{number}.svg").write_text(one.svg, encoding="utf-8")
        source += f'#image("drawing{number}.svg", width: 170mm, alt: "a drawing")\n#pagebreak(weak: true)\n'
    (tmp_path / "sheet.typ").write_text(source, encoding="utf-8")
    typst.compile(tmp_path / "sheet.typ", output=tmp_path / "sheet.pdf", ignore_system_fonts=True)
    with pdfplumber.open(tmp_path / "sheet.pdf") as pdf:
        assert len(pdf.pages) == len(drawn)
        for page, one in zip(pdf.pages, drawn, strict=True):
            read = re.sub(r"\s+", "", page.extract_text())
            letters = {char["text"] for char in page.chars}
            assert "\ufffd" not in letters
            missing = [box.text for box in one.text_boxes if re.sub(r"\s+", "", box.text) not in read]
            assert len(missing) <= 0.02 * len(one.text_boxes), missing
            outside = [char for char in page.chars if not 0 <= char["x0"] <= char["x1"] <= page.width]
            assert outside == []


def test_the_picture_is_readable_in_grey(drawn: list[Drawing]):
    """Levels of a map differ by sign as well as by shade, and the shades are apart enough to be told."""
    buzz = drawn[2].svg
    shades = sorted({colour for colour in COLOUR.findall(buzz) if colour.startswith("#")})
    greys = sorted(int(one[1:3] if len(one) == 7 else one[1] * 2, 16) for one in shades)
    light = [one for one in greys if one >= 0xB0]
    assert all(b - a >= 12 for a, b in pairwise(light)), light
    assert min(light) >= 0xB0  # black text on it: 9 to 1 and more
