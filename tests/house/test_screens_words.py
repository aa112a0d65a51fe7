"""The words on the screens: each that a template asks for exists, none is left over, another language is one file."""

import re
from pathlib import Path

import pytest

from breakangle.web import texts

WEB = Path(__file__).parents[2] / "src" / "breakangle" / "web"
TEMPLATES = sorted(one for one in WEB.rglob("*.html") if "node_modules" not in one.parts)
ASKED = re.compile(r"""\bt\(\s*(["'])([\w.-]+)\1\s*[,)]""")
BEGUN = re.compile(r"""\bt\(\s*(["'])([\w.-]+)\1\s*~""")
EITHER = re.compile(r"""(["'])([a-z_]+\.[\w-]+)\1""")
ATTRIBUTE = re.compile(r"""\s(style|on[a-z]+)\s*=\s*["']""")


def asked() -> dict[str, str]:
    return {
        name: path.name for path in TEMPLATES for _, name in ASKED.findall(path.read_text(encoding="utf-8"))
    }


def test_every_word_that_a_template_asks_for_exists():
    known = texts.catalogue("en")
    assert {name: place for name, place in asked().items() if name not in known} == {}


def test_every_word_that_a_template_puts_together_has_a_beginning():
    known = texts.catalogue("en")
    begun = {name for path in TEMPLATES for _, name in BEGUN.findall(path.read_text(encoding="utf-8"))}
    assert {name for name in begun if not any(one.startswith(name) for one in known)} == set()


def test_no_word_is_left_over():
    begun = {name for path in TEMPLATES for _, name in BEGUN.findall(path.read_text(encoding="utf-8"))}
    sources = [*TEMPLATES, *sorted(WEB.rglob("*.py"))]
    named = {name for path in sources for _, name in EITHER.findall(path.read_text(encoding="utf-8"))}
    left = [
        name
        for name in texts.catalogue("en")
        if name not in named and not any(name.startswith(one) for one in begun)
    ]
    assert left == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_no_template_carries_a_script_or_style_of_its_own(path: Path):
    text = path.read_text(encoding="utf-8")
    assert ATTRIBUTE.findall(text) == []
    assert re.findall(r"<script(?![^>]*\bsrc=)", text) == []
    assert "<style" not in text


def test_another_language_is_one_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (tmp_path / "en.toml").write_bytes((texts.FOLDER / "en.toml").read_bytes())
    (tmp_path / "de.toml").write_text('[today]\nname = "Heute"\nsheet = "Blatt {number}"\n', encoding="utf-8")
    monkeypatch.setattr(texts, "FOLDER", tmp_path)
    texts.catalogue.cache_clear()
    try:
        assert texts.language_of("de_AT") == "de"
        assert texts.words("de", "today.name") == "Heute"
        assert texts.words("de", "today.sheet", number=3) == "Blatt 3"
        assert texts.words("de", "shop.name") == texts.words("en", "shop.name")
    finally:
        texts.catalogue.cache_clear()
