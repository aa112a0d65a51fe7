"""Paper and hostile words: markup, scripts, emoji, right-to-left, endless words, control signs, false pictures."""

import html.parser
import io
import re
import string

import pdfplumber
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from breakangle.documents.renderers.page import Letterhead, Page, Paragraph, Picture, Points, Table
from breakangle.documents.renderers.page_html import page_html
from breakangle.documents.renderers.page_pdf import page_pdf
from breakangle.documents.renderers.page_text import page_text
from breakangle.documents.renderers.pictures import picture_svg, qr_svg
from breakangle.documents.renderers.typesetting import MISSING, printable
from breakangle.documents.true_size.tiling import PAPERS
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.services.documents.labels import labels_file
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.documents.templates import template_file
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.paper_heading import set_heading, set_logo
from paper_fixtures.instruments import family_service
from paper_fixtures.visits import headed, visit_with
from shop_fixtures.people import ADA

MARKUP = '#panic("boom") *b* _i_ $x^2$ <label> @ref [#import "x"] \\u{0} // /* ` ```rust ~ = - + #eval("1") #sys.inputs'
SCRIPT = '"><script>alert(1)</script><img src=x onerror=alert(1)>&amp;{{7*7}}{%x%}'
RIGHT_TO_LEFT = "שלום לצליל, مرحبا بالعود \u202eevil\u202c"
EMOJI = "🎸👩‍🔧❤️🏴󠁧󠁢󠁥󠁮󠁧󠁿 🇳🇴"
ENDLESS = "Hottentottenstottertrottelmutter" * 30
STRANGE = "漢字 仮名 한국어 \U0001f9ff \ue000 \ufffd \x07\x1b[31m \ufeff"
HOSTILE = {
    "markup": MARKUP, "script": SCRIPT, "right to left": RIGHT_TO_LEFT, "emoji": EMOJI, "endless": ENDLESS,
    "strange": STRANGE, "spaces": "a\u00a0b\u2003c\u200bd", "quotes": "'\"`´‘’“”«»\\ %s {0} ${HOME}",
}  # fmt: skip


def squeezed(text: str) -> str:
    return re.sub(r"[\s\u200b\u00ad-]+", "", text)


def words(pdf: bytes) -> str:
    """Return every sign in the order the file has it, which is the order it is read aloud."""
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        return squeezed("".join(one["text"] for page in found.pages for one in page.chars))


def page_of(text: str) -> Page:
    return Page(
        kind="Hand-back sheet",
        title=text,
        letterhead=Letterhead(text, (text,)),
        facts=(("Owner", text), ("You told us", text)),
        blocks=(Paragraph(text), Points((text,)), Table(text, ("", text), ((text, text),))),
        foot=text,
    )


