"""Procedures: ours with the shop's own among and instead of them, and how a shop keeps its own."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.words.speech import mark, tr
from breakangle.procedures.facts import usual_facts
from breakangle.procedures.model import Procedure
from breakangle.procedures.shelf import (
    checked_facts,
    own_procedures,
    procedure_from,
    procedure_from_text,
    procedure_json,
)
from breakangle.procedures.text import procedure_text
from breakangle.services.procedures.minutes import learned
from breakangle.storage.records import records
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp

From = Literal["ours", "the shop's", "ours, edited by the shop"]


@dataclass(frozen=True)
class Listed:
    """A procedure on the list: its name, title, purpose, minutes, whose it is, and whether it waits to be asked for.

    `learned`: some of its minutes are this bench's own, from earlier runs; otherwise they are what is usual.
    """

    name: str
    title: str
    purpose: str
    minutes: float
    whose: From
    learned: bool = False
    when_asked: bool = False


def procedures(shop: Shop | None = None, facts: Mapping[str, str] | None = None) -> tuple[Listed, ...]:
    """Return every procedure in the order of work: ours, with the shop's own among and instead of them.

    With `facts` of an instrument those that have no step for such a one are left out: a ukulele has no electrics.
    """
    ours, theirs = own_procedures(), _shop_procedures(shop)
    every = {**ours, **{name: one for name, (one, _) in theirs.items()}}
    told, own = checked_facts(facts or {}), learned(shop, every)
    listed = []
    for name, one in sorted(every.items(), key=lambda item: (item[1].when_asked, item[1].rank, item[0])):
        if facts is not None and not one.steps_for(told):
            continue
        whose: From = "ours"
        if name in theirs:
            whose = mark("ours, edited by the shop") if name in ours else mark("the shop's")
        minutes = one.minutes(told, own.get(name))
        listed.append(
            Listed(name, one.title, one.purpose, minutes, whose, bool(own.get(name)), one.when_asked)
        )
    return tuple(listed)


def procedure(name: str, shop: Shop | None = None) -> Procedure:
    """Return a procedure by its name; the shop's own comes before ours.

    Raises:
        CorrectInputError: no such procedure; the error names those there are.
    """
    found = {**own_procedures(), **{key: one for key, (one, _) in _shop_procedures(shop).items()}}
    if name not in found:
        raise CorrectInputError(
            tr("there is no procedure {name!r}", name=name),
            tr("known are {found}", found=", ".join(found)),
            tr("name one of these"),
        )
    return found[name]


def told(name: str, facts: Mapping[str, str] | None = None, shop: Shop | None = None, width: int = 78) -> str:
    """Return a procedure as plain text for an instrument of these facts.

    Raises:
        CorrectInputError: no such procedure, fact or choice.
    """
    found = procedure(name, shop)
    own = learned(shop, {name: found}).get(name)
    return procedure_text(found, checked_facts(facts or {}), width, own)


def facts_of(instrument: Instrument, told: Mapping[str, str] | None = None) -> dict[str, str]:
    """Return what procedures may know of the instrument: from its file, its family, and what a person told.

    Raises:
        CorrectInputError: a fact or choice that does not exist.
    """
    return {**usual_facts(instrument), **checked_facts(told or {})}


def save_procedure(
    shop: Shop, stamp: Stamp, body: Mapping[str, Any] | str, seen_version: int | None = None
) -> records.Procedure:
    """Keep a procedure of the shop's own, or the shop's edition of one of ours, and return its record.

    Args:
        shop: where.
        stamp: who and when.
        body: the procedure as JSON data, or as text in TOML or JSON; its `name` says which one it replaces.
        seen_version: the version that was edited; a newer one meanwhile is an error. None: whatever stands.

    Raises:
        ServiceFileError: values that cannot be right, each with its path.
        EditedMeanwhileError: somebody else has changed it since.
    """
    what = tr("the procedure")
    made = procedure_from_text(body, what) if isinstance(body, str) else procedure_from(dict(body), what)
    before = _shop_procedures(shop).get(made.name)
    values = {"name": made.name, "body": procedure_json(made)}
    if before is None:
        return shop.add(records.Procedure, stamp, **values)
    stands = before[1]
    if seen_version is not None and seen_version != stands.version:
        raise EditedMeanwhileError(tr("this procedure"), stands, values, stands.changed_by)
    return shop.change(stands, stamp, **values)


def drop_procedure(shop: Shop, stamp: Stamp, name: str) -> None:
    """Drop the shop's own procedure; where it was an edition of ours, ours stands again.

    Raises:
        CorrectInputError: the shop has none of that name.
    """
    theirs = _shop_procedures(shop)
    if name not in theirs:
        raise CorrectInputError(
            tr("the shop has no procedure {name!r} of its own", name=name),
            tr("it has {theirs}", theirs=", ".join(theirs) or tr("none")),
        )
    shop.delete(theirs[name][1], stamp)


def _shop_procedures(shop: Shop | None) -> dict[str, tuple[Procedure, records.Procedure]]:
    if shop is None:
        return {}
    found = {}
    for one in shop.every(records.Procedure):
        found[one.name] = (procedure_from(json.loads(one.body), tr("the shop's {name}", name=one.name)), one)
    return found
