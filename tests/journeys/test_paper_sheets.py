"""The hand-back sheet, the bench sheet and labels: what they say, in every form, and that they are accessible."""

import io
import json
import re
import time

import numpy as np
import pdfplumber
import pytest
from PIL import Image

from breakangle.cli.main import main
from breakangle.desk.labels import code_content, label_of, labels_file
from breakangle.desk.report import SHEETS, sheet_file, sheet_name, sheet_page
from breakangle.desk.report_batch import Batch, sheets_into, visits_of
from breakangle.desk.report_heading import letterhead_of, paper_of, set_logo, set_paper
from breakangle.desk.shop_open import shop_at
from breakangle.desk.shop_readings import take_reading
from breakangle.desk.shop_service_files import bring_in
from breakangle.desk.shop_visits import open_visit
from breakangle.model.errors import CorrectInputError
from breakangle.model.service_file import service_text
from breakangle.planning.board import board_of
from breakangle.planning.house import targets_of
from breakangle.planning.registry import target_kind
from breakangle.shop.records import InstrumentRecord
from paper_fixtures.instruments import family_service
from paper_fixtures.visits import COMPLAINT, NOTES, OWNER, headed, visit_with
from shop_fixtures.people import ADA, GAP

ADDRESS = "https://bench.example.org/instruments/"


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    made = shop_at(tmp_path_factory.mktemp("paper"))
    headed(made)
    yield made
    made.close()


@pytest.fixture(scope="module")
def visit(shop):
    return visit_with(shop)


def words(pdf: bytes) -> str:
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        return " ".join((page.extract_text() or "") for page in found.pages)


def squeezed(text: str) -> str:
    return re.sub(r"[\s\u200b-]+", "", text)


def test_the_owner_reads_what_was_found_done_and_left_alone(shop, visit):
    text = sheet_file(shop, visit, form="txt").decode()
    flat = " ".join(text.split())
    for said in (OWNER, COMPLAINT, NOTES, "Quill & Sedge", "47 % humidity", "12 January 2027"):
        assert said in flat
    assert "Tightened the truss rod a quarter turn." in flat  # two eighths, drawn together
    assert "Lowered the saddle at string 6 by 0.30 mm." in flat
    assert "Relief (the slight bow of the neck under the strings): too bowed" in flat
    assert re.search(r"read to within (two or three|a few) hundredths of a millimetre", flat)
    assert "slacken before you cut" in flat
    assert "2 × strings 25.00" in flat
    assert "To pay 108.00 EUR" in flat
    assert all(len(line) <= 78 for line in text.splitlines())


def test_nothing_is_said_of_what_was_not_read(shop):
    record = shop.every(InstrumentRecord)[0]
    bare = open_visit(shop, ADA, record)
    text = " ".join(sheet_file(shop, bare, form="txt").decode().split())
    read = open_visit(shop, ADA, record)
    take_reading(shop, read.id, GAP, ADA)
    some = " ".join(sheet_file(shop, read, form="txt").decode().split())
    assert "Nothing was adjusted." in text
    assert (
        "intonation"
        in re.search(r"Not read when it came in, so nothing is said of it here: ([^.]*)\.", text)[1]
    )
    assert "action" not in re.search(r"nothing is said of it here: ([^.]*)\.", some)[1].split(", ")
    assert "cents" not in some.split("STRINGS AND SETTINGS")[0].split("MARRAM")[0].replace("A cent is", "")


def test_an_instrument_that_is_right_is_left_alone_and_that_is_said(tmp_path):
    service = family_service("electric-guitar")
    board = board_of(service.instrument)
    readings = [
        target_kind(one).as_reading(one, target_kind(one).wanted(one), 0.02)
        for one in targets_of(service, board).wanted
    ]
    shop = shop_at(tmp_path)
    try:
        whole = service.model_copy(update={"readings": tuple(readings)})
        visit = bring_in(shop, service_text(whole).encode(), "a file", ADA).visit
        text = " ".join(sheet_file(shop, visit, form="txt").decode().split())
    finally:
        shop.close()
    assert "It needed nothing: it is right for an ordinary hand" in text
    right = "Relief, action, height at the nut and intonation were right already, and what is right is best left alone."
    assert right in text
    assert "Nothing was adjusted." in text
    assert "still" not in text.split("WHAT TO WATCH")[0].replace("what is still open", "").replace(
        "STILL OPEN", ""
    )


