"""The house's rules of source text. Each rule takes a file and returns what in it breaks the rule, by name and line."""

import ast
import re
from collections.abc import Callable, Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "breakangle"
MOST_FILE_LINES, MOST_FUNCTION_LINES = 300, 40
Function = ast.FunctionDef | ast.AsyncFunctionDef


class Source(NamedTuple):
    """A file of source text: its place from the project's root, its text, and its syntax tree where it is Python."""

    place: str
    text: str
    tree: ast.Module


Rule = Callable[[Source], list[str]]


def source(place: str, text: str) -> Source:
    """Return a source file of the text, parsed where its place ends in `.py`."""
    return Source(place, text, ast.parse(text) if place.endswith(".py") else ast.Module([], []))


def functions(file: Source) -> list[Function]:
    return [node for node in ast.walk(file.tree) if isinstance(node, Function)]


def code_lines(node: Function) -> int:
    """Return a function's lines, those of its docstring not counted."""
    lines = (node.end_lineno or node.lineno) - node.lineno + 1
    if ast.get_docstring(node) is not None:
        docstring = node.body[0]
        lines -= (docstring.end_lineno or docstring.lineno) - docstring.lineno + 1
    return lines


def a_file_has_at_most_300_lines(file: Source) -> list[str]:
    lines = len(file.text.splitlines())
    return [f"{lines} lines"] if lines > MOST_FILE_LINES else []


def a_function_has_at_most_40_lines(file: Source) -> list[str]:
    return [
        f"{node.name}: {code_lines(node)} lines"
        for node in functions(file)
        if code_lines(node) > MOST_FUNCTION_LINES
    ]


def a_module_is_documented(file: Source) -> list[str]:
    return [] if ast.get_docstring(file.tree) or not file.tree.body else ["the module"]


def everything_public_is_documented(file: Source) -> list[str]:
    owners = [file.tree, *[node for node in file.tree.body if isinstance(node, ast.ClassDef)]]
    public = [
        node
        for owner in owners
        for node in owner.body
        if isinstance(node, Function | ast.ClassDef) and not node.name.startswith("_")
    ]
    return [node.name for node in public if not ast.get_docstring(node)]


PHYSICS = "src/breakangle/physics/"
UNITS = (
    *(
        "mm",
        "mm2",
        "mm3",
        "mm4",
        "m",
        "n",
        "n_per_mm",
        "n_mm2",
        "mpa",
        "g_per_m",
        "kg_per_m3",
        "kg",
        "kg_per_s",
    ),
    *(
        "s_per_kg",
        "hz",
        "s",
        "ms",
        "cents",
        "c",
        "percent",
        "turns",
        "degrees",
        "db",
        "cents_per_mm",
        "mm_per_n",
        "kohm",
        "h",
        "f",
        "years",
    ),
    *("mm_per_turn", "per_k", "hz_per_mm", "n_per_mm2", "radians", "ratio", "share", "count", "exponent"),
)
# Whole words that say what they are: places and numbers of things, and a share between two ways.
PLAIN = {
    "values",
    "fret",
    "frets",
    "string",
    "strings",
    "left",
    "right",
    "harmonic",
    "partial",
    "mode",
    "clamped_ends",
}
NUMBERS = {"float", "Array", "Values", "ArrayLike", "npt.ArrayLike", "Floats"}


def public_functions(tree: ast.Module) -> Iterator[tuple[str, Function]]:
    """Yield the public functions of a file and of its classes, each with its name as it is called."""
    owners = [tree, *[node for node in tree.body if isinstance(node, ast.ClassDef)]]
    for owner in owners:
        before = f"{owner.name}." if isinstance(owner, ast.ClassDef) else ""
        for node in owner.body:
            if isinstance(node, Function) and not node.name.startswith("_"):
                yield before + node.name, node


def physics_names_its_source(file: Source) -> list[str]:
    """Every public function of the physics says where its formula is from."""
    found = public_functions(file.tree) if file.place.startswith(PHYSICS) else ()
    return [name for name, node in found if "Source:" not in (ast.get_docstring(node) or "")]


