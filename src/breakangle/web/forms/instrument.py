"""The fields of the form that corrects an instrument: each box, and beside it what stood there."""

from collections.abc import Mapping

WAS, OFFERED = "was_", "owner_id"  # before a box's name: what stood in it; the owner chosen of those offered


def changed_boxes(typed: Mapping[str, str]) -> dict[str, str]:
    """Return the boxes that a person changed, by their names."""
    return {
        name: text.strip()
        for name, text in typed.items()
        if WAS + name in typed and text.strip() != typed[WAS + name].strip()
    }


def instrument_form(typed: Mapping[str, str]) -> dict[str, str]:
    """Return the boxes that were changed, and which owner was chosen where some were offered, if none."""
    chosen = {OFFERED: typed[OFFERED].strip()} if OFFERED in typed else {}
    return changed_boxes(typed) | chosen
