"""Where files lie: at most twenty in a folder, and each verb in a file of its own name."""

import argparse
import importlib
import subprocess
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest

from house.source_rules import PACKAGE, ROOT

MOST_FILES = 20
VERBS = [path for path in sorted((PACKAGE / "cli" / "verbs").glob("*/*.py")) if path.stem != "__init__"]
# Rows of data, pictures, styles, generated pages and migrations are not counted.
COUNTED = {".py", ".html", ".js", ".mjs", ".typ", ".c", ".h"}
LEFT_OUT = {"node_modules", "static", "__pycache__", ".venv", "migrations"}


def crowded(places: Iterable[str]) -> dict[str, int]:
    """Return the folders that hold more files of code than they may, with how many."""
    paths = [Path(place) for place in places]
    counts = Counter(
        str(path.parent) for path in paths if path.suffix in COUNTED and not LEFT_OUT & set(path.parts)
    )
    return {folder: count for folder, count in counts.items() if count > MOST_FILES}


def places() -> list[str]:
    found = [path for room in ("src", "tests", "tools") for path in (ROOT / room).rglob("*")]
    return [str(path.relative_to(ROOT)) for path in found]


def test_no_folder_is_crowded():
    assert len(places()) > 500
    assert crowded(places()) == {}


def test_a_planted_crowd_is_seen_and_what_is_no_code_is_not_counted():
    full = [f"src/breakangle/planted/part_{number}.py" for number in range(MOST_FILES)]
    assert crowded(full) == {}
    assert crowded([*full, "src/breakangle/planted/page.html"]) == {"src/breakangle/planted": 21}
    assert crowded([*full, "src/breakangle/planted/wood.toml", "src/breakangle/planted/inner/cut.py"]) == {}
    assert crowded(f"src/breakangle/migrations/versions/v{number}.py" for number in range(40)) == {}


def verbs_of(module: object) -> list[str]:
    """Return the verbs that a module adds."""
    verbs = argparse.ArgumentParser().add_subparsers()
    module.add(verbs)  # type: ignore[attr-defined]
    return list(verbs.choices)


@pytest.mark.parametrize("path", VERBS, ids=lambda path: path.stem)
def test_a_verb_stands_alone_in_a_file_of_its_name(path: Path):
    module = importlib.import_module(f"breakangle.cli.verbs.{path.parent.name}.{path.stem}")
    assert verbs_of(module) == [path.stem.replace("_", "-")]


def test_there_are_as_many_verb_files_as_verbs():
    assert len(VERBS) > 50
    assert len({path.stem for path in VERBS}) == len(VERBS)


AT_THE_TOP = {
    ".gitignore", "CHANGELOG.md", "CONTRIBUTING.md", "LICENSE", "Makefile", "README.md",
    "hatch_build.py", "pyproject.toml",
}  # fmt: skip


def strays(tracked: list[str]) -> list[str]:
    """Return what is tracked and belongs nowhere: files beside the project's own at the top, and packages."""
    return [
        path
        for path in tracked
        if ("/" not in path and path not in AT_THE_TOP) or path.endswith((".whl", ".tar.gz", ".so"))
    ]


def test_nothing_is_tracked_that_a_trial_left_behind():
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    tracked = done.stdout.splitlines()
    assert len(tracked) > 500
    assert strays(tracked) == []
    assert strays(["README.md", "src/a.py", "left.pdf", "tools/b.whl"]) == ["left.pdf", "tools/b.whl"]
