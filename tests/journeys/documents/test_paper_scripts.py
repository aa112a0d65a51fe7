"""Names in the scripts of the world on every paper: right signs, right direction, joined letters, no empty boxes."""

import io
import re
import subprocess
import tomllib
import unicodedata
from datetime import date
from pathlib import Path

import pdfplumber
import pytest

from breakangle.documents.labels.label import Label, labels_pdf
from breakangle.documents.renderers.page import Letterhead, Page
from breakangle.documents.renderers.page_pdf import page_pdf
from breakangle.documents.renderers.pictures import qr_svg
from breakangle.documents.renderers.typesetting import MISSING, font_folder, printable
from breakangle.documents.true_size.tiling import PAPERS
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.documents.templates import template_file
from breakangle.services.workshop.opening import shop_at
from paper_fixtures.instruments import family_service
from paper_fixtures.visits import headed, visit_with

ROOT = Path(__file__).parents[3]
NAMES = {
    "Japanese": "山田 髙﨑ギター", "Greek": "Ελευθερία", "Cyrillic": "Щукина Ёлка", "Arabic": "عليّ", "Thai": "น้ำทิพย์",
    "Hebrew": "שָׁרה", "Devanagari": "श्री कृष्ण", "emoji": "🎸👩‍🔧👍🏽", "Korean": "김철수", "Chinese": "张伟",
    "Latin": "Đặng Øyvind",
}  # fmt: skip
ALL = " A ".join(
    NAMES.values()
)  # a Latin letter between them, so that no two names run into one from the right
BETWEEN = {" ", "\u200d", "\ufe0f", "\u00ad", "\u200b"}
PAPERS_WITH_NAMES = ("hand-back", "bench", "template", "label")


@pytest.fixture(scope="module")
def papers(tmp_path_factory) -> dict[str, list[dict]]:
    """Return the signs of each paper."""
    shop = shop_at(tmp_path_factory.mktemp("scripts"))
    try:
        headed(shop, ALL[:78])
        visit = visit_with(shop, name=ALL, owner=ALL, complaint=ALL, owner_words=ALL)
        made = {sheet: sheet_file(shop, visit, sheet, pictures=False) for sheet in ("hand-back", "bench")}
    finally:
        shop.close()
    service = family_service("ukulele-tenor")
    named = service.instrument.model_copy(update={"name": ALL})
    made["template"] = template_file(service.model_copy(update={"instrument": named}), "nut-slots")
    label = Label("0" * 20, "read", date(2026, 5, 4), ALL, ALL, (), qr_svg("x"), ALL)
    made["label"] = labels_pdf([label], PAPERS["a4"])
    return {paper: signs(pdf) for paper, pdf in made.items()}


def signs(pdf: bytes) -> list[dict]:
    """Return every sign of a paper with its place, in the order of the file."""
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        return [one | {"page": page.page_number} for page in found.pages for one in page.chars]


def single(text: str) -> list[dict]:
    """Return the signs of a sheet of one title."""
    page = Page("Sheet", text, Letterhead("Shop", ()), (), ())
    found = signs(page_pdf(page, PAPERS["a4"]))
    heading = max(one["size"] for one in found)
    return [one for one in found if one["size"] == heading and one["text"].strip()]


@pytest.mark.parametrize("paper", PAPERS_WITH_NAMES)
def test_every_sign_of_every_name_is_on_every_paper_and_no_empty_box(paper, papers):
    text = "".join(one["text"] for one in papers[paper])
    assert MISSING not in text
    for script, name in NAMES.items():
        missing = set(unicodedata.normalize("NFC", name)) - BETWEEN - set(unicodedata.normalize("NFC", text))
        assert missing == set(), script


@pytest.mark.parametrize("paper", PAPERS_WITH_NAMES)
@pytest.mark.parametrize("letters", ["علي", "שרה"], ids=["Arabic", "Hebrew"])
def test_a_name_from_the_right_runs_from_the_right_on_every_paper(paper, letters, papers):
    lines: dict[tuple[int, int], dict[str, float]] = {}
    for one in papers[paper]:
        for letter in set(one["text"]) & set(letters):
            lines.setdefault((one["page"], round(one["bottom"])), {})[letter] = one["x0"]
    whole = [line for line in lines.values() if set(line) == set(letters)]
    assert whole
    for line in whole:
        assert line[letters[0]] > line[letters[1]] > line[letters[2]]


def widths(text: str) -> set[float]:
    """Return the widths of the signs of a title that take room, spaces left out."""
    return {round(one["width"], 1) for one in single(text) if one["width"] > 0.0}


def test_arabic_letters_are_joined():
    """One letter four times has the shapes of a beginning, middles and an end, each of its own width."""
    assert len(widths("بببب")) == 3
    assert len(widths("ب ب ب ب")) == 1


def test_a_devanagari_conjunct_is_one_sign_and_a_vowel_stands_before_its_letter():
    assert [one["text"] for one in single("क्ष")] == ["क्ष"]
    vowel, letter = single("कि")
    assert vowel["x0"] < letter["x0"]
    assert {round(letter["width"], 1)} == widths("क")


def test_thai_marks_stand_on_their_letter():
    """A letter with a vowel above and a tone above that is as wide as the letter by itself."""
    assert widths("ที่") == widths("ท")


def test_an_emoji_of_several_parts_is_drawn_as_one():
    assert len(single("👩\u200d🔧")) < len(single("👩 🔧"))
    assert len(single("👍🏽")) == 1


def test_letters_kept_in_parts_are_put_together():
    assert printable(unicodedata.normalize("NFD", "ギター 김")) == "ギター 김"


def test_the_fonts_come_with_their_licence_and_with_no_other_package():
    folder = font_folder()
    licence = (folder / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    for path in folder.glob("*.[ot]tf"):
        named = path.stem.removeprefix("NotoSans").removesuffix("jp-subset").removeprefix("Noto")
        assert named in licence
    assert sum(path.stat().st_size for path in folder.iterdir()) < 15_000_000
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert not [one for one in project["dependencies"] if "fonts" in re.split("[>=<-]", one)]


def test_the_drawn_name_has_ink_and_differs_from_empty_boxes(tmp_path):
    """A name and as many empty boxes, as pixels: what is drawn for a name is no box."""
    inks = {}
    for kind, text in (("name", "山田髙﨑"), ("boxes", MISSING * 4)):
        page = Page("Sheet", text, Letterhead("Shop", ()), (), ())
        path = Path(tmp_path) / f"{kind}.pdf"
        path.write_bytes(page_pdf(page, PAPERS["a4"]))
        shown = subprocess.run(["pdftoppm", "-gray", "-r", "60", str(path)], capture_output=True, check=True)
        inks[kind] = sum(1 for level in shown.stdout if level < 100)
    assert inks["name"] > inks["boxes"]
