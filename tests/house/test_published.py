"""What is published is what the source says now: schema, reference pages, the README's commands and code."""

import importlib.util
import json
import re
import shlex
import subprocess
import sys
import urllib.request
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest

from breakangle.cli.main import main, parser
from breakangle.reference.families import families
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.service import read_service, schema_text
from web_fixtures.process import Served

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
MAKEFILE = (ROOT / "Makefile").read_text(encoding="utf-8")


def reference_tool():
    spec = importlib.util.spec_from_file_location("make_reference", ROOT / "tools" / "make_reference.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


PAGES = list(reference_tool().pages())


@pytest.mark.parametrize(("path", "text"), PAGES, ids=[path.name for path, _ in PAGES])
def test_a_generated_file_is_current(path, text):
    assert path.read_text(encoding="utf-8") == text, "run: python tools/make_reference.py"


def test_the_schema_goes_with_the_package_and_is_a_schema():
    shipped = files("breakangle.model").joinpath("service.schema.json").read_text(encoding="utf-8")
    assert shipped == schema_text()
    jsonschema.Draft202012Validator.check_schema(json.loads(shipped))


@pytest.mark.parametrize("kind", [None, *families()])
def test_every_example_is_valid_by_the_published_schema(kind):
    jsonschema.Draft202012Validator(json.loads(schema_text())).validate(json.loads(example_text(kind)))


def test_the_contracts_own_example_is_a_valid_file(tmp_path):
    """The example of the service file's first definition, as it stands there; two strings of six."""
    text = """{
      "format": "breakangle/service/1",
      "instrument": {
        "name": "Heron, bolt-on six", "kind": "electric-guitar",
        "scale_mm": 648.0, "frets": 22, "joint_fret": 17,
        "board_radius_mm": 305.0,
        "spread_nut_mm": 35.0, "spread_bridge_mm": 52.0,
        "rod": {"kind": "single", "turns_left": null},
        "bridge": {"kind": "individual", "height_mm_per_turn": 0.5, "position_mm_per_turn": 0.635,
                   "position_travel_mm": [-4.0, 4.0]},
        "strings": [
          {"string": 1, "note": "E4", "make": "plain-steel", "diameter_mm": 0.254},
          {"string": 2, "note": "E2", "make": "wound-steel", "diameter_mm": 1.168, "core_mm": 0.457,
           "wrap": "nickel-plated-steel"}
        ]
      },
      "reference_hz": 440.0,
      "room": {"temperature_c": 20.0, "humidity_percent": 45.0},
      "targets": null,
      "readings": [
        {"quantity": "gap", "string": 2, "fret": 8, "held": [1, 17], "mm": 0.30, "uncertainty_mm": 0.03},
        {"quantity": "gap", "string": 2, "fret": 12, "held": [1], "mm": 1.80, "uncertainty_mm": 0.05},
        {"quantity": "gap", "string": 2, "fret": 1, "held": [3], "mm": 0.04, "uncertainty_mm": 0.02},
        {"quantity": "pitch", "string": 2, "fret": 0, "hz": 82.41, "uncertainty_cents": 0.3},
        {"quantity": "pitch", "string": 2, "fret": 12, "cents": 4.0, "uncertainty_cents": 0.5},
        {"quantity": "crown", "string": 2, "fret": 9, "mm": -0.03, "uncertainty_mm": 0.01}
      ],
      "work": []
    }"""
    file = tmp_path / "service.json"
    file.write_text(text)
    service = read_service(file)
    assert len(service.readings) == 6
    jsonschema.Draft202012Validator(json.loads(schema_text())).validate(json.loads(text))


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


def commands() -> list[str]:
    lines = [line.strip() for block in blocks("sh") for line in block.splitlines()]
    inline = re.findall(r"`((?:make|breakangle) [^`]+)`", README)
    return [line.split("#")[0].strip() for line in [*lines, *inline] if line and not line.startswith("#")]


@pytest.mark.parametrize("command", sorted(set(commands())))
def test_a_command_in_the_readme_exists(command):
    words = shlex.split(command.split("|")[-1].split(">")[0])
    if words[0] == "make":
        for target in words[1:]:
            assert re.search(rf"^{re.escape(target)}:.*##", MAKEFILE, re.MULTILINE), target
    elif words[0] == "breakangle":
        assert parser().parse_args(words[1:]).verb == words[1]
    else:
        assert words[0] in ("git", "cd"), command


def test_the_readme_starts_with_the_job_and_its_two_commands():
    lines = README.splitlines()
    assert len(lines[0]) > 200, "line 1 is the job in one paragraph"
    first_screen = "\n".join(lines[:25])
    assert "make run" in first_screen
    assert "make test" in first_screen
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert pictures[0] in first_screen
    for one in pictures:
        begun = (ROOT / one).read_bytes()[:8].lstrip()
        assert begun.startswith((b"<svg", b"\x89PNG")), one


def test_the_picture_is_of_a_real_result(capsys, tmp_path):
    """It starts with the first step that the command prints now; else run tools/make_pictures.py."""
    file = tmp_path / "service.json"
    file.write_text(example_text(), encoding="utf-8")
    main(["plan", str(file)])
    page = capsys.readouterr().out.splitlines()
    (name,) = re.findall(r"!\[[^\]]+\]\(([^)]+\.svg)\)", README)
    shown = (ROOT / name).read_text(encoding="utf-8").replace("&#160;", " ")
    heads = [line for line in page if re.match(r"[1-4]\. ", line)]
    assert len(heads) == 4
    assert [line for line in heads if line not in shown] == []
    assert re.findall(r"<text[^>]*>([^<]+)</text>", shown)[0] == heads[0]


def test_the_readmes_python_runs_as_it_stands(tmp_path):
    (example,) = blocks("python")
    assert len(example.strip().splitlines()) == 5
    (tmp_path / "service.json").write_text(example_text(), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", example],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr == ""
    assert done.stdout.startswith("adjust")
    assert "truss rod" in done.stdout


LINKED = [
    ROOT / "README.md",
    ROOT / "CONTRIBUTING.md",
    ROOT / "CHANGELOG.md",
    *sorted((ROOT / "docs").rglob("*.md")),
]


@pytest.mark.parametrize("page", LINKED, ids=lambda page: page.name)
def test_links_between_pages_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_make_run_opens_the_bench_app_with_the_example_workshop(tmp_path):
    """The Makefile's own line, on a free port and without a browser, in a folder where nothing was before."""
    (line,) = re.findall(r"^\t@\$\(BIN\)/breakangle (.+)$", MAKEFILE, re.MULTILINE)
    assert line == "serve --open --example-first"
    served = Served(tmp_path / "new", ("--example-first",))
    served.start()
    try:
        with urllib.request.urlopen(f"{served.url}/example/", timeout=60) as answer:
            assert "Heron" in answer.read().decode()
        with urllib.request.urlopen(served.url, timeout=60) as answer:
            assert "Look around the example workshop" in answer.read().decode()
    finally:
        served.stop()