def test_what_is_still_out_is_told_with_the_planners_reason(tmp_path):
    """A bridge that cannot come down: the sheet says so, in the planner's words."""
    service = family_service("steel-acoustic-guitar")
    high = [
        {"quantity": "gap", "string": string, "fret": 12, "held": [1], "mm": 6.0, "uncertainty_mm": 0.05}
        for string in range(1, 7)
    ]
    shop = shop_at(tmp_path)
    try:
        body = json.loads(service_text(service)) | {"readings": high}
        visit = bring_in(shop, json.dumps(body).encode(), "a file", ADA).visit
        text = " ".join(sheet_file(shop, visit, form="txt").decode().split())
    finally:
        shop.close()
    assert "Action is still too high on every string" in text
    assert "It is beyond a set-up: the bridge cannot come down far enough" in text
    assert re.search(r"nothing is said of it here: [^.]*intonation", text)


@pytest.mark.parametrize("on", ["a4", "letter"])
def test_a_hand_back_sheet_has_two_pages_at_most_with_pictures_before_and_after(shop, visit, on):
    pdf = sheet_file(shop, visit, on=on, address=ADDRESS + visit.instrument_id)
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        assert 1 <= len(found.pages) <= 2
        wide = float(found.pages[0].width) * 25.4 / 72.0
        assert wide == pytest.approx({"a4": 210.0, "letter": 215.9}[on], abs=0.01)
        for page in found.pages:
            for one in page.chars:
                assert one["x0"] > 10.0 and one["x1"] < float(page.width) - 10.0
    text = squeezed(words(pdf))
    for said in ("Asitcame", "Asitleft", "Sideview", "Intonation", "Buzzatmediumplay", squeezed(OWNER)):
        assert said in text or said == "Sideview"


def tags(pdf: bytes) -> list[dict]:
    """Return every tag of the structure tree."""
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        open_tags, every = list(found.structure_tree), []
    while open_tags:
        one = open_tags.pop()
        every.append(one)
        open_tags += one.get("children", [])
    return every


@pytest.mark.parametrize("sheet", [*SHEETS, "label", "template"])
def test_paper_is_tagged_titled_and_speaks_for_its_pictures(shop, visit, sheet):
    """PDF/UA-1 (ISO 14289-1): marked, a structure tree, a title shown, a language, words for every figure."""
    from breakangle.desk.shop_readings import service_of
    from breakangle.desk.templates import template_file

    address = ADDRESS + visit.instrument_id
    pdf = (
        labels_file(shop, [visit]) if sheet == "label"
        else template_file(service_of(shop, visit.id), "fret-positions") if sheet == "template"
        else sheet_file(shop, visit, sheet, address=address)
    )  # fmt: skip
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        catalog = found.doc.catalog
        assert catalog["MarkInfo"]["Marked"] is True
        assert str(catalog["Lang"], "ascii").startswith("en")
        assert (
            catalog["ViewerPreferences"].resolve()["DisplayDocTitle"] is True
            if hasattr(catalog["ViewerPreferences"], "resolve")
            else catalog["ViewerPreferences"]["DisplayDocTitle"] is True
        )
        metadata = catalog["Metadata"].resolve().get_data().decode()
        for page in found.pages:
            assert {one["fontname"].split("+")[0] for one in page.chars} != {""}
    assert re.search(r"pdfuaid:part\D*1", metadata)
    every = tags(pdf)
    kinds = {one["type"] for one in every}
    assert "H1" in kinds or sheet == "label"
    figures = [one for one in every if one["type"] == "Figure"]
    assert figures
    assert all(len(one.get("alt_text") or "") > 10 for one in figures)
    if sheet == "hand-back":
        assert {"H2", "L", "Table", "TH"} <= kinds
        assert len(figures) >= 5


