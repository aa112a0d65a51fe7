"""What results look like in Arrow: every job's own columns behind three that all have; failures beside them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from breakangle.fleet.jobs import job_named
from breakangle.fleet.needs import arrow
from breakangle.model.words.speech import mark

if TYPE_CHECKING:
    import pyarrow as pa

FIRST = (
    ("item", "string", mark("the item's name")),
    (
        "sha256",
        "string",
        mark("hash of the item's content, and of its earlier visits, make and year where they count"),
    ),
    ("row", "int32", mark("place of this row among the item's")),
)
FAILED = (
    ("item", "string", mark("the item's name")),
    (
        "sha256",
        "string",
        mark("hash of the item's content, and of its earlier visits, make and year where they count"),
    ),
    ("error", "string", mark("what kind of error it was")),
    ("sentence", "string", mark("what was wrong, in one sentence")),
)
DONE = (
    ("item", "string", mark("the item's name")),
    (
        "sha256",
        "string",
        mark("hash of the item's content, and of its earlier visits, make and year where they count"),
    ),
    ("failed", "bool", mark("whether it failed")),
    ("seconds", "double", mark("what it took on its worker, s")),
)


@dataclass(frozen=True)
class Answer:
    """What became of one item: its rows, or its failure; `error` is empty where it did not fail."""

    item: str
    sha256: str
    seconds: float
    rows: tuple[Mapping[str, Any], ...] = ()
    error: str = ""
    sentence: str = ""


def columns_of(name: str) -> tuple[tuple[str, str, str], ...]:
    """Return the columns of a job's table: name, Arrow type, meaning."""
    return (*FIRST, *job_named(name).COLUMNS)


def schema_of(columns: Sequence[tuple[str, str, str]]) -> "pa.Schema":
    """Return columns as an Arrow schema; each field carries its meaning as metadata."""
    pa = arrow()
    return pa.schema(
        [pa.field(name, type_of(kind), metadata={"meaning": str(said)}) for name, kind, said in columns]
    )


def type_of(text: str) -> "pa.DataType":
    """Return the Arrow type that is written so: a plain one, `list<…>` or `struct<name: …, …>` of plain ones."""
    pa = arrow()
    if text.startswith("list<"):
        return pa.list_(type_of(text[5:-1]))
    if text.startswith("struct<"):
        fields = [part.split(": ") for part in text[7:-1].split(", ")]
        return pa.struct([pa.field(name, type_of(kind)) for name, kind in fields])
    return pa.type_for_alias(text)


def results(name: str, answers: Sequence[Answer]) -> "pa.Table":
    """Return the rows of the answers of a job as a table, in the order of the answers."""
    rows = [
        {"item": one.item, "sha256": one.sha256, "row": place, **row}
        for one in answers
        for place, row in enumerate(one.rows)
    ]
    return arrow().Table.from_pylist(rows, schema=schema_of(columns_of(name)))


def failures(answers: Sequence[Answer]) -> "pa.Table":
    """Return the answers that are failures as a table."""
    names = [name for name, _, _ in FAILED]
    rows = [{name: getattr(one, name) for name in names} for one in answers if one.error]
    return arrow().Table.from_pylist(rows, schema=schema_of(FAILED))


def done(answers: Sequence[Answer]) -> "pa.Table":
    """Return which items were answered, and what each took."""
    rows = [
        {"item": one.item, "sha256": one.sha256, "failed": bool(one.error), "seconds": one.seconds}
        for one in answers
    ]
    return arrow().Table.from_pylist(rows, schema=schema_of(DONE))
