"""Each thing that CONTRIBUTING says how to add is added in a copy of the program, in just as many files as it says."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from house.source_rules import ROOT

CONTRIBUTING = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
DATA = "src/breakangle/reference/data"
CATALOGUE = "src/breakangle/web/texts/en.toml"
PAGE_CODE = """\"\"\"The tray: what lies on it.\"\"\"

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/tray")
def tray(request: Request) -> Response:
    \"\"\"Show the tray.\"\"\"
    return page(request, "tray.html")
"""
VERB_CODE = """\"\"\"`breakangle hum`: hums.\"\"\"

from breakangle.cli.render.entry import say


def add(verbs):
    \"\"\"Add the verb.\"\"\"
    verbs.add_parser("hum", help="hum a note")


def run(arguments):
    \"\"\"Hum.\"\"\"
    say("mmm")
    return 0
"""
SHOW_PAGE = """
from starlette.requests import Request
from breakangle.web import pages
route = next(one for made in pages.routers() for one in made.routes if one.path == "/tray")
scope = {"type": "http", "method": "GET", "path": "/tray", "root_path": "", "scheme": "http", "query_string": b""}
print(route.endpoint(Request(scope | {"headers": [], "server": ("127.0.0.1", 80)})).body.decode())
"""


class Copy:
    """A copy of the program, with what a person wrote or changed in it by hand."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.touched = folder, set[str]()
        leave = shutil.ignore_patterns("node_modules", "__pycache__")
        shutil.copytree(ROOT / "src", folder / "src", copy_function=os.symlink, ignore=leave)
        (folder / "tests").mkdir()
        (folder / "tests" / "full_service.json").symlink_to(ROOT / "tests" / "full_service.json")

    def read(self, place: str) -> str:
        return (self.folder / place).read_text(encoding="utf-8")

    def write(self, place: str, text: str) -> None:
        path = self.folder / place
        path.parent.mkdir(exist_ok=True)
        path.unlink(missing_ok=True)  # a link to the real file
        path.write_text(text, encoding="utf-8")
        self.touched.add(place)

    def change(self, place: str, old: str, new: str) -> None:
        text = self.read(place)
        assert text.count(old) == 1, old
        self.write(place, text.replace(old, new))

    def python(self, *words: str, language: str = "en") -> str:
        around = os.environ | {
            "BREAKANGLE_LANGUAGE": language,
            "PYTHONPATH": str(self.folder / "src"),
            "BREAKANGLE_DATA": str(self.folder / "data"),
        }
        ran = subprocess.run(
            [sys.executable, *words], cwd=self.folder, env=around, capture_output=True, text=True, check=False
        )
        assert ran.returncode in (0, 1), ran.stderr  # 1: beyond a set-up
        return ran.stdout

    def breakangle(self, *words: str) -> str:
        return self.python("-m", "breakangle", *words)


@pytest.fixture
def copy(tmp_path: Path) -> Copy:
    made = Copy(tmp_path)
    assert str(tmp_path) in made.python("-c", "import breakangle; print(breakangle.__file__)")
    return made


def said(heading: str) -> str:
    """Return what stands in brackets behind a heading."""
    found = re.search(rf"^## {re.escape(heading)} \((.+)\)$", CONTRIBUTING, re.MULTILINE)
    assert found, heading
    return found[1]


def test_a_family_is_one_file(copy: Copy):
    copy.write(f"{DATA}/families/quokka.toml", copy.read(f"{DATA}/families/ukulele-tenor.toml"))
    assert json.loads(copy.breakangle("example", "quokka"))["instrument"]["kind"] == "quokka"
    assert said("Add a kind of instrument") == "1 file" and len(copy.touched) == 1


def test_a_make_is_one_file(copy: Copy):
    makes = copy.read(f"{DATA}/materials/makes.toml")
    rows = re.findall(r"(?ms)^\[plain-steel(?:\.\w+)?\]\n.*?(?=^\[|\Z)", makes)
    assert len(rows) > 1
    twin = "\n".join(rows).replace("[plain-steel", "[moon-steel")
    copy.write(f"{DATA}/materials/makes.toml", f"{makes}\n{twin}")
    service = copy.breakangle("example", "electric-guitar").replace('"plain-steel"', '"moon-steel"')
    (copy.folder / "service.json").write_text(service, encoding="utf-8")
    assert "moon-steel" in service
    before = json.loads(copy.breakangle("strings", "service.json", "--json"))
    assert before["strings"]
    assert said("Add a material, wire, wood or thread") == "1 file" and len(copy.touched) == 1