def physics_arguments_carry_units(file: Source) -> list[str]:
    """Every number that a public function of the physics takes has its unit in its name."""
    bare = []
    for name, node in public_functions(file.tree) if file.place.startswith(PHYSICS) else ():
        for one in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs):
            number = one.annotation is not None and ast.unparse(one.annotation) in NUMBERS
            if (
                number
                and one.arg not in PLAIN
                and not any(f"_{one.arg}".endswith(f"_{unit}") for unit in UNITS)
            ):
                bare.append(f"{name}({one.arg})")
    return bare


def a_docstring_starts_with_a_sentence(file: Source) -> list[str]:
    odd = []
    for node in functions(file):
        docstring = ast.get_docstring(node)
        if docstring and not node.name.startswith("_"):
            first = docstring.split("\n\n")[0].split("\nArgs:")[0].split("\nSource:")[0].rstrip()
            odd += [] if first.endswith((".", ":")) else [node.name]
    return odd


BARE_ERRORS = {"ValueError", "Exception", "RuntimeError", "KeyError", "TypeError"}


def no_bare_error_is_raised_at_people(file: Source) -> list[str]:
    raised = []
    for node in ast.walk(file.tree):
        error = node.exc if isinstance(node, ast.Raise) else None
        named = error.func if isinstance(error, ast.Call) else error
        if isinstance(named, ast.Name) and named.id in BARE_ERRORS:
            raised.append(f"line {node.lineno}: {named.id}")
    return raised


PARSER = "src/breakangle/model/typed_number.py"
# Double quotes are code; single ones stand inside a sentence that shows how to write it.
OWN_PARSER = re.compile(r"""replace\(",", "\."\)|[ (]type=(?:float|int)\b""")


def typed_numbers_have_one_parser(file: Source) -> list[str]:
    """Commas become points, and options become numbers, in one place only."""
    typed = file.place.endswith(".py") and file.place != PARSER
    lines = enumerate(file.text.splitlines(), 1) if typed else ()
    return [f"line {number}" for number, line in lines if OWN_PARSER.search(line)]


EMPTY_WORDS = re.compile(r"manager|handler|helper|utils?(?![a-z])|misc", re.IGNORECASE)


def names_are_words_of_the_trade(file: Source) -> list[str]:
    names = [Path(file.place).stem] + [
        node.name for node in ast.walk(file.tree) if isinstance(node, Function | ast.ClassDef)
    ]
    return [name for name in names if EMPTY_WORDS.search(name)]


# Built from parts, so that this file does not name them either.
MACHINE = re.compile("|".join(("/" + "work/", "/" + "root/", "site-" + "packages/", "/home/" + "[a-z]")))


def no_text_names_a_machines_own_folders(file: Source) -> list[str]:
    return MACHINE.findall(file.text)


def module_name(place: str) -> str:
    """Return the dotted name of a package file from its place, such as `src/breakangle/cli/main.py`."""
    parts = Path(place).with_suffix("").parts
    parts = parts[parts.index("breakangle") :]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(file: Source, modules: set[str]) -> Iterator[str]:
    """Yield every module of the package that the file imports, at its top or inside a function."""
    for node in ast.walk(file.tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            for name in node.names:
                submodule = f"{node.module}.{name.name}"
                yield from {submodule if submodule in modules else node.module} & modules
        elif isinstance(node, ast.Import):
            yield from {name.name for name in node.names} & modules


def import_graph(files: list[Source]) -> Mapping[str, set[str]]:
    """Return what each module of the package imports."""
    modules = {module_name(file.place) for file in files}
    return {
        name: set(imported(file, modules)) - {name} for file in files for name in [module_name(file.place)]
    }


def import_cycle(files: list[Source]) -> list[str]:
    """Return the modules of one cycle of imports, empty where there is none."""
    try:
        TopologicalSorter(import_graph(files)).prepare()
    except CycleError as cycle:
        return list(cycle.args[1])
    return []


def fixture_names(file: Source) -> list[str]:
    """Return the names of the fixtures that a file makes."""
    marked = [(node.name, ast.unparse(mark)) for node in functions(file) for mark in node.decorator_list]
    return [name for name, mark in marked if mark.startswith("pytest.fixture")]


def repeated(names: list[str]) -> list[str]:
    """Return the names that stand more than once."""
    return sorted({name for name in names if names.count(name) > 1})
