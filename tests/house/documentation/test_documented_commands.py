"""The commands that the README and the docs show are run as they stand, in their order, in a folder of their own.

Left out are only those that do not end (`serve`), which are run elsewhere. Files that a page takes for granted lie
there: a service file, recordings, a logo, a shop with two visits. `FILE`, `KIND` and `ENTRY` stand for what a person
puts there.
"""

import ast
import re
import shlex
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from breakangle.cli.main import main
from breakangle.reference.families import family
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.kinds.boxes import boxes_of
from breakangle.services.service_files.kinds.copied import table_of
from documented_commands import PAGES, commands
from listening_fixtures.dozen import RATE_HZ, dozen
from listening_fixtures.forms import write_forms
from listening_fixtures.plucks import Pluck, render

pytest_plugins = ["network_fixtures.closed"]

ROOT = Path(__file__).parents[3]
# What a page says exits with 1: something touches, it cannot come down, a measured print is not true.
MAY_END_WITH_1 = ("buzz", "lowest", "plan", "settle", "template", "frets")


def files_taken_for_granted(folder: Path) -> None:
    for name in ("service.json", "heron.json", "now.json", "first-visit.json"):
        (folder / name).write_text(example_text(), encoding="utf-8")
    for place, count in (("services", 0), ("line", 20)):  # a line is charted from twenty instruments on
        (folder / place).mkdir()
        for number in range(count):
            (folder / place / f"serial {number:02d}.json").write_text(example_text(), encoding="utf-8")
    step = '[[steps]]\nid = "wipe"\ndo = "Wipe it."\nwhy = "Sweat eats it."\ndangers = []\n'
    (folder / "wipe.toml").write_text(
        f'name = "wipe"\ntitle = "Wipe"\npurpose = "Dry."\n{step}', encoding="utf-8"
    )
    (folder / "bass.json").write_text(example_text("bass-four"), encoding="utf-8")
    shutil.copy(ROOT / "docs" / "screens" / "paper.png", folder / "logo.png")
    for name, loud in (("a.wav", 0.1), ("b.wav", 0.2), ("heavy.wav", 0.4)):
        time = np.arange(48_000) / 48_000
        tone = loud * np.exp(-3.0 * time) * np.sin(2.0 * np.pi * 110.0 * time)
        soundfile.write(folder / name, tone, 48_000, subtype="FLOAT")
    shutil.move(folder / "heavy.wav", folder / "c.wav")
    soundfile.write(folder / "dozen.wav", dozen(), RATE_HZ, subtype="PCM_24")
    strings = boxes_of(table_of(family("mandolin")))["strings"]
    (folder / "strings.txt").write_text(strings, encoding="utf-8")
    write_forms(folder)
    for name in ("off.wav", "on.wav"):  # a hand off and on the strings
        shutil.copy(folder / "pause.wav", folder / name)
    note = Pluck(partial_one_hz=110.0, silence_s=0.5)
    for name in ("take.wav", "strings.wav"):
        soundfile.write(folder / name, render(replace(note), 1), note.rate_hz, subtype="FLOAT")


def test_every_page_with_commands_is_seen():
    seen = {page.name: len(commands(page)) for page in PAGES}
    assert seen["README.md"] >= 14
    assert (
        min(seen[name] for name in ("contact.md", "listening.md", "paper.md", "records.md", "routine.md"))
        >= 2
    )


