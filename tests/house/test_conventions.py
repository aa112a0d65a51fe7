"""The house's conventions, held by reading the source, and each proved by a planted file that breaks it."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import bench.minutes
from house import source_rules
from house.source_rules import ROOT, Rule, Source, fixture_names, import_cycle, repeated


def read(path: Path) -> Source:
    return source_rules.source(str(path.relative_to(ROOT)), path.read_text(encoding="utf-8"))


def read_all(*patterns: str, endings: tuple[str, ...] = (".py",)) -> list[Source]:
    paths = [path for pattern in patterns for path in sorted(ROOT.glob(pattern)) if path.is_file()]
    kept = [path for path in paths if not {"node_modules", "static", ".venv"} & set(path.parts)]
    return [read(path) for path in kept if path.suffix in endings or path.name == "Makefile"]


PACKAGED = read_all("src/breakangle/**/*")
CODE = [*PACKAGED, *read_all("tools/**/*", "bench/**/*")]
TESTS = read_all("tests/**/*")
TEXTS = read_all(
    *("src/**/*", "tests/**/*", "docs/**/*", "tools/*", "bench/**/*", "*.md", "Makefile", "*.toml", "*.py"),
    endings=(".py", ".md", ".toml", ".json", ".c", ".h", ".svg", ".txt", ".cfg", ".js", ".html", ".css"),
)
LONG_FUNCTION = "def spoken():\n" + '    """Say it."""\n' + "    pass\n" * 40
MACHINE_PATH = "/" + "root/notes"
# Each rule, the files it holds for, a text that breaks it and its smallest repair.
RULES: dict[str, tuple[Rule, list[Source], str, str]] = {
    "file lines": (
        source_rules.a_file_has_at_most_300_lines,
        [*CODE, *TESTS],
        "pass\n" * 301,
        "pass\n" * 300,
    ),
    "function lines": (
        source_rules.a_function_has_at_most_40_lines,
        [*CODE, *TESTS],
        LONG_FUNCTION,
        LONG_FUNCTION.removesuffix("    pass\n"),
    ),
    "module documented": (source_rules.a_module_is_documented, CODE, "A = 1\n", '"""A."""\nA = 1\n'),
    "public documented": (
        source_rules.everything_public_is_documented,
        PACKAGED,
        'class Saddle:\n    """Held."""\n\n    def cut(self): ...\n',
        'class Saddle:\n    """Held."""\n\n    def _cut(self): ...\n',
    ),
    "docstring a sentence": (
        source_rules.a_docstring_starts_with_a_sentence,
        PACKAGED,
        'def cut():\n    """Cut it\n\n    Args: none.\n    """\n',
        'def cut():\n    """Cut it.\n\n    Args: none.\n    """\n',
    ),
    "no bare error": (
        source_rules.no_bare_error_is_raised_at_people,
        PACKAGED,
        "def cut():\n    raise ValueError('deep')\n",
        "def cut():\n    raise CutError('deep')\n",
    ),
    "physics names its source": (
        source_rules.physics_names_its_source,
        PACKAGED,
        'def pull_n(*, mass_g_per_m):\n    """Pull in N."""\n',
        'def pull_n(*, mass_g_per_m):\n    """Pull in N.\n\n    Source: Mersenne (1636).\n    """\n',
    ),
    "physics carries units": (
        source_rules.physics_arguments_carry_units,
        PACKAGED,
        "def pull_n(*, mass: ArrayLike): ...\n",
        "def pull_n(*, mass_g_per_m: ArrayLike): ...\n",
    ),
    "one number parser": (
        source_rules.typed_numbers_have_one_parser,
        PACKAGED,
        'share = float(text.replace(",", "."))\n',
        "share = number_within(text, 0.0, 1.0)\n",
    ),
    "trade names": (
        source_rules.names_are_words_of_the_trade,
        PACKAGED,
        "class SaddleManager: ...\n",
        "class Saddle: ...\n",
    ),
    "no machine folder": (
        source_rules.no_text_names_a_machines_own_folders,
        TEXTS,
        f'PLACE = "{MACHINE_PATH}"\n',
        'PLACE = "notes"\n',
    ),
}


@pytest.mark.parametrize("name", RULES)
def test_every_file_keeps_the_rule(name: str):
    rule, files, _, _ = RULES[name]
    assert len(files) > 100
    broken = {file.place: breaches for file in files if (breaches := rule(file))}
    assert broken == {}


@pytest.mark.parametrize("name", RULES)
def test_a_planted_breach_is_seen_and_its_repair_passes(name: str):
    rule, _, breach, repair = RULES[name]
    room = "physics/" if name.startswith("physics") else ""
    assert rule(source_rules.source(f"src/breakangle/{room}planted.py", breach)) != []
    assert rule(source_rules.source(f"src/breakangle/{room}planted.py", repair)) == []


def test_no_import_goes_in_a_circle():
    """Imports inside functions count too: a circle is one whenever it closes."""
    assert sum(map(len, source_rules.import_graph(PACKAGED).values())) > 3000
    assert import_cycle(PACKAGED) == []


@pytest.mark.parametrize(
    "back",
    [
        "from breakangle.planted.first import cut",
        "from breakangle.planted import first",
        "import breakangle.planted.first",
        "def cut():\n    from breakangle.planted import first\n",
    ],
)
def test_a_planted_circle_of_imports_is_seen(back: str):
    planted = [
        source_rules.source("src/breakangle/planted/first.py", "from breakangle.planted.second import file"),
        source_rules.source("src/breakangle/planted/second.py", back),
    ]
    assert set(import_cycle(planted)) == {"breakangle.planted.first", "breakangle.planted.second"}
    assert import_cycle(planted[:1]) == []


PLANTED_IMPORTS = {
    "physics": "planning",
    "services.visits": "services.intake",
    "planning.state": "planning.solve",
    "listening.pitch": "listening.naming",
}


def test_rooms_know_only_inner_rooms(tmp_path: Path):
    """The layers of `pyproject.toml` refuse a planted import of an outer room or folder by an inner one."""
    package = tmp_path / "breakangle"
    for found in PACKAGED:
        empty = tmp_path / Path(found.place).relative_to("src")
        empty.parent.mkdir(parents=True, exist_ok=True)
        empty.touch()
    (tmp_path / "pyproject.toml").write_bytes((ROOT / "pyproject.toml").read_bytes())

    def refusal() -> str:
        checked = subprocess.run(
            [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
            cwd=tmp_path,
            env={"PYTHONPATH": str(tmp_path)},
            capture_output=True,
            text=True,
            check=False,
        )
        return checked.stdout + checked.stderr if checked.returncode else ""

    assert refusal() == ""
    for inner, outer in PLANTED_IMPORTS.items():
        planted = package.joinpath(*inner.split("."), "planted.py")
        planted.write_text(f"import breakangle.{outer}\n")
        assert f"breakangle.{inner} is not allowed to import breakangle.{outer}" in refusal()
        planted.unlink()


def test_test_files_have_names_of_their_own():
    names = [Path(file.place).name for file in TESTS if Path(file.place).name.startswith("test_")]
    assert repeated(names) == []
    assert repeated(["test_cut.py", "test_nut.py", "test_cut.py"]) == ["test_cut.py"]


def test_no_two_shared_fixtures_have_one_name():
    """Those of a `*_fixtures` folder are everybody's once any test has asked for it: one would stand for the other."""
    shared = [file for file in TESTS if Path(file.place).parent.name.endswith("_fixtures")]
    names = [name for file in shared for name in fixture_names(file)]
    assert len(names) > 10
    assert repeated(names) == []


def test_every_bench_that_reports_can_be_told_only_to_be_quick():
    reports = {
        path.stem: one.args
        for path in sorted((ROOT / "bench").glob("[!_]*.py"))
        for one in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(one, ast.FunctionDef) and one.name == "report"
    }
    assert len(reports) > 10
    for name, given in reports.items():
        names = [one.arg for one in (*given.args, *given.kwonlyargs)]
        needed = {
            *names[: len(given.args) - len(given.defaults)],
            *(
                one.arg
                for one, usual in zip(given.kwonlyargs, given.kw_defaults, strict=True)
                if usual is None
            ),
        }
        assert "quick" in names, name
        assert needed <= {"quick"}, name


def test_the_minutes_are_counted_of_fewer_where_it_must_be_quick(monkeypatch):
    seeds = list[int]()
    monkeypatch.setattr(bench.minutes, "spent", lambda kind, seed: seeds.append(seed))
    assert bench.minutes.report(quick=True).startswith("electric-guitar: none")
    assert seeds == [0, 1, 2, 3]