def test_headings_and_blocks_come_in_the_order_they_are_read(shop, visit):
    text = words(sheet_file(shop, visit, "bench"))
    order = ["Take in", "Read, before anything is touched", "Do", "Read again", "Check and hand back"]
    places = [text.index(f"{number} {name}") for number, name in enumerate(order, 1)]
    assert places == sorted(places)
    assert text.index("6 E2") < text.index("1 E4")


def test_the_code_of_a_sheet_and_of_a_label_is_read_back(shop, visit):
    import zxingcpp

    from paper_fixtures.rendered import ink_file

    for pdf, wanted in (
        (
            sheet_file(shop, visit, "bench", address=ADDRESS + visit.instrument_id),
            ADDRESS + visit.instrument_id,
        ),
        (labels_file(shop, [visit], base=ADDRESS), ADDRESS + visit.instrument_id),
        (labels_file(shop, [visit], single=True), f"breakangle:{visit.instrument_id}"),
    ):
        found = zxingcpp.read_barcodes(ink_file(pdf, 200))
        assert [one.text for one in found] == [wanted]


def test_a_label_says_nothing_of_a_person(shop, visit):
    pdf = labels_file(shop, [visit], base=ADDRESS)
    text, label = squeezed(words(pdf)), label_of(shop, visit)
    for hidden in (OWNER, "Holm", "Marram", "secret", COMPLAINT):
        assert squeezed(hidden) not in text
        assert hidden not in repr(label)
    assert visit.instrument_id in text
    assert "E2A2D3G3B3E4" in text
    assert re.search(r"Relief\d\.\d\d/\d\.\d\dmm", text)
    assert code_content(visit, ADDRESS) == ADDRESS + visit.instrument_id


def test_the_shops_own_logo_and_paper_are_on_its_sheets(shop, visit):
    out = io.BytesIO()
    Image.new("RGB", (60, 30), (200, 30, 30)).save(out, "PNG")
    set_logo(shop, ADA, "logo.png", out.getvalue())
    set_paper(shop, ADA, "letter")
    try:
        page = sheet_page(shop, visit)
        assert page.letterhead == letterhead_of(shop)
        assert "data:image/png" in page.letterhead.logo_svg
        with pdfplumber.open(io.BytesIO(sheet_file(shop, visit))) as found:
            assert float(found.pages[0].width) == pytest.approx(612.0, abs=0.1)
            assert [round(one["width"] / one["height"], 2) for one in found.pages[0].images] == [2.0]
    finally:
        set_logo(shop, ADA, "", b"")
        set_paper(shop, ADA, "a4")
    assert letterhead_of(shop).logo_svg == ""
    assert paper_of(shop).words == "A4"
    with pytest.raises(CorrectInputError):
        set_paper(shop, ADA, "foolscap")


def test_pictures_on_paper_are_grey(shop, visit):
    """Every stroke and fill of the sheet is black, white or a grey: nothing is lost without colour."""
    with pdfplumber.open(io.BytesIO(sheet_file(shop, visit))) as found:
        colours = {
            one.get(name)
            for page in found.pages
            for one in [*page.lines, *page.curves, *page.rects, *page.chars]
            for name in ("stroking_color", "non_stroking_color")
        }
    for colour in colours - {None}:
        parts = colour if isinstance(colour, tuple) else (colour,)
        assert len(parts) == 1 or (len(parts) == 3 and np.ptp(parts) < 0.02), colour


def test_a_batch_that_was_broken_off_goes_on_where_it_was(shop, visit, tmp_path):
    visits, batch = visits_of(shop), Batch(pictures=False)
    assert visit.number in [one.number for one in visits]
    first = next(sheets_into(shop, tmp_path, visits, batch))
    assert first.state == "made"
    assert first.path.name == sheet_name(first.visit)
    with (tmp_path / "made.txt").open("a") as file:
        file.write("\nhand-back-0000")  # the line that was being written
    before = first.path.stat().st_mtime_ns
    rest = list(sheets_into(shop, tmp_path, visits, batch))
    assert [one.state for one in rest] == ["unchanged"] + ["made"] * (len(visits) - 1)
    assert first.path.stat().st_mtime_ns == before
    assert [one.state for one in sheets_into(shop, tmp_path, visits, batch)] == ["unchanged"] * len(visits)
    again = shop.change(visits[-1], ADA, complaint="rattles")
    try:
        states = [one.state for one in sheets_into(shop, tmp_path, visits_of(shop), batch)]
        assert states == ["unchanged"] * (len(visits) - 1) + ["made"]
    finally:
        shop.change(again, ADA, complaint="")
    assert not list(tmp_path.glob(".unfinished-*"))