class Reader(html.parser.HTMLParser):
    """Every tag and attribute of a document, and its words."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.names: set[str] = set()
        self.words = ""

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.names |= {name for name, _ in attrs}

    def handle_data(self, data):
        self.words += data


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_a_sheet_prints_an_owners_words_as_they_are(text):
    pdf = page_pdf(page_of(text), PAPERS["a4"])
    with pdfplumber.open(io.BytesIO(pdf)) as found:
        for page in found.pages:
            assert all(-1.0 <= one["x0"] <= float(page.width) - 20.0 for one in page.chars)
    if text.isascii():
        assert squeezed(text) in words(pdf)
    document = Reader()
    document.feed(page_html(page_of(text)))
    assert document.tags <= {
        "html", "head", "meta", "title", "style", "body", "main", "header", "div", "p", "h1", "span", "dl", "dt", "dd",
        "bdi", "ul", "li", "table", "caption", "thead", "tbody", "tr", "th", "td", "footer", "h2",
    }  # fmt: skip
    assert not any(name.startswith("on") for name in document.names)
    shown = "".join(sign for sign in text if sign >= " ")
    assert squeezed(shown) in squeezed(document.words)
    assert squeezed(shown.replace("\x7f", "")) in squeezed(page_text(page_of(text))) or not text.isascii()


def test_markup_is_not_executed_and_not_lost():
    pdf = page_pdf(page_of("#panic(1) #let x = 5; $1/2$ *x*"), PAPERS["letter"])
    assert "#panic(1)#letx=5;$1/2$*x*" in words(pdf)


def test_right_to_left_and_emoji_are_drawn_with_signs_of_their_own():
    found = pdfplumber.open(io.BytesIO(page_pdf(page_of("אבג 🎸 عود"), PAPERS["a4"])))
    with found:
        fonts = {one["fontname"] for page in found.pages for one in page.chars}
        text = "".join(one["text"] for page in found.pages for one in page.chars)
    assert any("Emoji" in one for one in fonts)
    assert {"א", "ב", "ג", "🎸"} <= set(text)
    assert MISSING not in text


def test_what_no_font_here_draws_is_an_empty_box_and_never_nothing():
    assert printable("a漢b") in ("a漢b", f"a{MISSING}b")
    assert printable("a\ue000b") == f"a{MISSING}b"
    assert printable("a\x00\x07b\x85c") == "abc"
    assert printable("Åse Ωμέγα ½ ± −") == "Åse Ωμέγα ½ ± −"


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=60))
def test_no_text_at_all_breaks_a_page(text):
    assert page_pdf(page_of(text), PAPERS["a4"]).startswith(b"%PDF")
    document = Reader()
    document.feed(page_html(page_of(text)))
    assert "script" not in document.tags
    page_text(page_of(text))


def test_a_whole_visit_of_hostile_words_is_printed(tmp_path):
    shop = shop_at(tmp_path)
    headed(shop, "Quill #panic() <b>")
    nasty = {one: HOSTILE[one].replace("\x07", "").replace("\x1b", "") for one in HOSTILE}
    try:
        visit = visit_with(
            shop, name=nasty["emoji"], owner=nasty["right to left"], complaint=nasty["script"],
            owner_words=nasty["endless"] + nasty["markup"],
        )  # fmt: skip
        pdf = sheet_file(shop, visit)
        with pdfplumber.open(io.BytesIO(pdf)) as found:
            assert len(found.pages) <= 2
        text = words(pdf)
        assert squeezed(nasty["script"]) in text
        assert squeezed(nasty["markup"]) in text
        assert "<script" not in sheet_file(shop, visit, form="html").decode()
        assert sheet_file(shop, visit, "bench").startswith(b"%PDF")
        assert labels_file(shop, [visit]).startswith(b"%PDF")
    finally:
        shop.close()


@pytest.mark.parametrize("form", ["pdf", "svg", "dxf"])
@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_a_template_of_a_strangely_named_instrument(form, text):
    service = family_service("ukulele-tenor")
    named = service.instrument.model_copy(update={"name": text[:200]})
    made = template_file(service.model_copy(update={"instrument": named}), "nut-slots", form)
    assert len(made) > 1000
    if form == "svg":
        import xml.etree.ElementTree as ElementTree

        tags = {one.tag.split("}")[1] for one in ElementTree.fromstring(made).iter()}
        assert tags <= {"svg", "title", "desc", "style", "path", "circle", "text"}


def test_pictures_that_are_none_are_refused(tmp_path):
    shop = shop_at(tmp_path)
    try:
        svg = b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"><script>alert(1)</script></svg>'
        for content in (svg, b"\x89PNG\r\n\x1a\n" + b"\x00" * 40, b"GIF89a", b"no picture", b"x" * 400_000):
            with pytest.raises(ChooseAnotherFileError):
                set_logo(shop, ADA, "logo.png", content)
    finally:
        shop.close()


def test_a_logo_is_drawn_anew_so_that_nothing_else_of_its_file_goes_on():
    from PIL import Image, PngImagePlugin

    hidden = PngImagePlugin.PngInfo()
    hidden.add_text("Author", "somebody's address")
    out = io.BytesIO()
    Image.new("RGB", (40, 20), (1, 2, 3)).save(out, "PNG", pnginfo=hidden)
    svg = picture_svg(out.getvalue() + b"<script>alert(1)</script>", "logo.png")
    assert set(svg) <= set(string.printable)
    assert "script" not in svg
    assert "somebody" not in svg
    page = Page("Sheet", "x", Letterhead("Shop", (), svg), (), (Picture(svg, "a brown board"),))
    assert page_pdf(page, PAPERS["a4"]).startswith(b"%PDF")
    huge = io.BytesIO()
    Image.new("1", (5000, 10)).save(huge, "PNG")
    with pytest.raises(ChooseAnotherFileError, match="5000 by 10"):
        picture_svg(huge.getvalue(), "wide.png")


def test_a_heading_has_a_name_and_a_length(tmp_path):
    shop = shop_at(tmp_path)
    try:
        for name, lines in (("", ()), ("x" * 81, ()), ("Quill", ("a",) * 5), ("Quill", ("x" * 121,))):
            with pytest.raises(CorrectInputError):
                set_heading(shop, ADA, name, lines)
    finally:
        shop.close()


def test_a_code_has_an_end():
    with pytest.raises(ChooseAnotherFileError):
        qr_svg("x" * 5000)
