"""The owner's sheet as assistive software reads it: made as PDF/UA by the typesetter, read back by another library.

Checked here of ISO 14289-1 (clauses from memory): marked and title shown (7.1), language (7.2), words for every
picture (7.3), headings in order (7.4), heads of tables (7.5), and that what is tagged comes in the order it is read.
What nothing checks is listed in docs/paper.md.
"""

import io
import json
import re

import pdfplumber
import pytest
from PIL import Image

from breakangle.model.errors import CorrectInputError
from breakangle.services.documents.hand_back.photographs import choose_photographs, photographs_of
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.visits.complaints import add_complaint
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.typed_complaints import ComplaintTyped, complaint_typed
from breakangle.services.workshop.attachments import attach
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import Attachment, Visit
from paper_fixtures.visits import headed, visit_with
from shop_fixtures.people import ADA

MARKED = [[[0.4, 0.4], [0.6, 0.4], [0.5, 0.6]]]


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    made = shop_at(tmp_path_factory.mktemp("accessible"))
    headed(made)
    yield made
    made.close()


@pytest.fixture(scope="module")
def visit(shop):
    visit = visit_with(shop)
    instrument = service_of(shop, visit.id).instrument
    complaint = complaint_typed(ComplaintTyped("crackle", words="it crackles"), instrument)
    visit = add_complaint(shop, visit, complaint, ADA)
    chosen = {}
    for when in ("before", "after"):
        out = io.BytesIO()
        Image.new("RGB", (400, 300), (150, 90, 40)).save(out, "JPEG")
        photograph = attach(shop, ADA, visit, "photograph", f"{when}.jpg", out.getvalue())
        shop.change(photograph, ADA, marks=json.dumps(MARKED))
        chosen[photograph.id] = (when, f"the bridge {when} the work")
    choose_photographs(shop, visit, chosen, ADA)
    return shop.get(Visit, visit.id)


@pytest.fixture(scope="module")
def pdf(shop, visit):
    return sheet_file(shop, visit, address="https://bench.example.org/visits/1")


def tagged(pdf: bytes) -> list[tuple[str, str, str]]:
    """Return every tag in reading order: its kind, its words, and the words for its picture."""
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        words: dict[tuple[int, int], str] = {}
        for page in found.pages:
            for one in page.chars:
                if one.get("mcid") is not None:
                    place = (page.page_number, one["mcid"])
                    words[place] = words.get(place, "") + one["text"]
        tree, every = found.structure_tree, []

        def walk(one: dict, page: int) -> str:
            page = one.get("page_number") or page
            place = len(every)
            every.append((one["type"], "", one.get("alt_text") or ""))
            said = "".join(words.get((page, mcid), "") for mcid in one.get("mcids", ()))
            said += "".join(walk(child, page) for child in one.get("children", ()))
            every[place] = (one["type"], said, one.get("alt_text") or "")
            return said

        for root in tree:
            walk(root, 1)
    return every


def test_language_title_and_pictures_are_there_for_who_does_not_see(pdf):
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        catalog = found.doc.catalog
        assert bytes(catalog["Lang"]) == b"en" and catalog["MarkInfo"]["Marked"] is True
        assert found.metadata["Title"] == "Hand-back sheet: Marram"
        preferences = catalog["ViewerPreferences"]
        assert getattr(preferences, "resolve", lambda: preferences)()["DisplayDocTitle"] is True
        told = catalog["Metadata"].resolve().get_data().decode()
    assert re.search(r"pdfuaid:part\D*1", told)
    alts = [alt for kind, _, alt in tagged(pdf) if kind == "Figure"]
    assert len(alts) == 4  # the code, two photographs, the map of intonation
    assert {
        "Photograph. As it came: the bridge before the work",
        "Photograph. As it left: the bridge after the work",
    } <= {*alts}
    assert all(len(one) > 10 for one in alts)


def test_headings_stand_in_the_order_a_person_reads(pdf):
    every = tagged(pdf)
    assert [kind for kind, _, _ in every if kind == "H1"] == ["H1"]
    heads = [re.sub(r"\s+", " ", words).strip() for kind, words, _ in every if kind == "H2"]
    order = ["You told us", "What we found", "What we did", "What is still open, and why", "Before and after", "Price",
             "What to watch", "When to come back", "Take care", "Strings and settings as they left"]  # fmt: skip
    assert [one for one in heads if one in order] == order
    assert next(kind for kind, _, _ in every if kind in ("H1", "H2")) == "H1"


def test_tables_have_heads_and_every_row_its_cells(pdf):
    every = tagged(pdf)
    kinds = [kind for kind, _, _ in every]
    assert kinds.count("Table") >= 3
    start = next(
        place
        for place, (_, words, _) in enumerate(every)
        if words.startswith("string") and every[place][0] == "TH"
    )
    heads = [words.strip() for kind, words, _ in every[start : start + 7] if kind == "TH"]
    assert heads[:3] == ["string", "note", "what is on"] and len(heads) == 7
    cells = [words for kind, words, _ in every if kind in ("TD", "TH")]
    assert any(one.strip() == "E2" for one in cells)


def test_a_page_that_breaks_the_rules_is_refused_by_the_typesetter():
    """So that the promise does not rest on our own words: a picture without words for it is no sheet."""
    import typst

    source = b'#set document(title: "x")\n#set text(lang: "en")\n= x\n#figure(image(bytes("<svg xmlns=\'http://www.w3.org/2000/svg\' width=\'9\' height=\'9\'/>"), format: "svg"))'  # noqa: E501
    with pytest.raises(Exception, match=r"(?i)alt"):
        typst.compile(source, pdf_standards=["ua-1"])


def test_photographs_are_chosen_few_with_their_captions_and_marks(shop, visit):
    before, after = photographs_of(shop, visit)
    assert (before.when, after.when) == ("before", "after")
    assert before.picture.svg.count("<polyline") == 2 * len(MARKED)  # a white rim, and the mark
    photographs = shop.every(Attachment, visit_id=visit.id)
    with pytest.raises(CorrectInputError, match="4 at most"):
        choose_photographs(shop, visit, {str(one): ("before", "") for one in range(5)}, ADA)
    with pytest.raises(CorrectInputError, match="before, after or not at all"):
        choose_photographs(shop, visit, {photographs[0].id: ("beside", "")}, ADA)
