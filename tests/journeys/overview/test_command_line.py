"""The command as a person uses it: asked for help, given a file or a pipe, in their unit, and misused."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from breakangle.cli.main import main, parser, verb_modules
from breakangle.services.service_files.example import example_text
from shop_fixtures.said import ran

pytest_plugins = ["shop_fixtures.example_file"]

COMMAND = [sys.executable, "-m", "breakangle.cli"]
HEAVY = ("numpy", "scipy", "pydantic", "rich", "soundfile", "soxr", "av", "matplotlib")


def process(*words: str, given: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {
        key: value
        for key, value in os.environ.items()
        if key not in ("BREAKANGLE_UNITS", "COLUMNS", "NO_COLOR")
    }
    return subprocess.run(
        [*COMMAND, *words], input=given, capture_output=True, text=True, check=False, env=kept | environment
    )


def test_help_imports_nothing_heavy():
    script = "import sys; from breakangle.cli.main import main; main(['--help']); "
    script += f"print([one for one in {HEAVY!r} if one in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_plan_without_findings_at_the_frets_loads_no_solver(example):
    script = "import sys; from breakangle.cli.main import main; main(['plan', sys.argv[1]]); "
    script += "print([name for name in ('scipy.optimize', 'scipy.sparse') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script, example], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_help_lists_every_verb_and_every_verb_has_help(capsys):
    listed = ran(capsys, "--help")
    (verbs,) = [one for one in parser()._actions if isinstance(one.choices, dict)]
    names = list(verbs.choices)
    assert {"plan", "predict", "check", "schema", "example", "listen", "buzz", "lowest"} <= set(names)
    assert len(names) >= len(verb_modules())
    for name in names:
        assert re.search(rf"^    {name}( |$)", listed, re.MULTILINE)
        assert f"usage: breakangle {name}" in ran(capsys, name, "--help")


def test_no_words_print_the_help_and_version_its_number(capsys):
    assert "usage: breakangle" in ran(capsys)
    assert re.fullmatch(r"breakangle \d+\.\d+\.\d+\n", ran(capsys, "--version"))


def test_the_example_is_planned_in_words(capsys, example):
    page = ran(capsys, "plan", example)
    assert "Marram, bolt-on six" in page
    assert re.search(r"^Adjust\. \d+ steps in [1-4] trips, about \d+ min\.$", page, re.MULTILINE)
    assert re.search(r"^1\. Tighten the truss rod (a quarter turn|an eighth of a turn)$", page, re.MULTILINE)
    assert "Then read relief, string 6, fret 8 with frets 1 and 17 held:" in page
    assert "never forced" in page
    assert "Relief in mm, over fret 8, with frets 1 and 17 held" in page
    assert max(len(line) for line in page.splitlines()) <= 80
    assert "\x1b" not in page
    assert not any(line.endswith(" ") for line in page.splitlines())


def test_the_plan_as_json_is_the_form_it_claims(capsys, example):
    plan = json.loads(ran(capsys, "plan", example, "--json"))
    assert plan["format"] == "breakangle/plan/2"
    assert plan["verdict"] == "adjust"
    assert {"format", "verdict", "steps", "now", "then", "targets", "notes"} <= set(plan)
    for step in plan["steps"]:
        assert {"adjust", "reason", "caution", "expect"} <= set(step)
        assert step["adjust"] == "tune" or "turns" in step or "mm" in step
        for reading in step["expect"]:
            assert any(key.startswith("uncertainty_") for key in reading)
            assert "after" not in reading
    assert plan["steps"][0]["adjust"] == "rod"
    assert all(abs(one["turns"]) <= 0.25 for one in plan["steps"] if one["adjust"] == "rod")


def test_inches_by_option_or_by_environment(capsys, example, monkeypatch):
    by_option = ran(capsys, "plan", example, "--units", "in")
    assert "Action in inches" in by_option
    assert not re.search(r"\d mm\b", by_option.split("What this instrument answers")[0])
    monkeypatch.setenv("BREAKANGLE_UNITS", "in")
    assert ran(capsys, "plan", example) == by_option
    assert "Action in mm" in ran(capsys, "plan", example, "--units", "mm")
    monkeypatch.setenv("BREAKANGLE_UNITS", "cubits")
    assert main(["plan", example]) == 2
    assert capsys.readouterr().err == "breakangle: BREAKANGLE_UNITS is 'cubits'; it can be mm or in.\n"


def test_another_hand_wants_another_height(capsys, example):
    def wanted(*hand: str) -> float:
        plan = json.loads(ran(capsys, "plan", example, "--json", *hand))
        return next(
            one["mm"] for one in plan["targets"]["wanted"] if one["string"] == 6 and one["fret"] == 12
        )

    assert wanted("--hand", "light") < wanted() < wanted("--hand", "heavy")


def test_the_whole_board_is_predicted(capsys, example):
    page = ran(capsys, "predict", example)
    for heading in ("As a gauge and a tuner would read it", "Open string over each crown, mm", "cents"):
        assert heading in page
    assert len(re.findall(r"^ +22 ", page, re.MULTILINE)) == 2
    assert max(len(line) for line in page.splitlines()) <= 80
    board = json.loads(ran(capsys, "predict", example, "--json"))
    assert board["format"] == "breakangle/prediction/1"
    assert [one["string"] for one in board["strings"]] == [1, 2, 3, 4, 5, 6]
    for one in board["strings"]:
        for key in ("clearance_mm", "clearance_uncertainty_mm", "cents", "cents_uncertainty"):
            assert len(one[key]) == 22
            assert all(isinstance(value, float) for value in one[key])


def test_what_is_predicted_is_near_what_was_read(capsys, example):
    """Readings all over the example's board, each within three of its own standard deviations."""
    board = json.loads(ran(capsys, "predict", example, "--json"))
    reads = {
        (one["reading"]["string"], one["reading"].get("fret"), tuple(one["reading"].get("held", ()))): one[
            "reading"
        ]
        for one in board["conventions"]
    }
    taken = [one for one in json.loads(Path(example).read_text())["readings"] if one["quantity"] == "gap"]
    compared = 0
    for one in taken:
        found = reads.get((one["string"], one["fret"], tuple(one["held"])))
        if found is not None:
            assert abs(found["mm"] - one["mm"]) < 3 * one["uncertainty_mm"] + 0.01
            compared += 1
    assert compared >= 14


