"""A sheet as PDF: tagged, with the shop's heading, a page number, and its code."""

import re
from dataclasses import replace
from typing import Any

from breakangle.documents.renderers.page import Page, as_data
from breakangle.documents.renderers.typesetting import shown_or_dash, typeset
from breakangle.documents.true_size.tiling import Paper

PAGE = re.compile(rb"/Type\s*/Page\b")
RAW = frozenset({"svg", "logo_svg", "code_svg"})


def page_data(page: Page, on: Paper) -> dict[str, Any]:
    """Return what the setting needs: the page's own data, and the paper's size in mm."""
    named = replace(
        page,
        title=shown_or_dash(page.title),
        letterhead=replace(page.letterhead, name=shown_or_dash(page.letterhead.name)),
    )
    found: dict[str, Any] = as_data(named)
    return found | {"heading": named.heading, "width": on.width_mm, "height": on.height_mm}


def page_pdf(page: Page, on: Paper, made_at_s: int | None = None) -> bytes:
    """Return the sheet as a tagged PDF on this paper, made now or `made_at_s` seconds after the beginning of 1970.

    Raises:
        InstallError: the typesetter is not installed.
    """
    return typeset("page", page_data(page, on), RAW, made_at_s)


def page_count(pdf: bytes) -> int:
    """Return how many pages a PDF made here has."""
    return len(PAGE.findall(pdf))