def test_the_command_line_makes_sheets_labels_and_templates(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "data"))
    made = shop_at(tmp_path / "data")
    visit_with(made)
    made.close()
    monkeypatch.chdir(tmp_path)
    assert main(["heading", "--name", "Quill", "--line", "Mill Lane", "--who", "Ada"]) == 0
    assert main(["report", "1", "--out", "one.pdf"]) == 0
    assert main(["report", "--all", "--form", "html", "--out", "sheets"]) == 0
    assert main(["label", "1", "--single"]) == 0
    assert main(["template", "nut-slots", "--visit", "1", "--form", "dxf"]) == 0
    assert (
        main(["template", "radius-gauges", "--family", "mandolin", "--out", "gauge.svg", "--form", "svg"])
        == 0
    )
    assert main(["template"]) == 0
    assert main(["template", "--measured", "94.1 mm"]) == 1
    assert (tmp_path / "one.pdf").read_bytes().startswith(b"%PDF-1.7")
    assert b"Quill" in (tmp_path / "sheets" / "hand-back-000001.html").read_bytes()
    for name in ("labels.pdf", "nut-slots.dxf", "gauge.svg"):
        assert (tmp_path / name).stat().st_size > 1000
    assert "1 made, 0 unchanged, 0 refused of 1" in capsys.readouterr().out
    for wrong in ("report", "report --all", "report 9", "template x --family mandolin", "template nut-slots", "label x",
                  "report 1 --out no/such/place.pdf"):  # fmt: skip
        assert main(wrong.split()) == 2
        assert "Traceback" not in capsys.readouterr().err


def test_control_c_breaks_a_batch_off_between_two_sheets(tmp_path, monkeypatch, capsys):
    from breakangle.desk import report_batch

    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "data"))
    made = shop_at(tmp_path / "data")
    visit_with(made, name="One")
    visit_with(made, name="Two")
    made.close()
    real, calls = report_batch.sheet_file, []

    def broken_off(*given):
        if calls:
            raise KeyboardInterrupt
        calls.append(given)
        return real(*given)

    monkeypatch.setattr(report_batch, "sheet_file", broken_off)
    arguments = ["report", "--all", "--out", str(tmp_path / "out"), "--without-pictures"]
    assert main(arguments) == 130
    assert "Broken off: the same command goes on from here." in capsys.readouterr().out
    monkeypatch.setattr(report_batch, "sheet_file", real)
    assert main(arguments) == 0
    assert "1 made, 1 unchanged" in capsys.readouterr().out


def test_a_sheet_takes_half_a_second_on_two_cores(shop, visit):
    """Time of both processors together, whatever else runs: the best of three, fonts read, four maps and two views."""
    took = []
    for number in range(3):
        changed = shop.change(shop.get(type(visit), visit.id), ADA, notes=f"{NOTES} {number}")
        start = time.process_time()
        sheet_file(shop, changed)
        took.append(time.process_time() - start)
    shop.change(shop.get(type(visit), visit.id), ADA, notes=NOTES)
    assert min(took) <= 2 * 0.5


def test_a_bar_shows_how_far_a_batch_is_and_changes_nothing_of_it(capsys):
    from breakangle.cli._paper import shown_progress

    assert list(shown_progress(iter("abc"), 3, "sheets")) == ["a", "b", "c"]
    assert capsys.readouterr().err.strip() == ""  # nobody looks: nothing is drawn


def test_where_a_person_looks_the_bar_counts_the_sheets(monkeypatch, capsys):
    from breakangle.cli._paper import shown_progress

    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TTY_COMPATIBLE", "1")
    monkeypatch.setenv("COLUMNS", "80")
    assert list(shown_progress(iter("abc"), 3, "sheets")) == ["a", "b", "c"]
    assert "3/3" in capsys.readouterr().err
