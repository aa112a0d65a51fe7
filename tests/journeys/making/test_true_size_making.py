"""Paper for making at true size: measured from the page at 600 dpi, read back as DXF. [derived]"""

import re
from io import StringIO
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main
from breakangle.documents.templates.saddle_blank import KIND as SADDLE
from breakangle.documents.true_size.nut_slots_cut import OPTIONS, nut_blank
from breakangle.documents.true_size.registry import template_kind
from breakangle.model.errors import CorrectInputError
from breakangle.procedures.shelf import own_procedures
from breakangle.reference.families import families, family
from breakangle.services.documents.templates import template_file
from breakangle.services.making.kinds import Job
from breakangle.services.making.registry import making_job, making_jobs
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.service_written import write_service
from paper_fixtures.rendered import ink_file

pytest_plugins = ["web_fixtures.at_hand"]
DPI, CLOSE_MM = 600, 0.05
MM = 25.4 / DPI
USUAL = {one.name: one.usual for one in OPTIONS}
ELECTRIC, FLAT_TOP = (
    empty_service(family(kind), "Dunlin") for kind in ("electric-guitar", "steel-acoustic-guitar")
)


def runs(dark: np.ndarray) -> list[tuple[float, float]]:
    """Return start and end of every dark run along an axis, in mm from its start."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], dark, [False]]).astype(int))).reshape(-1, 2)
    return [(low * MM, high * MM) for low, high in edges]


def boxes_of(pdf: bytes) -> np.ndarray:
    """Return the page as dark or not, 600 dpi, its left margin with the bar cut off, and its foot."""
    page = ink_file(pdf, DPI) < 128
    return page[round(20.0 / MM) : round(120.0 / MM), round(12.0 / MM) :]


def test_the_nut_blank_measures_what_it_says_at_600_dpi():
    """Ends of the blank and the marks of the slots' middles below it, against the nut's own figures."""
    nut = nut_blank(ELECTRIC, USUAL | {"seat": 6.0})
    page = boxes_of(template_file(ELECTRIC, "nut-blank", "pdf", options={"seat": "6 mm"}))
    # The seat is the lowest long level line: as long as the blank.
    level = [
        (row, one)
        for row in range(len(page))
        for one in runs(page[row])
        if abs(one[1] - one[0] - nut.length_mm) < 0.5
    ]
    row, (left, right) = level[-1]
    width = right - left
    pen = min(len([r for r, _ in level if abs(r - row) < 12]), 12) * MM
    assert width - pen == pytest.approx(nut.length_mm, abs=CLOSE_MM)
    below = page[row + round(1.2 / MM)]
    middles = [
        (low + high) / 2.0 - left - pen / 2.0 for low, high in runs(below) if left - 1.0 < low < right + 1.0
    ]
    assert middles == pytest.approx([one.middle_mm for one in nut.slots], abs=CLOSE_MM)
    top = next(r for r, _ in level)
    assert (row - top) * MM - pen == pytest.approx(nut.height_mm, abs=CLOSE_MM + MM)


def ends_of(path: Path) -> np.ndarray:
    """Return every vertex that a general library finds in a DXF, mm."""
    found = []
    for one in ezdxf.readfile(path).modelspace():
        if one.dxftype() == "LINE":
            found += [tuple(one.dxf.start)[:2], tuple(one.dxf.end)[:2]]
        if one.dxftype() == "LWPOLYLINE":
            found += [tuple(point)[:2] for point in one.get_points("xy")]
    return np.array(found)


def holds(points: np.ndarray, x: float, y: float) -> bool:
    return bool(np.hypot(points[:, 0] - x, points[:, 1] - y).min() < 1e-4)


def test_the_wedge_in_dxf_has_its_line_from_nothing_to_the_cap(tmp_path):
    sheet = making_job("neck-angle").sheet(FLAT_TOP, {"airspace_bass": "-2.8", "airspace_treble": "-2.4"})
    (paper,) = sheet.papers
    path = tmp_path / "wedge.dxf"
    path.write_bytes(template_file(FLAT_TOP, paper.template, "dxf", options=paper.text()))
    points = ends_of(path)
    for wedge, at in zip(sheet.figures["wedge_mm"], (0.0, 36.0), strict=True):
        assert np.hypot(points[:, 0] - at - wedge, points[:, 1] + 90.0).min() < 1e-3, (
            "figures have three decimals"
        )
        assert holds(points, at, 0.0)


def test_the_saddle_blank_in_dxf_is_as_high_under_every_string_as_the_sheet_says(tmp_path):
    sheet = making_job("saddle").sheet(
        FLAT_TOP, {"airspace_bass": "0.9", "airspace_treble": "0.7", "slot": "6"}
    )
    (paper,) = sheet.papers
    path = tmp_path / "saddle.dxf"
    path.write_bytes(template_file(FLAT_TOP, paper.template, "dxf", options=paper.text()))
    points = ends_of(path)
    spread = FLAT_TOP.instrument.spread_bridge_mm
    for string, high in enumerate(sheet.figures["height_mm"]):
        x = 8.0 + spread * (5 - string) / 5.0
        assert np.hypot(points[:, 0] - x, points[:, 1] - high).min() < 1e-3, string + 1


@pytest.mark.parametrize("name", ["nut-blank", "saddle-blank", "neck-wedge"])
@pytest.mark.parametrize("kind", families())
def test_each_fits_every_family_and_one_sheet(name, kind):
    low_x, low_y, high_x, high_y = template_kind(name).drawing(empty_service(family(kind), "one")).bounds_mm
    assert high_x - low_x <= 186.0
    assert high_y - low_y <= 186.0


def test_papers_are_drawn_with_what_the_sheet_chose_whoever_works_in_which_unit():
    """A length reaches the template in mm, though the person types inches."""
    sheet = making_job("saddle").sheet(FLAT_TOP, {"slot": "0.25"}, "in")
    drawn = SADDLE.drawing(FLAT_TOP, sheet.papers[0].text(), "in")
    assert "6.35 mm" in drawn.told[0]


def test_every_job_names_steps_and_paper_that_there_are():
    for job in making_jobs().values():
        assert not job.procedure or job.procedure in own_procedures()
        for paper in job.sheet(FLAT_TOP).papers:
            assert set(paper.chosen) <= {one.name for one in template_kind(paper.template).options}
    assert {job.procedure for job in making_jobs().values()} >= {
        "neck-reset",
        "refret",
        "nut-making",
        "saddle-making",
    }


@pytest.mark.parametrize("kind", families())
def test_a_job_is_usual_on_the_kinds_that_its_sheet_is_for(kind):
    """Asked of the kind alone, it is what the whole sheet says of this kind's instrument.

    Where a bridge stands loose, its sheet can be worked out, but it is slid, not placed.
    """
    service = empty_service(family(kind), "Dunlin")
    for job in making_jobs().values():
        try:
            applies = job.sheet(service).applies
        except CorrectInputError:  # it wants to be told more first
            applies = True
        placed = job.name != "bridge" or not family(kind).bridge.stands_loose
        assert job.usual_on(family(kind)) == (applies and placed), job.name


def test_the_page_of_jobs_works_none_of_them_out(bench: TestClient, tmp_path, monkeypatch):
    write_service(tmp_path / "one.json", ELECTRIC)
    bench.post("/visits/new/import", files={"file": ("one.json", (tmp_path / "one.json").read_bytes())})
    monkeypatch.setattr(Job, "sheet", lambda *_: pytest.fail("a sheet was worked out"))
    usual, _, unusual = bench.get("/visits/1/make").text.partition("Not usual on this kind")
    assert "/visits/1/make/electrics" in usual
    assert "/visits/1/make/top" in unusual


def test_a_moved_nut_comes_with_its_saddle():
    """The compensated nut's edges lie toward the bridge, and the sheet names what is left."""
    plain, moved = (making_job("nut").sheet(ELECTRIC, {"moved": way}) for way in ("no", "yes"))
    assert len(moved.head) == len(plain.head) + 2
    assert all(0.0 < one["front_mm"] < 1.5 for one in moved.figures["slots"])
    assert "on the worst string a note is then typically" in " ".join(moved.rests_on)


