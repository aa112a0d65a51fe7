"""The Python library: its names are pinned, loaded when asked for, documented with shapes, units, errors and sources.

The worked examples of `docs/python.md` run as they stand; what a program outside may write is type-checked in
`tests/outside_use.py`.
"""

import doctest
import inspect
import re
import subprocess
import sys
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest

import breakangle

ROOT = Path(__file__).parents[2]
FUNCTIONS = (
    "add_readings", "buzz", "copy_kind", "estimate", "example_service", "listen", "lowest", "plan", "predict",
    "read_service", "write_service",
)  # fmt: skip
RESULTS = ("BuzzMap", "LowestSetup", "Prediction", "State", "Takes")
NOUNS = ("BreakangleError", "Instrument", "Plan", "Reading", "Service")


def undocumented(name: str, found: object) -> list[str]:
    """Return what a public name's docstring lacks."""
    told = inspect.getdoc(found) or ""
    lacks = [] if told else ["docstring"]
    if inspect.isfunction(found):
        lacks += [part for part in ("Args:", "Raises:", "Source:") if part not in told]
        lacks += [each for each in inspect.signature(found).parameters if f"{each}:" not in told]
    if is_dataclass(found):
        lacks += [one.name for one in fields(found) if f"{one.name}:" not in told]
        lacks += [word for word in ("shape",) if name in RESULTS and word not in told]
    return lacks


def test_the_public_names_are_these():
    """Whoever changes this list changes what other programs rest on: say so in CHANGELOG."""
    assert sorted(breakangle.__all__) == sorted([*FUNCTIONS, *RESULTS, *NOUNS, "__version__"])
    assert dir(breakangle) == breakangle.__all__
    assert (ROOT / "src" / "breakangle" / "py.typed").exists()


@pytest.mark.parametrize("name", [*FUNCTIONS, *RESULTS, *NOUNS])
def test_a_public_name_is_documented(name: str):
    found = getattr(breakangle, name)
    assert undocumented(name, found) == []
    for _, method in inspect.getmembers(found, inspect.isfunction) if name in RESULTS else ():
        assert inspect.getdoc(method) or method.__name__.startswith("_"), method.__name__
    assert f"## {name}\n" in (ROOT / "docs" / "reference" / "python.md").read_text(encoding="utf-8")


def test_a_name_without_its_documentation_is_found():
    def bare(service, strength):
        """Return something."""

    assert undocumented("bare", bare) == ["Args:", "Raises:", "Source:", "service", "strength"]


def test_a_name_that_is_not_public_is_refused():
    with pytest.raises(AttributeError, match="no attribute 'plan_service'"):
        breakangle.plan_service  # noqa: B018


def loaded_by(code: str) -> set[str]:
    """Return the modules that a fresh process has loaded after some code."""
    asked = f"import sys; before = set(sys.modules); {code}; print(*(set(sys.modules) - before))"
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_importing_the_package_loads_nothing_heavy():
    """Seconds are measured in `bench/start_up.py`; that nothing is loaded holds on any machine."""
    assert {one for one in loaded_by("import breakangle") if not one.startswith("breakangle")} == set()
    loaded = loaded_by("from breakangle.cli.main import main; main(['--help'])".replace("; main", "; import io, "
                       "contextlib\nwith contextlib.redirect_stdout(io.StringIO()): main"))  # fmt: skip
    assert {"numpy", "pydantic", "rich", "scipy", "sqlalchemy", "fastapi"} & loaded == set()


def test_a_plan_loads_no_more_than_it_needs():
    loaded = loaded_by("import breakangle as ba; ba.plan(ba.example_service())")
    assert {"numpy", "pydantic"} <= loaded
    assert {"scipy", "sqlalchemy", "fastapi", "jinja2", "soundfile", "babel", "pandas"} & loaded == set()


def test_a_kept_name_is_the_same_at_every_look():
    assert breakangle.plan is breakangle.plan
    assert breakangle.Plan.__module__ == "breakangle.model.plan"


BLOCK = re.compile(r"```python\n(.*?)```", re.DOTALL)


def failures(text: str) -> int:
    """Return how many examples of a page are not answered as it says."""
    names: dict[str, object] = {}
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    for place, block in enumerate(BLOCK.findall(text)):
        test = doctest.DocTestParser().get_doctest(block, names, f"block {place}", "python.md", 0)
        runner.run(test, clear_globs=False)
        names = test.globs
    return runner.failures + (runner.tries < 1)


def test_the_worked_examples_are_answered_as_the_page_says(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    assert len(BLOCK.findall(page)) >= 9
    assert failures(page) == 0


@pytest.mark.parametrize("page", ["```python\n>>> 1 + 1\n3\n\n```", "no example at all"])
def test_an_example_that_is_wrong_is_noticed(page, capsys):
    assert failures(page) == 1
    capsys.readouterr()


def test_the_examples_show_every_public_name():
    """But the classes, which a person meets as what functions return."""
    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    assert [name for name in FUNCTIONS if f"ba.{name}(" not in page] == []


def test_the_package_runs_as_a_command():
    done = subprocess.run(
        [sys.executable, "-m", "breakangle", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == f"breakangle {breakangle.__version__}"
