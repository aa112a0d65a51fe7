"""Every numeric constant of a module in the inner rooms says where it is from, beside it.

A mark is one of: a source, "common practice", "calibrated by" a bench, "from memory", "derived", "exact" (a conversion
of units), "chosen" (how the computation goes; what it costs is measured elsewhere). It stands in a comment behind the
constant or right above it, in the words below it, or once at the head of a block of constants that no blank line
parts: "Where nothing else is said below: ...".
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import breakangle

PACKAGE = Path(breakangle.__file__).parent
ROOMS = ("physics", "listening", "planning", "reference", "procedures")
FILES = [path for room in ROOMS for path in sorted((PACKAGE / room).rglob("*.py"))]
# In the services only what is measured: names with a unit or a share of something in them, and not what bounds a page.
MEASURED = re.compile(r"_(MM|CENTS|N|HZ|DB|C|PERCENT|TURNS|RATIO|SHARE|SPREADS)\b|\bSURE\b|\bWORTH_SAYING\b")
SERVICES = sorted((PACKAGE / "services").rglob("*.py"))
MARK = re.compile(
    r"common practice|calibrated by|from memory|\bderived\b|\bexact\b|\bchosen\b|\bsources?:|no published source",
    re.IGNORECASE,
)
NAME = re.compile(r"_?[A-Z][A-Z0-9_]*")
HEAD = "Where nothing else is said below:"
BLOCK_LINE = re.compile(r"#|[ )\]}]|_?[A-Z][A-Z0-9_, ]*(:[^=]*)?=")


def is_numeric(value: ast.expr) -> bool:
    return any(
        isinstance(node, ast.Constant)
        and isinstance(node.value, int | float)
        and not isinstance(node.value, bool)
        for node in ast.walk(value)
    )


def constants(text: str) -> Iterator[tuple[str, ast.stmt, str]]:
    """Yield (names, statement, words under it) of every module constant that holds a number."""
    body = ast.parse(text).body
    for number, node in enumerate(body):
        if isinstance(node, ast.Assign) and len(node.targets) == 1:
            target: ast.expr = node.targets[0]
        elif isinstance(node, ast.AnnAssign) and node.value is not None:
            target = node.target
        else:
            continue
        names = [part.id for part in ast.walk(target) if isinstance(part, ast.Name)]
        value = node.value
        if names == ["KIND"] or not all(NAME.fullmatch(name) for name in names):
            continue
        if value is None or not is_numeric(value):
            continue
        after = body[number + 1] if number + 1 < len(body) else None
        words = ast.get_docstring(ast.Module([after], [])) if isinstance(after, ast.Expr) else None
        yield ", ".join(names), node, words or ""


def unmarked(text: str) -> list[str]:
    """Return the constants of a module that nothing says the origin of."""
    lines = text.splitlines()
    found = []
    for names, node, words in constants(text):
        first, last = node.lineno - 1, node.end_lineno or node.lineno
        beside = [words, *(line.split("#", 1)[1] for line in lines[first:last] if "#" in line)]
        above = first
        while above > 0 and lines[above - 1].startswith("#"):
            above -= 1
            beside.append(lines[above])
        head = above
        while head > 0 and BLOCK_LINE.match(lines[head - 1]):
            head -= 1
        heads = [line for line in lines[head:first] if HEAD in line]
        if not any(MARK.search(" ".join(one.split("#"))) for one in (*beside, *heads)):
            found.append(names)
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_every_constant_says_where_it_is_from(path):
    assert unmarked(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", SERVICES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_every_measured_constant_of_the_services_says_where_it_is_from(path):
    found = unmarked(path.read_text(encoding="utf-8"))
    assert [names for names in found if MEASURED.search(names)] == []


def test_measured_constants_are_seen_in_the_services():
    seen = {names for path in SERVICES for names, _, _ in constants(path.read_text(encoding="utf-8"))}
    measured = {names for names in seen if MEASURED.search(names)}
    assert len(measured) > 40
    assert {"SAFE_SHARE", "SURE, UNLIKELY", "MOST_BENT_CENTS"} <= measured
    assert not MEASURED.search("MOST_SHOWN, MOST_HITS")


def test_the_search_sees_many_constants():
    seen = [names for path in FILES for names, _, _ in constants(path.read_text(encoding="utf-8"))]
    assert len(seen) > 350
    assert {"MOST_TURNS", "DEEPEST_CUT_MM", "OUTSIDE_WEIGHT"} <= set(seen)


@pytest.mark.parametrize(
    "planted",
    [
        "LIMIT_MM = 0.8\n",
        "LIMIT_MM: float = 0.8  # as deep as a slot is ever cut\n",
        "LOW, HIGH = 0.2, 1.4\n",
        "GRID = (0.7, 1.2)\n",
        "RATIO = 10 ** (-47 / 20)\n",
        "# Chosen.\n\nLIMIT_MM = 0.8\n",
        "A = 1.0  # chosen\nB = 2.0\n",
        "# Where nothing else is said below: chosen.\nA = 1.0\n\nB = 2.0\n",
        "TABLE = {\n    'a': 1.0,\n}\n",
    ],
)
def test_a_planted_constant_without_a_mark_is_found(planted):
    assert unmarked(planted) != []


@pytest.mark.parametrize(
    "marked",
    [
        "LIMIT_MM = 0.8  # common practice, no source\n",
        "# Fletcher (1964), equation 3. Source: his table.\nLIMIT_MM = 0.8\n",
        "# Where nothing else is said below: chosen.\nA = 1.0\nB = (\n    2.0\n)\nC = 3.0\n",
        'LIMIT_MM = 0.8\n"""As deep as a slot is cut: from memory."""\n',
        "NAMES = ('a', 'b')\nfirst = 1\n",
    ],
)
def test_a_marked_constant_is_left_alone(marked):
    assert unmarked(marked) == []
