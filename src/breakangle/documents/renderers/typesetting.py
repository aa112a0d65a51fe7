"""From plain data and one of the settings beside this file to a PDF: tagged, offline, the same everywhere.

The data goes in as JSON and is only ever looked up, so no word of an owner's can be read as markup. Fonts are Typst's
own and those in `fonts/` beside this file (Noto, SIL Open Font License 1.1), never the machine's.
"""

import json
import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from breakangle.model.errors import InstallError
from breakangle.model.words.speech import mark, spoken_language, tr

if TYPE_CHECKING:
    from typst import Fonts

MISSING = "\N{WHITE VERTICAL RECTANGLE}"
DASH = "\N{EN DASH}"
ACCESSIBLE: Final = "ua-1"  # PDF/UA-1, ISO 14289-1: tagged, titled, alternatives for pictures
OF_TYPST = frozenset(
    map(ord, "≈≤≥")
)  # signs of our own sentences that Typst's own serif has, and those fonts do not
UNDRAWN = {"\u200d", "\u200e", "\u200f", "\u2060", "\ufe0e", "\ufe0f", "\u00ad", "\u200b", "\u200c"}


def font_folder() -> Path:
    """Return the folder of the fonts that come with this program."""
    return Path(str(files("breakangle.documents.renderers").joinpath("fonts")))


@lru_cache(maxsize=1)
def _fonts() -> "Fonts":
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[str(font_folder())])


@lru_cache(maxsize=1)
def drawable() -> frozenset[int]:
    """Return the code points that the fonts here can draw."""
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    known: set[int] = set(OF_TYPST)
    for path in sorted(font_folder().glob("*.[ot]tf")):
        with TTFont(path, lazy=True) as font:
            known |= set(font.getBestCmap() or {})
    return frozenset(known)


def printable(text: str) -> str:
    """Return text with an empty box for every sign that no font here can draw, and without control signs.

    A page that promises to be accessible may not hold a sign that shows nothing. Letters that some systems keep in
    parts (a kana and its mark, the letters of a Hangul syllable) are put together, as the fonts have them.
    """
    if text.isascii():
        return "".join(sign for sign in text if sign in "\n\t" or " " <= sign < "\x7f")
    known = drawable()
    return "".join(
        sign if ord(sign) in known or sign in UNDRAWN or sign in "\n\t" else MISSING
        for sign in unicodedata.normalize("NFC", text)
        if sign in "\n\t" or not ("\x00" <= sign < " " or "\x7f" <= sign < "\xa0")
    )


def shown_or_dash(text: str) -> str:
    """Return text, or a dash where nothing of it would show: a heading of an accessible page cannot be empty."""
    return text if any(sign not in UNDRAWN and not sign.isspace() for sign in printable(text)) else DASH


def _all_printable(value: Any, raw: frozenset[str]) -> Any:
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, Mapping):
        return {
            key: one if key in raw and isinstance(one, str) else _all_printable(one, raw)
            for key, one in value.items()
        }
    if isinstance(value, list | tuple):
        return [_all_printable(one, raw) for one in value]
    return value


# What the settings say by themselves.
SAID = {
    "tuning": mark("Tuning"),
    "strings": mark("Strings"),
    "code_of": mark("Code of instrument"),
    "logo_of": mark("Logo of"),
    "bar": mark(
        "Measure before you cut: this bar is 100 mm (3 15/16 in), and so is the one down the left edge."
    ),
}


@lru_cache(maxsize=8)
def setting_source(name: str) -> str:
    """Return the Typst source of a setting."""
    return (
        files("breakangle.documents.renderers").joinpath("setting", f"{name}.typ").read_text(encoding="utf-8")
    )


def typeset(
    name: str,
    data: Mapping[str, Any],
    raw: frozenset[str] = frozenset({"svg"}),
    made_at_s: int | None = None,
) -> bytes:
    """Return the PDF of `data` in the setting `name`; strings under a key of `raw` go in untouched.

    It says that it was made now, or `made_at_s` seconds after the beginning of 1970, so that it is the same each time.

    Raises:
        InstallError: Typst is not installed.
    """
    try:
        import typst
    except ImportError as cause:
        raise InstallError(tr("the typesetter is not installed"), "", tr("pip install typst")) from cause
    said = {name: tr(words) for name, words in SAID.items()} | {"language": spoken_language().split("_")[0]}
    text = json.dumps(_all_printable({**data, "said": said}, raw), ensure_ascii=False, allow_nan=False)
    made = typst.compile(
        setting_source(name).encode(),
        font_paths=_fonts(),
        ignore_system_fonts=True,
        pdf_standards=[ACCESSIBLE],
        sys_inputs={"data": text},
        timestamp=made_at_s,
    )
    assert isinstance(made, bytes)
    return made