@pytest.mark.parametrize("page", [page for page in PAGES if commands(page)], ids=lambda page: page.name)
@pytest.mark.usefixtures("closed_network")
def test_the_commands_of_a_page_run(page, tmp_path, monkeypatch, capsys):
    """They also connect nowhere: the rest of the verbs is in tests/faults/server/test_no_outside_connection.py."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "shop"))
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    files_taken_for_granted(tmp_path)
    if page.name not in ("README.md", "records.md"):
        for file in ("service.json", "bass.json"):
            assert main(["take-in", file, "--owner", "Åse Holm", "--whose", "same"]) == 0
    capsys.readouterr()
    entry = ""
    for line in commands(page):
        command, _, target = line.partition(" > ")
        command = command.replace("--check FILE", "--check wipe.toml")
        words = [filled(word, entry) for word in shlex.split(command)[1:]]
        code = main(words)
        out, err = capsys.readouterr()
        allowed = (0, 1) if words[0] in MAY_END_WITH_1 else (0,)
        assert code in allowed, f"{line}: {err}"
        assert err == "" or "breakangle:" not in err, f"{line}: {err}"
        if target:
            (tmp_path / target.strip()).write_text(out, encoding="utf-8")
        if words[0] in ("read", "correct"):
            # What is corrected is the reading; what is then undone is what stands in its place.
            entry = re.findall(r"\b01[0-9a-z]{18}\b", out)[-1]


def filled(word: str, entry: str) -> str:
    stands_for = {"FILE": "service.json", "KIND": "bass-four", "ENTRY": entry, "strings.m4a": "strings.wav"}
    return stands_for.get(word, word)


def test_a_command_that_is_wrong_is_noticed(tmp_path):
    page = tmp_path / "page.md"
    page.write_text(
        "Say `breakangle climate FILE`.\n\n```sh\nbreakangle plan FILE --no-such\n```\n", encoding="utf-8"
    )
    assert commands(page) == ["breakangle climate FILE", "breakangle plan FILE --no-such"]
    assert [main([filled(word, "") for word in line.split()[1:]]) for line in commands(page)] == [2, 2]


def test_the_kernel_is_as_long_as_its_decision_says():
    text = (ROOT / "docs" / "decisions" / "0004-contact.md").read_text(encoding="utf-8")
    (said,) = re.findall(r"about (\d+) lines of plain C", text)
    folder = ROOT / "src" / "breakangle" / "physics" / "contact"
    lines = sum(len((folder / name).read_text().splitlines()) for name in ("kernel.c", "kernel_body.h"))
    assert abs(lines / int(said) - 1.0) < 0.05


def ends_with_1(text: str) -> bool:
    """Return whether a verb's module returns 1 anywhere, as a number or by a name for it."""
    tree = ast.parse(text)
    named = {
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant) and node.value.value == 1
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    returned = [node.value for node in ast.walk(tree) if isinstance(node, ast.Return)]
    values = [
        part for one in returned for part in ([one.body, one.orelse] if isinstance(one, ast.IfExp) else [one])
    ]
    return any(
        (isinstance(one, ast.Constant) and one.value == 1) or (isinstance(one, ast.Name) and one.id in named)
        for one in values
    )


def test_every_verb_that_ends_with_1_is_in_the_table_of_exit_codes():
    verbs = ROOT / "src" / "breakangle" / "cli" / "verbs"
    found = {
        path.stem.replace("_", "-")
        for path in verbs.rglob("*.py")
        if ends_with_1(path.read_text(encoding="utf-8"))
    }
    text = (ROOT / "docs" / "command-line.md").read_text(encoding="utf-8")
    (row,) = [line for line in text.splitlines() if line.startswith("| 1 |")]
    assert len(found) > 8
    assert {name for name in found - {"plan"} if f"`{name}" not in row} == set()
    assert "beyond a set-up" in row
    # As their modules say it: what is heard, not what touches.
    assert "`buzz`, something is heard" in row


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("NOT = 1\ndef run():\n    return 0 if x else NOT\n", True),
        ("def run():\n    return 1\n", True),
        ("MOST = 1\ndef run():\n    return 0\n", False),
    ],
)
def test_the_search_for_verbs_that_end_with_1(text, ends):
    assert ends_with_1(text) == ends


def test_a_finest_amount_keeps_its_digits():
    """A sixteenth of a turn is 0.0625, not 0.06."""
    page = (ROOT / "docs" / "reference" / "adjustments.md").read_text(encoding="utf-8")
    assert "0.0625 turns" in page
    assert "0.06 turns" not in page