def test_a_file_comes_through_a_pipe(example):
    by_file = process("plan", example, "--json")
    by_pipe = process("plan", "-", "--json", given=example_text())
    assert by_file.returncode == by_pipe.returncode == 0
    assert json.loads(by_file.stdout) == json.loads(by_pipe.stdout)


def test_nothing_in_the_pipe_is_one_sentence():
    done = process("plan", "-")
    assert done.returncode == 2
    assert done.stderr == "breakangle: standard input is not JSON: it is empty; name another file.\n"


def test_a_reader_who_leaves_early_hears_no_complaint(example):
    command = " ".join([*COMMAND, "plan", example, "--json"])
    done = subprocess.run(["sh", "-c", f"{command} | head -n 1"], capture_output=True, text=True, check=False)
    assert done.stdout == "{\n"
    assert done.stderr == ""


def test_an_instrument_beyond_a_set_up_exits_with_1(capsys, tmp_path):
    data = json.loads(example_text())
    data["instrument"]["bridge"]["height_travel_mm"] = [-0.1, 0.0]
    for reading in data["readings"]:
        if reading["quantity"] == "gap" and reading["fret"] == 12:
            reading["mm"] = 4.1
    file = tmp_path / "service.json"
    file.write_text(json.dumps(data))
    page = ran(capsys, "plan", str(file), code=1)
    assert "Beyond a set-up." in page
    assert "the bridge cannot come down far enough" in page


MISUSES = {
    "no file": (
        ["plan"],
        "breakangle plan: the following arguments are required: FILE; see breakangle plan --help.",
    ),
    "no such verb": (["tighten"], "invalid choice: 'tighten'"),
    "no such option": (["plan", "x.json", "--fast"], "unrecognized arguments: --fast"),
    "a cut option": (["plan", "x.json", "--js"], "unrecognized arguments: --js"),
    "no such unit": (["plan", "x.json", "--units", "cm"], "invalid choice: 'cm'"),
    "no such hand": (["plan", "x.json", "--hand", "left"], "invalid choice: 'left'"),
    "no such kind": (
        ["example", "zither"],
        "instrument kind 'zither' is not in the tables; known are banjo-five",
    ),
    "no such file": (["check", "nowhere.json"], "nowhere.json cannot be read: no such file or directory"),
}


@pytest.mark.parametrize("name", MISUSES)
def test_misuse_is_one_sentence_and_exit_code_2(name, capsys):
    words, said = MISUSES[name]
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("breakangle: ")
    assert err.count("\n") == 1
    assert said in err


def test_an_interrupt_is_quiet(capsys, monkeypatch, example):
    def interrupted(service: object) -> None:
        del service
        raise KeyboardInterrupt

    monkeypatch.setattr("breakangle.services.service_files.predict.predict_service", interrupted)
    assert main(["predict", example]) == 130
    assert capsys.readouterr().err == ""


STRAY = """
import os, sys
from breakangle.cli.stdout import keep_stdout_clean
keep_stdout_clean()
print("before")
os.write(1, b"a line from compiled code\\n")
os.system("echo from a child")
print("after", "\\u2212")
"""


def test_what_compiled_code_prints_by_itself_does_not_reach_the_answer():
    done = subprocess.run([sys.executable, "-c", STRAY], capture_output=True, text=True, check=True)
    assert done.stdout == "before\nafter −\n"


def test_a_closed_standard_output_is_no_fault(example):
    command = " ".join([*COMMAND, "check", example, ">&-"])
    done = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=False)
    assert "Traceback" not in done.stderr


def test_a_full_disk_behind_the_pipe_is_no_traceback(example):
    command = " ".join([*COMMAND, "plan", example, "> /dev/full"])
    done = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert "Traceback" not in done.stderr
