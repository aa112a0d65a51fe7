"""The fields of the strings forms: a box for each string (`diameter-6`), and what is asked of the whole set."""

import re
from collections.abc import Mapping

from breakangle.services.strings.typed_strings import StringsTyped, StringTyped

# The field of a string's box, before its number, and what it holds.
BOXES = {
    "diameter": "diameter", "make": "make", "note": "note", "from": "shelf_record", "grams": "weight",
    "length": "piece_length", "printed": "printed_mass", "wish": "pull",
}  # fmt: skip
_BOX = re.compile(rf"({'|'.join(BOXES)})-(\d{{1,2}})", re.ASCII)


def strings_form(typed: Mapping[str, str]) -> StringsTyped:
    """Return what was typed on a form or in an address's query about strings; other fields are left."""
    boxes: dict[int, dict[str, str]] = {}
    for name, text in typed.items():
        found = _BOX.fullmatch(name)
        if found and text.strip():
            boxes.setdefault(int(found[2]), {})[BOXES[found[1]]] = text.strip()
    return StringsTyped(
        {number: StringTyped(**fields) for number, fields in boxes.items()},
        whole_set=bool(typed.get("every")), pack_record=typed.get("pack", ""), set_record=typed.get("stock", ""),
        find_sizes=bool(typed.get("find")), total_pull=typed.get("total", "").strip(),
        only_shelf=bool(typed.get("shelf")),
    )  # fmt: skip
