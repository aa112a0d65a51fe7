"""The key under a drawing: a sample of each line or mark with its meaning, wrapped to the width."""

from collections.abc import Sequence

from breakangle.drawings.sheet import Sheet
from breakangle.drawings.signs import draw_sign
from breakangle.drawings.text_width import fitted, text_width

SAMPLE_RATIO, SIZE_RATIO, LEADING_RATIO = 2.2, 0.88, 1.55
SIGNS = ("ring", "dot", "cross")
AREAS = ("band", "window", "wanted")


def draw_key(sheet: Sheet, entries: Sequence[tuple[str, str]], top_y: float) -> float:
    """Write the key's entries (an ink, its meaning) from `top_y` down, and return where it ends."""
    text = sheet.look.text
    size, sample = SIZE_RATIO * text, SAMPLE_RATIO * text
    margin = 0.6 * text
    x, y = margin, top_y + size
    for ink, meaning in entries:
        lead = sample + 0.5 * text if ink else 0.0
        words = fitted(meaning, sheet.look.width - 2 * margin - lead, size)
        wide = lead + text_width(words, size)
        if x > margin and x + wide > sheet.look.width - margin:
            x, y = margin, y + LEADING_RATIO * size
        if ink:
            _draw_sample(sheet, ink, x, y, sample, size)
        sheet.text((x + lead, y), words, "quiet", size=size)
        x += wide + 1.4 * text
    return y + 0.6 * size if entries else top_y


def _draw_sample(sheet: Sheet, ink: str, x: float, y: float, wide: float, size: float) -> None:
    middle = y - 0.32 * size
    if ink in AREAS:
        sheet.rect(x, middle - 0.4 * size, wide, 0.8 * size, ink)
    elif ink in SIGNS:
        draw_sign(sheet, ink, (x + wide / 2, middle), 0.8 * size)
    else:
        sheet.line((x, middle), (x + wide, middle), ink)
