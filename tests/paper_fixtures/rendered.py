"""What a PDF shows: its straight strokes in mm, and a part of a page as pixels of a 1200 dpi print."""

import os
import shutil
import subprocess
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pdfplumber
import pytest

MM_PER_POINT = 25.4 / 72.0
DPI = 1200
MM_PER_PIXEL = 25.4 / DPI


class Stroke(NamedTuple):
    """A straight stroke on a page, mm from the page's upper left corner."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def length_mm(self) -> float:
        return float(np.hypot(self.x1 - self.x0, self.y1 - self.y0))


def strokes(page: "pdfplumber.page.Page") -> list[Stroke]:
    """Return every straight stroke of a page."""
    found = []
    for one in page.lines:
        (x0, y0), (x1, y1) = one["pts"][0], one["pts"][-1]
        found.append(Stroke(*(value * MM_PER_POINT for value in (x0, y0, x1, y1))))
    return found


def curve_ends(page: "pdfplumber.page.Page") -> list[tuple[float, float, float, float]]:
    """Return the boxes of every curve of a page in mm: left, top, right, bottom."""
    names = ("x0", "top", "x1", "bottom")
    return [tuple(one[name] * MM_PER_POINT for name in names) for one in page.curves]


def rasterizer() -> str:
    """Return the program that draws pages; without it a loud skip, and under CI a failure."""
    found = shutil.which("pdftoppm")
    if found is None:
        told = "pdftoppm (package poppler-utils) is missing: the printed size is not tested as pixels"
        if os.environ.get("CI"):
            pytest.fail(told)
        pytest.skip(told)
    return found


def ink(pdf: Path, page: int, left_mm: float, top_mm: float, wide_mm: float, tall_mm: float) -> np.ndarray:
    """Return how dark a part of a page is at 1200 dpi, 0 to 1, rows from the top."""
    box = [round(value / MM_PER_PIXEL) for value in (left_mm, top_mm, wide_mm, tall_mm)]
    cut = ["-x", str(box[0]), "-y", str(box[1]), "-W", str(box[2]), "-H", str(box[3])]
    pages = ["-f", str(page), "-l", str(page)]
    drawn = subprocess.run(
        [rasterizer(), "-r", str(DPI), "-gray", *pages, *cut, str(pdf)], check=True, capture_output=True
    ).stdout
    kind, wide, tall, depth, rest = drawn.split(maxsplit=4)
    assert (kind, int(depth)) == (b"P5", 255)
    values = np.frombuffer(drawn[-int(wide) * int(tall) :], dtype=np.uint8)
    del rest
    return 1.0 - values.reshape(int(tall), int(wide)) / 255.0


def line_places_mm(darkness: np.ndarray, start_mm: float) -> list[float]:
    """Return the middles of the dark runs along an axis, in mm on the page: the lines that cross it."""
    first = round(start_mm / MM_PER_PIXEL)
    dark = np.concatenate([[False], darkness > 0.5, [False]])
    edges = np.flatnonzero(dark[1:] != dark[:-1]).reshape(-1, 2)
    return [float((first + (low + high) / 2.0) * MM_PER_PIXEL) for low, high in edges]


def ink_file(pdf: bytes, dpi: int) -> np.ndarray:
    """Return the first page of a PDF as grey pixels, 0 black to 255 white."""
    command = [rasterizer(), "-r", str(dpi), "-gray", "-f", "1", "-l", "1", "-"]
    drawn = subprocess.run(command, input=pdf, check=True, capture_output=True).stdout
    _, wide, tall, _ = drawn.split(maxsplit=4)[:4]
    return np.frombuffer(drawn[-int(wide) * int(tall) :], dtype=np.uint8).reshape(int(tall), int(wide))
