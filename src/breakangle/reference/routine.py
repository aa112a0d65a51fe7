"""Dangers and their cautions, the facts that procedures ask about, and what has to be done before what."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from breakangle.reference.rows import look_up, read_table


@dataclass(frozen=True)
class Caution:
    """A caution by its name, in the words it is always said in; a lower rank is shown first."""

    name: str
    rank: int
    words: str
    source: str


@dataclass(frozen=True)
class Danger:
    """Something that can hurt a person or an instrument, and the names of the cautions that it asks for."""

    name: str
    words: str
    cautions: tuple[str, ...]
    source: str


@dataclass(frozen=True)
class Fact:
    """Something a procedure may depend on: its choices, and each in words."""

    name: str
    rank: int
    words: str
    choices: tuple[str, ...]
    told: Mapping[str, str]
    source: str


@dataclass(frozen=True)
class Order:
    """An act that comes before another, with the reason.

    `alone`: said even where no step of the procedure does the first. `late`: said also at the first, when the
    second has been done already. `always`: said even where a person has left the first out, since it can do harm.
    """

    name: str
    rank: int
    first: str
    then: str
    alone: bool
    late: bool
    always: bool
    reason: str
    source: str


@cache
def cautions() -> Mapping[str, Caution]:
    """Every caution by its name, in the order they are shown."""
    found = [Caution(name=name, **row) for name, row in read_table("cautions").items()]
    return {one.name: one for one in sorted(found, key=lambda one: one.rank)}


def caution(name: str) -> Caution:
    """A caution by its name.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    return look_up("caution", name, cautions())


@cache
def dangers() -> Mapping[str, Danger]:
    """Every danger by its name, in the order of the table."""
    rows = read_table("dangers").items()
    return {name: Danger(name, row["words"], tuple(row["cautions"]), row["source"]) for name, row in rows}


def danger(name: str) -> Danger:
    """A danger by its name.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    return look_up("danger", name, dangers())


def cautions_against(names: Iterable[str]) -> tuple[Caution, ...]:
    """The cautions that these dangers ask for, each once, the gravest first.

    Raises:
        CorrectInputError: a danger that is not known; the error names the known ones.
    """
    asked = {caution_name for name in names for caution_name in danger(name).cautions}
    return tuple(row for name, row in cautions().items() if name in asked)


@cache
def facts() -> Mapping[str, Fact]:
    """Every fact by its name, in the order they are asked."""
    rows = read_table("facts").items()
    found = [
        Fact(
            name=name,
            rank=row["rank"],
            words=row["words"],
            choices=tuple(row["choices"]),
            told=dict(zip(row["choices"], row["told"], strict=True)),
            source=row["source"],
        )
        for name, row in rows
    ]
    return {one.name: one for one in sorted(found, key=lambda one: one.rank)}


@cache
def orders() -> tuple[Order, ...]:
    """What has to be done before what, in the order of work."""
    found = [Order(name=name, **row) for name, row in read_table("orders").items()]
    return tuple(sorted(found, key=lambda one: one.rank))
