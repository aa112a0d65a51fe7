"""Sheets and labels as they are printed: two pages, tagged, grey, codes that are read back, the shop's own heading."""

import io
import re

import numpy as np
import pdfplumber
import pytest
from PIL import Image

from breakangle.documents.renderers.page import Letterhead, Page, Paragraph, Ruled
from breakangle.documents.renderers.page_pdf import page_pdf
from breakangle.documents.true_size.tiling import PAPERS
from breakangle.model.errors import CorrectInputError
from breakangle.services.documents.labels import code_content, label_of, labels_file
from breakangle.services.documents.sheets import SHEETS, sheet_file, sheet_pages
from breakangle.services.workshop.paper_heading import letterhead_of, paper_of, set_logo, set_paper
from paper_fixtures.visits import COMPLAINT, OWNER, headed_shop, visit_with
from shop_fixtures.people import ADA

ADDRESS = "https://bench.example.org/instruments/"


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    yield from headed_shop(tmp_path_factory.mktemp("paper"))


@pytest.fixture(scope="module")
def visit(shop):
    return visit_with(shop)


def words(pdf: bytes) -> str:
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        return " ".join((page.extract_text() or "") for page in found.pages)


def squeezed(text: str) -> str:
    return re.sub(r"[\s\u200b-]+", "", text)


@pytest.mark.parametrize("on", ["a4", "letter"])
def test_a_hand_back_sheet_has_two_pages_at_most_and_no_word_below_nine_points(shop, visit, on):
    pdf = sheet_file(shop, visit, on=on, address=ADDRESS + visit.instrument_id)
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        assert 1 <= len(found.pages) <= 2
        wide = float(found.pages[0].width) * 25.4 / 72.0
        assert wide == pytest.approx({"a4": 210.0, "letter": 215.9}[on], abs=0.01)
        for page in found.pages:
            for one in page.chars:
                assert one["size"] > 8.99, one["text"]
                assert one["x0"] > 10.0 and one["x1"] < float(page.width) - 10.0
    text = squeezed(words(pdf))
    said = ("Beforeandafter", "Intonation,asitleft", "Stringsandsettings", squeezed(OWNER))
    assert [one for one in said if one not in text] == []
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        first = squeezed(found.pages[0].extract_text())
    assert "Whentocomeback" in first and "Stringsandsettings" not in first  # figures have a page of their own


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
    from breakangle.services.documents.templates import template_file
    from breakangle.services.visits.entries import service_of

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
        assert len(figures) == 2  # the map of intonation, and the code


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
        page = next(sheet_pages(shop, visit, "hand-back", "", True))
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


def test_empty_lines_at_the_end_of_a_sheet_never_go_over_to_a_page_without_their_heading():
    """However far down a page the lines to write on begin, two of them fit there or they begin on the next."""
    for before in range(36, 60):
        blocks = (*(Paragraph("read") for _ in range(before)), Ruled("Notes", 4))
        pdf = page_pdf(Page("Bench sheet", "Wren", Letterhead("A shop"), (), blocks), PAPERS["a4"])
        with pdfplumber.open(io.BytesIO(pdf)) as found:
            last = found.pages[-1].extract_text() or ""
        assert "read" in last or "Notes" in last, before
