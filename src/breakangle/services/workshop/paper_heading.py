"""The shop's own heading on paper: its name, lines below it, its logo, and the paper it prints on."""

from breakangle.documents.renderers.page import Letterhead
from breakangle.documents.renderers.pictures import picture_svg
from breakangle.documents.true_size.tiling import PAPERS, Paper, paper_named
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr
from breakangle.storage.records.records import Setting
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp

NAME, LINES, LOGO, PAPER = "heading_name", "heading_lines", "heading_logo", "paper"
LONGEST_NAME, LONGEST_LINE, MOST_LINES = 80, 120, 4
UNNAMED = mark("The workshop")


def letterhead_of(shop: Shop) -> Letterhead:
    """Return the shop's heading as its sheets carry it."""
    lines = tuple(one for one in _kept(shop, LINES).split("\n") if one)
    return Letterhead(_kept(shop, NAME) or tr(UNNAMED), lines, _kept(shop, LOGO))


def set_heading(shop: Shop, stamp: Stamp, name: str, lines: tuple[str, ...] = ()) -> Letterhead:
    """Store the shop's name and the lines below it (address, telephone), and return the heading.

    Raises:
        CorrectInputError: no name, or more than fits.
    """
    kept = tuple(line.strip() for line in lines if line.strip())
    if not 0 < len(name.strip()) <= LONGEST_NAME:
        raise CorrectInputError(
            tr("a name of {name_count} signs", name_count=len(name.strip())),
            tr("1 to {longest_name}", longest_name=LONGEST_NAME),
            "",
        )
    if len(kept) > MOST_LINES or any(len(one) > LONGEST_LINE for one in kept):
        raise CorrectInputError(
            tr(
                "{kept_count} lines, the longest of {one_count} signs",
                kept_count=len(kept),
                one_count=max(len(one) for one in kept),
            ),
            tr(
                "{most_lines} lines of {longest_line} signs at most",
                most_lines=MOST_LINES,
                longest_line=LONGEST_LINE,
            ),
            tr("make it shorter"),
        )
    _keep(shop, NAME, name.strip(), stamp)
    _keep(shop, LINES, "\n".join(kept), stamp)
    return letterhead_of(shop)


def set_logo(shop: Shop, stamp: Stamp, name: str, content: bytes) -> Letterhead:
    """Store a logo, drawn anew from the picture in `content`; empty bytes take it away.

    Raises:
        ChooseAnotherFileError: no picture, or too large.
    """
    _keep(shop, LOGO, picture_svg(content, name) if content else "", stamp)
    return letterhead_of(shop)


def paper_of(shop: Shop, asked: str | None = None) -> Paper:
    """Return the paper asked for, or else the one the shop prints on (A4 until somebody says otherwise).

    Raises:
        CorrectInputError: neither A4 nor Letter.
    """
    return paper_named(asked or _kept(shop, PAPER) or next(iter(PAPERS)))


def set_paper(shop: Shop, stamp: Stamp, name: str) -> Paper:
    """Store which paper the shop prints on: a4 or letter.

    Raises:
        CorrectInputError: neither.
    """
    found = paper_named(name)
    _keep(shop, PAPER, found.name, stamp)
    return found


def _kept(shop: Shop, name: str) -> str:
    try:
        return shop.get(Setting, name).value
    except NoSuchRecordError:
        return ""


def _keep(shop: Shop, name: str, value: str, stamp: Stamp) -> None:
    try:
        shop.change(shop.get(Setting, name), stamp, value=value)
    except NoSuchRecordError:
        shop.add(Setting, stamp, name, value=value)