def test_dry_air_is_mended_before_anything_is_cut_and_a_leaning_bridge_goes_to_a_specialist():
    job = making_job("top")
    dry = job.sheet(FLAT_TOP, {"humidity": "30"})
    assert dry.lead.startswith("Humidify first")
    assert dry.figures["action_mm"] > 0.0
    # Derived: 40 and 60 % are the edges of safe air, 0.008 mm of action a percent; a usual beyond them is not aimed at.
    for humidity, usual, target, way in ("35", "30", 40, "comes up"), ("65", "70", 60, "comes down"):
        beyond = job.sheet(FLAT_TOP, {"humidity": humidity, "usual": usual, "behind": "0"})
        assert f"At {target} % the action {way} by" in beyond.lead
        assert beyond.figures["action_mm"] == pytest.approx(0.008 * (target - float(humidity)), abs=1e-3)
        assert f"action changes in air of {target} % by" in dict(beyond.facts)
    leaning = job.sheet(FLAT_TOP, {"front": "2", "behind": "3"})
    assert "leave it to a specialist" in leaning.lead
    assert leaning.figures["lean_degrees"] == pytest.approx(np.degrees(np.arctan(5.0 / 100.0)), abs=1e-3)
    assert job.sheet(FLAT_TOP).lead.startswith("Leave the top")
    assert job.sheet(ELECTRIC).figures == {"applies": False}


