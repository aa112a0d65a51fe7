"""Make the font for Chinese, Japanese and Korean names: `python tools/make_cjk_font.py NotoSansCJK-Regular.ttc`.

The whole family of Noto Sans CJK is 19 MB. Its Japanese face is cut to what names are written with: the whole of
Unicode's first block of unified ideographs, its compatibility ideographs, every Hangul syllable, kana, bopomofo, their
punctuation and full-width forms, and what JIS X 0213 has beyond those. Variants by language are left out: a Chinese
name is set in Japanese forms. Takes minutes. Source: Debian's package fonts-noto-cjk 1:20220127 (SIL Open Font
License 1.1, which allows subsets; no name of it is reserved).
"""

import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTCollection

MADE = Path(__file__).parents[1] / "src/breakangle/documents/renderers/fonts/NotoSansCJKjp-subset.otf"
JAPANESE_FACE = 0
BLOCKS = (
    (0x2E80, 0x33FF),  # radicals, CJK punctuation, kana, bopomofo, Hangul letters, squared words
    (0x4E00, 0x9FFF),  # unified ideographs
    (0xAC00, 0xD7A3),  # Hangul syllables
    (0xF900, 0xFAFF),  # compatibility ideographs
    (0xFE30, 0xFE4F),  # vertical forms
    (0xFF00, 0xFFEF),  # half and full width
)
STANDARDS = ("shift_jis_2004", "gb2312", "big5", "euc_kr")


def wanted() -> set[int]:
    """Code points the font is to draw, Latin and the other alphabets left to the other fonts."""
    held = {code for first, last in BLOCKS for code in range(first, last + 1)}
    for code in range(0x2E80, 0x30000):
        if any(chr(code).encode(standard, "ignore") for standard in STANDARDS):
            held.add(code)
    return held


def main() -> None:
    """Cut the font and write it where the papers look for it."""
    options = subset.Options(hinting=False, layout_features=["ccmp"], name_IDs=["*"], name_languages=["*"])
    options.drop_tables += ["VORG", "vhea", "vmtx", "BASE"]
    font = TTCollection(sys.argv[1], lazy=True).fonts[JAPANESE_FACE]
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=wanted())
    cutter.subset(font)
    subset.save_font(font, str(MADE), options)


if __name__ == "__main__":
    main()