def test_a_kind_of_reading_is_two_files(copy: Copy):
    text = copy.read("src/breakangle/planning/kinds/readings/crown.py").replace("Crown", "FretEnd")
    text = text.replace('"crown"', '"fret-end"').replace('layout["fret-end"]', 'layout["crown"]')
    copy.write("src/breakangle/planning/kinds/readings/fret_end.py", text)
    full = json.loads(copy.read("tests/full_service.json"))
    full["readings"].append({"quantity": "fret-end", "string": 1, "fret": 5, "mm": 0.01})
    copy.write("tests/full_service.json", json.dumps(full))
    assert "fret-end" in copy.breakangle("schema")
    assert copy.breakangle("check", "tests/full_service.json")
    assert json.loads(copy.breakangle("predict", "tests/full_service.json", "--json"))
    assert said("Add a kind of reading") == "2 files" and len(copy.touched) == 2


def test_a_procedure_is_one_file(copy: Copy):
    text = copy.read("src/breakangle/procedures/data/clean-and-oil.toml")
    made = text.replace('name = "clean-and-oil"', 'name = "wipe"').replace(
        "Clean, and oil bare wood", "Wipe it"
    )
    copy.write("src/breakangle/procedures/data/wipe.toml", made)
    assert "Wipe it" in copy.breakangle("procedure", "wipe")
    assert said("Add a bench procedure") == "1 file" and len(copy.touched) == 1


def test_an_exported_column_is_one_file(copy: Copy):
    place = "src/breakangle/services/overview/exports.py"
    copy.change(
        place,
        '    "lines": {',
        '    "owners": {"shouted": lambda owner: owner.name.upper()},\n    "lines": {',
    )
    assert copy.breakangle("list", "owners").splitlines()[0].endswith(",shouted")
    assert said("Add a column to a list that is exported") == "1 file" and len(copy.touched) == 1


def test_a_tolerance_of_the_house_is_one_file(copy: Copy):
    copy.change(
        f"{DATA}/families/electric-guitar.toml",
        "[tolerances]\nrelief_mm = 0.06",
        "[tolerances]\nrelief_mm = 0.09",
    )
    (copy.folder / "service.json").write_text(copy.breakangle("example", "electric-guitar"), encoding="utf-8")
    assert "0.30 ± 0.09" in copy.breakangle("plan", "service.json")
    assert said("Change a house target or tolerance") == "1 file" and len(copy.touched) == 1


def test_a_verb_is_one_file(copy: Copy):
    copy.write("src/breakangle/cli/verbs/strings/hum.py", VERB_CODE)
    assert copy.breakangle("hum") == "mmm\n"
    assert "hum a note" in copy.breakangle("--help")
    assert said("Add a verb") == "1 file" and len(copy.touched) == 1


def test_a_page_is_one_folder_and_the_catalogue(copy: Copy):
    folder = "src/breakangle/web/pages/tray"
    copy.write(f"{folder}/__init__.py", '"""The tray."""\n')
    copy.write(f"{folder}/tray.py", PAGE_CODE)
    copy.write(f"{folder}/tray.html", '<h1>{{ t("tray.name") }}</h1>\n')
    copy.write(CATALOGUE, copy.read(CATALOGUE) + '\n[tray]\nname = "The tray"\n')
    assert "<h1>The tray</h1>" in copy.python("-c", SHOW_PAGE)
    places = {place.rpartition("/")[0] for place in copy.touched - {CATALOGUE}}
    assert said("Add a page") == "1 folder and the catalogue" and places == {folder}


def test_a_language_is_one_file(copy: Copy):
    place = "src/breakangle/locale/de/LC_MESSAGES/breakangle.po"
    (copy.folder / "tools").mkdir()
    tool = shutil.copy(ROOT / "tools" / "make_words.py", copy.folder / "tools")
    (copy.folder / "src/breakangle/locale/breakangle.pot").unlink()  # a link to the real one
    (copy.folder / place).parent.mkdir(parents=True)
    copy.write(
        place,
        'msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8"\n\nmsgid "verbs"\nmsgstr "Befehle"\n',
    )
    assert copy.python(str(tool)).startswith("de: ")
    assert "Befehle:" in copy.python(
        "-c", "from breakangle.cli.main import main; main(['--help'])", language="de"
    )
    assert "verbs:" in copy.breakangle("--help")
    assert said("Add a language") == "1 file" and copy.touched == {place}
