"""In a made-up language no word stays English: every verb's help, verbs, pages, papers, errors, answers to programs.

The whole program is walked by `python -m bench.prove words`; here is a piece of each kind.
"""

import io
import json
from collections.abc import Iterator
from pathlib import Path

import pdfplumber
import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main, verb_modules
from breakangle.model.words.speech import language, mark, tr
from breakangle.services.service_files.example import example_text
from made_up_language import BROWSER, LOCALE, accented, made_up, texts_in, typed_in, unchanged, visible

pytest_plugins = ["web_fixtures.at_hand"]
DATA = typed_in(json.loads(example_text()))
# Keys that a person types, as lists of what is possible name them.
TYPED = (
    "rattle crackle structure other restring unstring refret head buzz plain moved stepped gaps centres",
    "figures certify simulate",
)
VERBS = [module.__name__.rpartition(".")[2].replace("_", "-") for module in verb_modules()]
PAGES = (
    *(
        "",
        "/visits/new",
        "/instruments",
        "/search?q=heron",
        "/shop",
        "/shop/health",
        "/shop/settings",
        "/shop/backups",
    ),
    *(
        "/shop/targets",
        "/shop/procedures",
        "/shop/procedures/restring",
        "/shop/devices",
        "/shop/heading",
        "/nowhere",
    ),
    *(
        f"/visits/1{page}"
        for page in ("", "/readings", "/plan", "/strings", "/work", "/frets", "/make", "/paper", "/try")
    ),
    *(
        f"/visits/1{page}"
        for page in ("/hand-back", "/drawing", "/board/buzz", "/complaint", "/lowest", "/climate")
    ),
)


@pytest.fixture(scope="module", autouse=True)
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with made_up(tmp_path_factory.mktemp("locale")) as locale:
        yield locale


@pytest.fixture
def command(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Iterator[object]:
    monkeypatch.setenv("BREAKANGLE_LANGUAGE", LOCALE)
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path))
    (tmp_path / "s.json").write_text(example_text(), encoding="utf-8")
    monkeypatch.chdir(tmp_path)

    def run(words: str) -> str:
        main(words.split())
        printed = capsys.readouterr()
        return printed.out + printed.err

    yield run


def test_a_planted_word_is_seen():
    assert unchanged(accented("Lower the slot at string {string}"), ()) == []
    assert unchanged("Lówér the slót àt stríng 6", ()) == ["the"]
    assert unchanged("Heron, plain-steel, --paper a4, E4 at 0.30 mm", ("Heron",)) == []
    assert visible('<p title="high">Lów</p><script>let one</script>').split() == ["Lów", "high"]


def test_the_language_ends_with_the_block():
    high = mark("too high")
    with language(LOCALE):
        assert (tr("too high"), str(high), f"{high}") == ("tóó hígh",) * 3
    assert (tr("too high"), str(high), high) == ("too high",) * 3


def test_every_verb_s_help(command):
    left = {verb: unchanged(command(f"{verb} --help"), (*VERBS, *TYPED)) for verb in VERBS}
    assert {verb: words for verb, words in left.items() if words} == {}


@pytest.mark.parametrize(
    "words",
    [
        "plan s.json",
        "lowest s.json",
        "strings s.json",
        "check s.json",
        "make nut s.json",
        "procedure restring",
    ],
)
def test_what_a_verb_prints(command, words: str):
    assert unchanged(command(words), (*DATA, *VERBS)) == []


@pytest.mark.parametrize(
    "words", ["plan none.json", "plan", "nothing", "plan s.json --units zz", "make nut s.json --set head=999",
              "procedure zzz", "visit 1", "template zzz s.json"]
)  # fmt: skip
def test_what_an_error_says(command, words: str):
    said = command(words)
    assert said.startswith("breakangle: ")
    assert unchanged(said, (*DATA, *VERBS, *TYPED, "none", "nothing")) == []


def test_what_a_bad_file_is_told(command, tmp_path: Path):
    for text in ("{", "[]", '{"format": "x"}', example_text().replace('"scale_mm"', '"scale"')):
        (tmp_path / "s.json").write_text(text, encoding="utf-8")
        assert unchanged(command("plan s.json"), (*DATA, "scale", "format")) == []


def test_what_a_plan_tells_programs(command):
    assert unchanged("\n".join(texts_in(json.loads(command("plan s.json --json")))), DATA) == []


def test_pages_and_answers_to_programs(first_sheet: TestClient):
    first_sheet.headers["accept-language"] = BROWSER
    left = {
        page: unchanged(visible(first_sheet.get(page or "/").text), (*DATA, *TYPED, "heron", "bench"))
        for page in PAGES
    }
    answer = first_sheet.get("/api/visits/1/plan").json()
    left["plan for programs"] = unchanged("\n".join(texts_in(answer)), DATA)
    assert {page: words for page, words in left.items() if words} == {}


@pytest.mark.parametrize("sheet", ["hand-back", "bench"])
def test_papers(first_sheet: TestClient, sheet: str):
    first_sheet.headers["accept-language"] = BROWSER
    answer = first_sheet.get(f"/visits/1/paper/{sheet}.txt")
    assert answer.status_code == 200
    assert unchanged(answer.text, DATA) == []


@pytest.mark.parametrize("paper", ["paper/label.pdf", "template/nut-slots.pdf"])
def test_printed_papers(first_sheet: TestClient, paper: str):
    first_sheet.headers["accept-language"] = BROWSER
    with pdfplumber.open(io.BytesIO(first_sheet.get(f"/visits/1/{paper}").content)) as pdf:
        text = "\n".join(page.extract_text() for page in pdf.pages)
    assert len(text) > 100
    assert unchanged(text, DATA) == []
