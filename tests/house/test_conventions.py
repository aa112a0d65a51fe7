"""The house's conventions, held by reading the source: sizes, names, docstrings, errors, imports."""

import ast
import re
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "breakangle"
SOURCE = sorted(PACKAGE.rglob("*.py"))
PYTHON = [*SOURCE, *sorted((ROOT / "tools").rglob("*.py")), *sorted((ROOT / "bench").rglob("*.py"))]
TESTS = sorted((ROOT / "tests").rglob("*.py"))
MOST_FILE_LINES, MOST_FUNCTION_LINES = 300, 40
Function = ast.FunctionDef | ast.AsyncFunctionDef
TREES = {path: ast.parse(path.read_text(encoding="utf-8")) for path in [*PYTHON, *TESTS]}


def place(path: Path) -> str:
    return str(path.relative_to(ROOT))


def functions(path: Path) -> list[Function]:
    return [
        node for node in ast.walk(TREES[path]) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]


def code_lines(node: Function) -> int:
    """Return a function's lines, those of its docstring not counted."""
    lines = (node.end_lineno or node.lineno) - node.lineno + 1
    if ast.get_docstring(node) is not None:
        told = node.body[0]
        lines -= (told.end_lineno or told.lineno) - told.lineno + 1
    return lines


@pytest.mark.parametrize("path", [*PYTHON, *TESTS], ids=place)
def test_a_file_has_at_most_300_lines(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_FILE_LINES


@pytest.mark.parametrize("path", [*PYTHON, *TESTS], ids=place)
def test_a_function_has_at_most_40_lines(path):
    long = {node.name: code_lines(node) for node in functions(path) if code_lines(node) > MOST_FUNCTION_LINES}
    assert long == {}


@pytest.mark.parametrize("path", PYTHON, ids=place)
def test_everything_public_is_documented(path):
    """Of the tools and benchmarks the modules; of the package every class, function and method as well."""
    tree = TREES[path]
    missing = [] if ast.get_docstring(tree) or not tree.body else [place(path)]
    if path in SOURCE:
        for owner in [tree, *[node for node in tree.body if isinstance(node, ast.ClassDef)]]:
            for node in owner.body:
                public = isinstance(node, Function | ast.ClassDef) and not node.name.startswith("_")
                if public and not ast.get_docstring(node):
                    missing.append(node.name)
    assert missing == []


@pytest.mark.parametrize("path", SOURCE, ids=place)
def test_a_docstring_starts_with_a_sentence(path):
    odd = []
    for node in functions(path):
        told = ast.get_docstring(node)
        first = told.split("\n\n")[0].split("\nArgs:")[0].split("\nSource:")[0].rstrip() if told else "."
        if not node.name.startswith("_") and not first.endswith((".", ":")):
            odd.append(node.name)
    assert odd == []


def raised(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(TREES[path]):
        if (
            isinstance(node, ast.Raise)
            and isinstance(node.exc, ast.Call)
            and isinstance(node.exc.func, ast.Name)
        ):
            found.add(node.exc.func.id)
    return found


@pytest.mark.parametrize("path", SOURCE, ids=place)
def test_no_bare_error_is_raised_at_people(path):
    assert raised(path) & {"ValueError", "Exception", "RuntimeError", "KeyError", "TypeError"} == set()


EMPTY_WORDS = re.compile(r"manager|handler|helper|utils?(?![a-z])|misc", re.IGNORECASE)


@pytest.mark.parametrize("path", SOURCE, ids=place)
def test_names_are_words_of_the_trade(path):
    names = [path.stem] + [
        node.name for node in ast.walk(TREES[path]) if isinstance(node, Function | ast.ClassDef)
    ]
    assert [name for name in names if EMPTY_WORDS.search(name)] == []


def module_name(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def test_no_import_cycle():
    """Of imports at the top of modules: those inside functions happen when all modules are complete."""
    known = {module_name(path) for path in SOURCE}
    graph: dict[str, set[str]] = {}
    for path in SOURCE:
        needs: set[str] = set()
        for node in TREES[path].body:
            if isinstance(node, ast.ImportFrom) and node.module:
                needs |= {f"{node.module}.{one.name}" for one in node.names} & known
                needs |= {node.module} & known if not needs else set()
            elif isinstance(node, ast.Import):
                needs |= {one.name for one in node.names} & known
        graph[module_name(path)] = needs - {module_name(path)}
    try:
        order = list(TopologicalSorter(graph).static_order())
    except CycleError as cycle:
        pytest.fail(f"import cycle: {' -> '.join(cycle.args[1])}")
    assert len(order) >= len(known)


def test_test_files_have_names_of_their_own():
    names = [path.name for path in TESTS if path.name.startswith("test_")]
    assert sorted(names) == sorted(set(names))


TEXTS = [
    path
    for pattern in (
        "src/**/*",
        "tests/**/*",
        "docs/**/*",
        "tools/*",
        "bench/*",
        "*.md",
        "Makefile",
        "*.toml",
        "*.py",
    )
    for path in sorted(ROOT.glob(pattern))
    if not {"node_modules", "static"} & set(path.parts)
    and (
        path.suffix in (".py", ".md", ".toml", ".json", ".c", ".h", ".svg", ".txt", ".cfg")
        or path.name == "Makefile"
    )
]
# Built from parts, so that this file does not name them either.
MACHINE = re.compile("|".join(("/" + "work/", "/" + "root/", "site-" + "packages/", "/home/" + "[a-z]")))


@pytest.mark.parametrize("path", TEXTS, ids=place)
def test_no_text_names_a_machines_own_folders(path):
    assert MACHINE.findall(path.read_text(encoding="utf-8")) == []


def fixture_names(path: Path) -> list[str]:
    """Return the names of the fixtures that a file makes."""
    marked = [(node.name, ast.unparse(one)) for node in functions(path) for one in node.decorator_list]
    return [name for name, mark in marked if mark.startswith("pytest.fixture")]


def test_no_two_shared_fixtures_have_one_name():
    """Those of a `*_fixtures` folder are everybody's once any test has asked for it: one would stand for the other."""
    shared = [path for path in TESTS if path.parent.name.endswith("_fixtures")]
    names = [name for path in shared for name in fixture_names(path)]
    assert len(names) > 10
    assert sorted(names) == sorted(set(names))
