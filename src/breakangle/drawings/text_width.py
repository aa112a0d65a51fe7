"""How wide a text will be, before anything has set it: on the safe side for the usual upright sans faces."""

import unicodedata
from functools import lru_cache

# Advance widths of the characters 32 to 126 in thousandths of the text's size, in DejaVu Sans (and its
# bold), one of the widest faces that a page may fall back to. Source: the face's own tables (DejaVu fonts 2.37).
_WIDTHS = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636, 636,
    636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775, 752, 295,
    295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390, 337, 390, 838,
    500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, 635, 635, 411, 521,
    392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
)  # fmt: skip
_BOLD_WIDTHS = (
    348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365, 696, 696, 696, 696,
    696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 580, 1000, 774, 762, 734, 830, 683, 683, 821,
    837, 372, 372, 775, 637, 995, 837, 850, 733, 850, 770, 720, 682, 812, 774, 1103, 771, 724, 725, 457,
    365, 457, 838, 500, 500, 675, 716, 593, 716, 678, 435, 716, 712, 343, 343, 665, 343, 1042, 712, 687,
    716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712, 365, 712, 838,
)  # fmt: skip
BOLD_RATIO = 1.13
_OTHER, _WIDE = 838, 1400
ELLIPSIS = "…"


def _character_width(character: str, strong: bool) -> float:
    code = ord(character)
    if 32 <= code <= 126:
        return (_BOLD_WIDTHS if strong else _WIDTHS)[code - 32]
    return _other_width(character, code) * (BOLD_RATIO if strong else 1.0)


def _other_width(character: str, code: int) -> int:
    if unicodedata.combining(character) or unicodedata.category(character) in ("Cf", "Mn", "Me"):
        return 0
    if unicodedata.east_asian_width(character) in ("W", "F"):
        return _WIDE
    return 1000 if code > 0x2000 else _OTHER


def text_width(text: str, size: float, strong: bool = False) -> float:
    """Return how wide `text` will be at most, in the unit of `size`, in an ordinary upright face."""
    return _width(str(text), size, strong)  # as it is said: a sentence that stands as data has no width


@lru_cache(maxsize=8192)
def _width(text: str, size: float, strong: bool) -> float:
    return sum(_character_width(one, strong) for one in text) * size / 1000.0


def fitted(text: str, width: float, size: float, strong: bool = False) -> str:
    """Return `text`, cut and closed with an ellipsis where it is wider than `width`."""
    if text_width(text, size, strong) <= width:
        return text
    kept = text
    while kept and text_width(kept.rstrip() + ELLIPSIS, size, strong) > width:
        kept = kept[:-1]
    return kept.rstrip() + ELLIPSIS


def wrapped(text: str, width: float, size: float, strong: bool = False) -> list[str]:
    """Return `text` in lines no wider than `width`, broken between words; a longer word is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if line and text_width(longer, size, strong) > width:
            lines.append(line)
            line = word
        else:
            line = longer
    lines += [line] if line else []
    return [fitted(one, width, size, strong) for one in lines]
