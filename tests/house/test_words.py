"""Words: every sentence is in the catalogue, the template is current, and another language is one folder."""

import importlib.util
import re
import string
from pathlib import Path
from typing import get_args

import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import read_mo, write_mo
from babel.messages.pofile import read_po

from breakangle.model.words import speech
from breakangle.model.words.speech import language, mark, spoken_language, tr, tr_n
from breakangle.planning.kinds.adjustments.bridge_position import BridgePosition
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.state.bridge_support import POSTS
from breakangle.web import texts
from house.source_rules import ROOT
from sentences_outside import LEFT_OUT, PACKAGE, all_outside, sentences_outside

WEB = PACKAGE / "web"
TEMPLATES = sorted(one for one in WEB.rglob("*.html") if "node_modules" not in one.parts)
ASKED = re.compile(r"""\bt\(\s*(["'])([\w.-]+)\1\s*[,)]""")
BEGUN = re.compile(r"""\bt\(\s*(["'])([\w.-]+)\1\s*~""")
EITHER = re.compile(r"""(["'])([a-z_]+\.[\w-]+)\1""")
ATTRIBUTE = re.compile(r"""\s(style|on[a-z]+)\s*=\s*["']""")
CATALOGUES = sorted((PACKAGE / "locale").glob("*/LC_MESSAGES/*.po"))
SPEC = importlib.util.spec_from_file_location("make_words", ROOT / "tools" / "make_words.py")
assert SPEC is not None and SPEC.loader is not None
TOOL = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(TOOL)


def asked() -> dict[str, str]:
    return {
        name: path.name for path in TEMPLATES for _, name in ASKED.findall(path.read_text(encoding="utf-8"))
    }


def is_known(name: str) -> bool:
    return name in texts.catalogue() or name in texts._of_tables()


def test_every_word_that_a_template_asks_for_exists():
    assert {name: place for name, place in asked().items() if not is_known(name)} == {}


def test_every_word_that_a_template_puts_together_has_a_beginning():
    known = {*texts.catalogue(), *texts._of_tables()}
    begun = {name for path in TEMPLATES for _, name in BEGUN.findall(path.read_text(encoding="utf-8"))}
    assert {name for name in begun if not any(one.startswith(name) for one in known)} == set()


def test_no_word_is_left_over():
    begun = {name for path in TEMPLATES for _, name in BEGUN.findall(path.read_text(encoding="utf-8"))}
    sources = [*TEMPLATES, *sorted(WEB.rglob("*.py"))]
    named = {name for path in sources for _, name in EITHER.findall(path.read_text(encoding="utf-8"))}
    left = [
        name
        for name in texts.catalogue()
        if name not in named and not any(name.startswith(one) for one in begun)
    ]
    assert left == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_no_template_carries_a_script_or_style_of_its_own(path: Path):
    text = path.read_text(encoding="utf-8")
    assert ATTRIBUTE.findall(text) == []
    assert re.findall(r"<script(?![^>]*\bsrc=)", text) == []
    assert "<style" not in text


def test_no_sentence_stands_outside_the_catalogue():
    assert all_outside() == []


def test_what_is_left_out_of_that_is_there():
    assert [one for one in LEFT_OUT if not (PACKAGE / one).exists()] == []


@pytest.mark.parametrize(
    "planted",
    [
        "def cut(depth):\n    raise CutError('the slot is too deep', f'at most {depth} mm deep')\n",
        "NOTES = {'nut': 'Fill the slot'}\n",
        "def cut(verb):\n    verb.add_argument('--depth', help='how deep it is')\n",
        "def cut(depth):\n    return f'{depth:.2f} mm below'\n",
        "def cut(deep):\n    return 'Cut ' + ('too deep' if deep else 'right')\n",
        "class Cut:\n    words: str = 'a slot cut'\n",
        "def cut():\n    say(', '.join(['one slot', 'two slots']))\n",
    ],
)
def test_a_planted_sentence_is_found(planted: str):
    assert list(sentences_outside(planted))