def test_a_meter_at_the_jack_tells_open_from_short():
    """7 kΩ across 250 kΩ: 7 · 250/257 = 6.81 kΩ by hand; two of 6 across one pot of 500: 3 · 500/503 = 2.98."""
    job = making_job("electrics")
    told = job.sheet(ELECTRIC).figures["expected_kohm"]
    assert told["bridge pickup"] == pytest.approx(6.81, abs=5e-3)
    alike = {"neck": "6", "bridge": "6", "volume": "500"}
    assert job.sheet(ELECTRIC, alike).figures["expected_kohm"][
        "neck pickup and bridge pickup"
    ] == pytest.approx(2.98, abs=5e-3)
    assert "volume pot alone" in job.sheet(ELECTRIC, {"found": "249"}).lead
    assert "a short" in job.sheet(ELECTRIC, {"found": "0.1"}).lead
    assert "bridge pickup" in job.sheet(ELECTRIC, {"found": "6.9"}).lead
    assert job.sheet(FLAT_TOP).figures == {"applies": False}


def test_verb_and_page_hand_out_the_paper_and_the_steps(bench: TestClient, tmp_path, capsys):
    write_service(tmp_path / "one.json", FLAT_TOP)
    file = str(tmp_path / "one.json")
    assert main(["make", "nut", file, "--true-size", str(tmp_path / "nut.svg")]) == 0
    assert 'width="' in (tmp_path / "nut.svg").read_text()
    assert " mm" in (tmp_path / "nut.svg").read_text()
    assert main(["make", "nut", file, "--units", "in", "--true-size", str(tmp_path / "inch.svg")]) == 0
    assert not re.findall(r">[^<]*\d mm\b(?! \()[^<]*<", (tmp_path / "inch.svg").read_text())
    assert main(["make", "top", file, "--true-size", str(tmp_path / "top.svg")]) == 2
    assert "nothing of this is drawn" in capsys.readouterr().err
    bench.post("/visits/new/import", files={"file": ("one.json", Path(file).read_bytes())})
    page = bench.get("/visits/1/make/saddle?slot=6").text
    assert "/visits/1/template/saddle-blank.pdf?" in page
    assert "slot=6.0000+mm" in page
    assert '/visits/1/procedures/saddle-making"' in page
    drawn = bench.get("/visits/1/template/saddle-blank.svg?slot=6.0000+mm")
    assert drawn.status_code == 200
    assert StringIO(drawn.text).readline().startswith("<")
    assert bench.get("/visits/1/procedures/neck-reset").status_code == 200
