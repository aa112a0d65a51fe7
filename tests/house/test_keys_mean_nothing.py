"""No behaviour hangs on how a key of the tables is spelled: what is true of a row stands in its columns.

Read from the source: no code takes such a key apart, and none names one, but where a row of invented data or a default
that a person can change is meant. Planted violations of every sort are found.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from breakangle.reference.families import families
from breakangle.reference.rows import read_table
from breakangle.reference.strings import makes, wraps
from breakangle.reference.threads import threads
from breakangle.reference.woods import woods

PACKAGE = Path(__file__).parents[2] / "src" / "breakangle"
SOURCE = sorted(path for path in PACKAGE.rglob("*.py") if "node_modules" not in path.parts)
TEMPLATES = sorted(one for one in (PACKAGE / "web").rglob("*.html") if "node_modules" not in one.parts)
# Names and attributes that hold a key of a table, and what would take a text apart or look into it.
HOLDERS = {"kind", "make", "wrap", "family", "wood", "post", "material", "string_make", "make_key", "adjust"}
HOLDERS |= {"quantity", "procedure_name", "lever_key", "adjuster_key", "danger", "caution", "board_wood"}
TAKES_APART = {"startswith", "endswith", "removeprefix", "removesuffix", "partition", "rpartition", "split"}
TAKES_APART |= {"rsplit", "find", "index", "count", "replace", "title", "capitalize"}
PATTERNS = {"match", "search", "fullmatch", "sub", "split", "findall"}
KEYS = {*families(), *makes(), *wraps(), *woods(), *threads(), *read_table("materials/wire")}
# Where a key may be named, and why.
NAMED = {
    "services/example_workshop/people.py": "the invented workshop's instruments",
    "services/example_workshop/shelf.py": "the invented workshop's shelf",
    "cli/verbs/strings/packs.py": "what a size typed without a make is taken as, said in the verb's help",
}


def holds_key(node: ast.AST) -> bool:
    """Whether an expression is a key by its name: `x.kind`, `make`, `lever_key(x)`."""
    if isinstance(node, ast.Call):
        return holds_key(node.func)
    name = node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""
    return name in HOLDERS


def taken_apart(tree: ast.AST) -> Iterator[int]:
    """Yield the lines where a key is taken apart, or looked into; not where it is shown cut short."""
    shown = {one.value for one in ast.walk(tree) if isinstance(one, ast.FormattedValue)}
    said = [
        one for one in ast.walk(tree) if isinstance(one, ast.Call) and ast.unparse(one.func) in ("tr", "tr_n")
    ]
    shown |= {one.value for call in said for one in call.keywords}
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr in TAKES_APART and holds_key(node.func.value):
                yield node.lineno
            if node.func.attr in PATTERNS and any(holds_key(one) for one in node.args):
                yield node.lineno
        if isinstance(node, ast.Compare) and any(isinstance(one, ast.In | ast.NotIn) for one in node.ops):
            literal = isinstance(node.left, ast.Constant) and isinstance(node.left.value, str)
            if literal and any(holds_key(one) for one in node.comparators):
                yield node.lineno
        if node in shown:
            continue
        if isinstance(node, ast.Subscript) and holds_key(node.value) and isinstance(node.slice, ast.Slice):
            yield node.lineno


def keys_named(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Yield the lines that write a key of a table out."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value in KEYS:
            yield node.lineno, node.value


@pytest.mark.parametrize("path", SOURCE, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_code_reads_a_key_s_spelling(path: Path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert list(taken_apart(tree)) == []
    if str(path.relative_to(PACKAGE)) not in NAMED:
        assert list(keys_named(tree)) == []


@pytest.mark.parametrize("place", NAMED)
def test_every_place_that_may_name_a_key_does(place: str):
    """A permission that nobody needs any more is taken back."""
    assert list(keys_named(ast.parse((PACKAGE / place).read_text(encoding="utf-8")))) != []


IN_TEMPLATE = re.compile(r"\b(kind|make|wrap|wood|material)\s*(\|\s*replace|\.(startswith|endswith|split)\()")
QUOTED = re.compile(r"""(["'])([A-Za-z0-9.-]+)\1""")


def written_in(text: str) -> list[str]:
    """What a template does with the spelling of keys, and which of them it names."""
    return [found[0] for found in IN_TEMPLATE.findall(text)] + [
        name for _, name in QUOTED.findall(text) if name in KEYS
    ]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_no_template_reads_a_key_s_spelling(path: Path):
    assert written_in(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "planted",
    [
        'if instrument.kind.startswith("bass"): pass',
        'soft = "nylon" in one.make',
        "words = string.make.replace('-', ' ')",
        "core, _, rest = make.partition('-')",
        "if re.match('.*steel', string.make): pass",
        "if lever_key(lever).startswith(SLOTS): pass",
        "if kind[:4] == 'bass': pass",
        "HEADS = ('banjo-five', 'banjo-tenor')",
        "if instrument.kind == 'mandolin': pass",
        "match one.wrap:\n    case 'phosphor-bronze': pass",
        "LOUD = {'wound-steel': 1.0}",
    ],
)
def test_a_planted_reading_of_a_key_is_found(planted: str):
    tree = ast.parse(planted)
    assert [*taken_apart(tree), *keys_named(tree)] != []


@pytest.mark.parametrize(
    "planted",
    [
        "{{ s.make|replace('-', ' ') }}",
        '{% if one == "electric-guitar" %}',
        "{% if x.kind.startswith('b') %}",
    ],
)
def test_a_planted_reading_in_a_template_is_found(planted: str):
    assert written_in(planted) != []


@pytest.mark.parametrize("plain", ["found = rows[make]", "if kind not in known: pass", "say(make.title)"])
def test_looking_a_key_up_is_no_reading_of_it(plain: str):
    tree = ast.parse(plain)
    assert [*taken_apart(tree), *keys_named(tree)] == []