@pytest.mark.parametrize(
    "planted",
    [
        "def cut(depth):\n    raise CutError(tr('the slot is too deep'), tr('at most {d} mm deep', d=depth))\n",
        "NOTES = {'nut slot': mark('Fill the slot')}\n",
        'def cut():\n    """Cut the slot."""\n    return text("SELECT one FROM slot")\n',
        "def cut(way):\n    return 0.1 if way == 'too deep' else re.compile(r'a slot (\\d+)')\n",
        'SIGN = \'<circle cx="1" cy="2"/>\'\n',
        "def cut(depth):\n    return tr_n('{n} slot', '{n} slots', depth, n=depth)\n",
    ],
)
def test_what_is_said_and_what_is_no_sentence_are_not_found(planted: str):
    assert list(sentences_outside(planted)) == []


def test_the_template_is_current():
    assert TOOL.TEMPLATE.read_text(encoding="utf-8") == TOOL.text_of(TOOL.template()), "run: make words"


def places(sentence: str) -> set[str]:
    return {f"{name}:{form}" for _, name, form, _ in string.Formatter().parse(sentence) if name is not None}


def misplaced(catalogue: Catalog) -> list[str]:
    """Return the translations whose places for values are not those of the English."""
    wrong = []
    for message in catalogue:
        ids = message.id if isinstance(message.id, tuple) else (message.id,)
        said = message.string if isinstance(message.string, tuple) else (message.string,)
        allowed = [places(one) for one in ids] if message.python_brace_format else [set()]
        wrong += [
            str(message.id)
            for one in said
            if message.id and one and "{" in "".join(ids) and places(one) not in allowed
        ]
    return wrong


def test_translations_have_the_places_of_the_english_and_are_compiled():
    for path in CATALOGUES:
        with path.open("rb") as file, path.with_suffix(".mo").open("rb") as compiled:
            catalogue, made = read_po(file), read_mo(compiled)
        assert misplaced(catalogue) == [], path
        wanted = {one.id: one.string for one in catalogue if one.id and one.string}
        assert {one.id: one.string for one in made if one.id} == wanted, f"{path}: run: make words"


def test_a_planted_translation_without_a_place_is_found():
    planted = Catalog(locale="de")
    planted.add("{mm:.2f} mm too deep", "{mm:.2f} mm zu tief", flags=["python-brace-format"])
    assert misplaced(planted) == []
    planted.add("at fret {fret}", "am Bund {bund}", flags=["python-brace-format"])
    assert misplaced(planted) == ["at fret {fret}"]


def test_another_language_is_one_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    german = Catalog(locale="de")
    german.add("the slot is too deep", "die Kerbe ist zu tief")
    german.add(("{count} step", "{count} steps"), ("{count} Schritt", "{count} Schritte"))
    german.add("Today", "Heute", context="today.name")
    place = tmp_path / "de" / "LC_MESSAGES" / "breakangle.mo"
    place.parent.mkdir(parents=True)
    with place.open("wb") as file:
        write_mo(file, german)
    monkeypatch.setattr(speech, "LOCALES", tmp_path)
    speech._catalogue.cache_clear()
    deep = mark("the slot is too deep")
    try:
        for locale, spoken in (("de_AT", "de"), ("fr", "en"), ("../de", "en")):
            with language(locale):
                assert spoken_language() == spoken
        with language("de_AT"):
            assert tr(deep) == f"{deep}" == str(deep) == "die Kerbe ist zu tief"
            assert deep[:1].upper() + deep[1:] + "." == "Die Kerbe ist zu tief."
            assert (deep == "the slot is too deep", {deep: 1}["the slot is too deep"]) == (True, 1)
            assert tr_n("{count} step", "{count} steps", 2, count=2) == "2 Schritte"
            assert tr_n("{count} step", "{count} steps", 1, count=1) == "1 Schritt"
            assert (texts.words("today.name"), texts.words("today.none")) == (
                "Heute",
                texts.catalogue()["today.none"],
            )
            with language("en"):
                assert str(deep) == "the slot is too deep"
        assert str(deep) == "the slot is too deep"
    finally:
        speech._catalogue.cache_clear()


def test_the_sides_of_a_bridge_can_be_said_in_another_language():
    """They are keys in files and words in sentences: every adjustment's key has its word in the template."""
    ids = {message.id for message in TOOL.template()}
    for model in (BridgePosition, SaddleHeight):
        (literal, _) = get_args(model.model_fields["post"].annotation)
        assert set(get_args(literal)) == set(POSTS)
    assert set(map(str, POSTS.values())) <= ids
