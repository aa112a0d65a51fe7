"""The fields of a photograph's form: caption, place on the owner's sheet, marks and partner."""

from collections.abc import Mapping

from breakangle.services.documents.photograph_page import PhotographTyped


def photograph_form(typed: Mapping[str, str]) -> PhotographTyped:
    """Return what a form says of a photograph."""
    return PhotographTyped(
        typed.get("caption", ""), typed.get("shown", ""), typed.get("marks", ""), typed.get("version"),
        typed.get("pair"),
    )  # fmt: skip
