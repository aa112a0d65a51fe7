"""Finds sentences in code that no catalogue holds: literals of two words or more outside `tr`, `tr_n` and `mark`."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "breakangle"
# Folders and files with no words for people, or whose words are data, and why.
LEFT_OUT = {
    "storage/schema/migrations": "SQL of schemas that are never changed again",
    "drawings/ink.py": "how lines look, as SVG attributes",
    "services/example_workshop/people.py": "what made-up people say, in the language they said it",
    "services/example_workshop/shelf.py": "what a made-up shop called its things",
    "services/example_workshop/workshop.py": "what a made-up shop wrote",
    "services/procedures/typed_procedures.py": "a procedure's file to begin from, in its form",
    "web/frontend": "its own words come from the page",
}
SAYING = re.compile(r"(^|\.)(tr|tr_n|tr_key|mark)$")
# Calls whose texts go to a machine or to a person who writes programs.
TO_MACHINES = re.compile(
    r"^(re\.\w+|text|sa\.\w+|op\.\w+|x509\.\w+|Literal|cast|TypeVar|AttributeError|AssertionError|named|Field|Query|Body|"
    r"Path|Header|Cookie|Form|DDL|Index|(\w+\.)?CheckConstraint|\w[\w.()]*\.(execute|exec_driver_sql|startswith|"
    r"endswith|removeprefix|removesuffix|replace|strip|rstrip|lstrip|partition|rpartition|split|encode))$"
)
MACHINE_NAMES = {
    "pattern",
    "media_type",
    "style",
    "charset",
    "metavar",
    "dest",
    "css",
    "about",
    "key",
    "header_style",
}
SQL = re.compile(
    r"^\s*(UNION ALL SELECT|\(SELECT|REPEATABLE READ)\b|"
    r"^\s*(SELECT|INSERT|UPDATE|DELETE|CREATE|DROP|ALTER|PRAGMA|WITH|BEGIN|VACUUM|SET|LOCK|ANALYZE|ATTACH)\b|"
    r"IS (NOT )?NULL| IN \(| \|\| "
)
MARKUP = re.compile(
    r"<[a-z/!?][^>]*>|[a-z-]+=\"|[{;][a-z-]+:|\bfill:|default-src|=\(self\)|charset=|filename=|max-age|://|"
    r"^[MLHVCZ] ?\d|self\.BUILD|^__|^[\w, ]*= ?\S*$|'[\w ]+', '|(bold|dim) \w+$|outside (lower|upper)|, serif"
)
UNITS = {"mm", "cm", "Hz", "kHz", "in", "lb", "min", "ms", "MB", "kB", "GB", "dB", "px", "pt", "kg"}
# Texts of others, by which what they say is known; and names of keys with a space in them.
NOT_OURS = {
    "binding parameter", "check constraint", "duplicate key", "foreign key", "unique constraint", "no space",
    "disk is full", "lock timeout", "unable to open", "disk i/o", "not a database", "invalid page", "no such table",
    "no such column", "no file of this program", "mm per turn", "left out", "not started", "too long", "nut clearance",
    "on the bench", "handed back", "new strings", "changes of records", "changes of what is due",
    "database or disk is full",
}  # fmt: skip
NAMES = re.compile(
    r"%\(\w+\)s|--[\w-]+|\$\w+|\b[A-Z]+_[A-Z_]+\b|`[^`]*`|\b\w+(\.\w+)+|\b\w+_\w+|\S*\0\S*|[Bb]reakangle"
)


def words_in(text: str) -> list[str]:
    """Return the words of a text that are no unit, name of a key, option or place for a value."""
    return [one for one in re.findall(r"[^\W\d_][^\W\d_'’-]+", NAMES.sub(" ", text)) if one not in UNITS]


def is_sentence(text: str, has_values: bool) -> bool:
    """Return whether a literal says something to a person: two words, or a word beside a value."""
    if SQL.search(text) or MARKUP.search(text) or text in NOT_OURS or " " not in text.strip("\0"):
        return False
    found = words_in(text) + ([] if has_values else re.findall(r"\bin\b", text))
    return len(found) >= 2 or (has_values and any(len(one) > 2 for one in found))


def sentences_outside(source: str) -> Iterator[tuple[int, str]]:
    """Yield the line and text of each sentence that the source does not hand to a catalogue."""
    tree = ast.parse(source)
    parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts = [one.value if isinstance(one, ast.Constant) else "\0" for one in node.values]
            text, has_values = "".join(map(str, parts)), True
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            text, has_values = node.value, False
        else:
            continue
        if is_sentence(text, has_values) and not _is_elsewhere(node, parents):
            yield node.lineno, text.replace("\0", "{}")


def _is_elsewhere(node: ast.AST, parents: dict[ast.AST, ast.AST]) -> bool:
    """Return whether a literal is said, or is none that a person is shown, by where it stands."""
    child, at = node, parents.get(node)
    while at is not None:
        if isinstance(at, ast.Expr | ast.Compare | ast.Assert | ast.match_case) and child is node:
            return True  # a docstring, or a key that is compared
        if isinstance(at, ast.JoinedStr) and isinstance(node, ast.Constant) and child is node:
            return True  # a part of a literal that is looked at as a whole
        if _goes_to_a_machine(child, at):
            return True
        child, at = at, parents.get(at)
    return False


def _goes_to_a_machine(child: ast.AST, at: ast.AST) -> bool:
    if isinstance(at, ast.Call) and child is not at.func:
        name = ast.unparse(at.func)
        return bool(SAYING.search(name) or TO_MACHINES.search(name))
    if isinstance(at, ast.keyword):
        return at.arg in MACHINE_NAMES
    if isinstance(at, ast.Assign):
        return any(isinstance(one, ast.Name) and one.id in ("about", "key") for one in at.targets)
    if isinstance(at, ast.Subscript):
        return child is at.slice
    if isinstance(at, ast.Dict):
        return child in at.keys
    if isinstance(at, ast.FunctionDef | ast.AsyncFunctionDef):
        return child is at.returns
    return isinstance(at, ast.arg) or (isinstance(at, ast.AnnAssign) and child is at.annotation)


def is_left_out(place: str) -> bool:
    """Return whether a file of the package, by its place in it, has no words for people."""
    return any(place == one or place.startswith(f"{one}/") for one in LEFT_OUT)


def all_outside() -> list[str]:
    """Return every sentence of the package that no catalogue holds, with its place."""
    return [
        f"{place}:{line}: {text}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for place in [path.relative_to(PACKAGE).as_posix()]
        if "node_modules" not in path.parts and not is_left_out(place)
        for line, text in sentences_outside(path.read_text(encoding="utf-8"))
    ]
