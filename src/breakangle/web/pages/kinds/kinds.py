"""Kinds of instrument: the program's and the shop's own, copied from the nearest, changed, taken off the list."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.model.errors import CorrectInputError
from breakangle.model.kind.kind_table import KindTable
from breakangle.reference.families import HANDS, families, family_of
from breakangle.reference.strings import makes, wraps
from breakangle.services.intake.kept_kinds import (
    add_kind,
    change_kind,
    kinds_off_list,
    put_back_kind,
    remove_kind,
)
from breakangle.services.service_files.kinds.boxes import (
    CHOICES,
    GOOD,
    SIZES,
    TARGETS,
    WHOLE,
    boxes_of,
    kind_typed,
    same_typed,
)
from breakangle.services.service_files.kinds.copied import LONGEST_NAME, table_of, table_of_instrument
from breakangle.services.visits.visits import instrument_of
from breakangle.services.workshop.kinds import kind_here, kinds_offered, shop_kind, shop_kinds
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.web.dependencies import TheShop, TheStamp, TheVisitor, to
from breakangle.web.form_data import TheTyped
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
NOT_BOXES = ("copy", "instrument", "seen", "drop")


@dataclass(frozen=True)
class _Base:
    """What a form begins with: the table, and where it is sent."""

    table: KindTable
    copy: str
    instrument: str = ""
    instrument_name: str = ""


@router.get("/shop/kinds")
def kinds_page(request: Request, shop: TheShop) -> Response:
    """Show the shop's kinds, those taken off the list, and the way to make one."""
    return page(
        request,
        "shop_kinds.html",
        own=shop_kinds(shop),
        off=kinds_off_list(shop),
        families=kinds_offered(shop),
        known=families(),
    )


@router.get("/shop/kinds/new")
def new_page(
    request: Request, shop: TheShop, visitor: TheVisitor, copy: str = "", instrument: str = ""
) -> Response:
    """Show the form of a new kind, with what the nearest has."""
    base = _base(shop, copy, instrument)
    typed = boxes_of(base.table, visitor.view.own_unit) | {"words": base.instrument_name[:LONGEST_NAME]}
    return _form(request, base, typed)


@router.post("/shop/kinds/new")
def make(request: Request, shop: TheShop, visitor: TheVisitor, stamp: TheStamp, typed: TheTyped) -> Response:
    """Keep a new kind; made from an instrument, that becomes one of it."""
    base = _base(shop, typed.get("copy", ""), typed.get("instrument", ""))
    boxes = _boxes(typed)
    try:
        add_kind(shop, stamp, kind_typed(base.table, boxes, visitor.view.own_unit), base.instrument)
    except NoSuchRecordError:
        raise
    except CorrectInputError as cause:
        return _form(request, base, boxes_of(base.table, visitor.view.own_unit) | boxes, cause)
    return to(request, f"/instruments/{base.instrument}" if base.instrument else "/shop/kinds")


@router.get("/shop/kinds/{key}")
def kind_page(request: Request, shop: TheShop, visitor: TheVisitor, key: str) -> Response:
    """Show one of the shop's kinds, to be typed over."""
    found = shop_kind(shop, key)
    typed = boxes_of(found.table, visitor.view.own_unit)
    return _form(request, _Base(found.table, ""), typed, key=key, seen=found.version)


@router.post("/shop/kinds/{key}")
def change(
    request: Request, shop: TheShop, visitor: TheVisitor, stamp: TheStamp, key: str, typed: TheTyped
) -> Response:
    """Keep a kind as it was typed over; or take it off the list: its instruments keep what it was."""
    if typed.get("drop"):
        remove_kind(shop, stamp, key)
        return to(request, "/shop/kinds")
    found, seen = shop_kind(shop, key), typed.get("seen", "")
    boxes = _boxes(typed)
    version = int(seen) if seen.isdecimal() and len(seen) < 10 else None
    try:
        table = kind_typed(found.table, boxes, visitor.view.own_unit)
        change_kind(shop, stamp, key, table, version)
    except (
        EditedMeanwhileError
    ) as cause:  # what was typed stays in the boxes, what stands there now is shown beside
        now = shop_kind(shop, key)
        stands = boxes_of(now.table, visitor.view.own_unit)
        theirs = {name: text for name, text in stands.items() if not same_typed(boxes.get(name, text), text)}
        return _form(request, _Base(now.table, ""), stands | boxes, cause, key, now.version, theirs)
    except CorrectInputError as cause:
        shown = boxes_of(found.table, visitor.view.own_unit) | boxes
        return _form(request, _Base(found.table, ""), shown, cause, key=key, seen=version or found.version)
    return to(request, "/shop/kinds")


@router.post("/shop/kinds/{key}/back")
def put_back(request: Request, shop: TheShop, stamp: TheStamp, key: str) -> Response:
    """Put a kind on the list that was taken off, or came with an instrument."""
    put_back_kind(shop, stamp, key)
    return to(request, "/shop/kinds")


def _base(shop: Shop, copy: str, instrument: str) -> _Base:
    if instrument:
        record = shop.get(InstrumentRecord, instrument)
        made = instrument_of(record)
        return _Base(table_of_instrument(made, family_of(made)), "", record.id, made.name)
    kin = kind_here(shop, copy)
    return _Base(table_of(kin), copy)


def _boxes(typed: dict[str, str]) -> dict[str, str]:
    return {name: text for name, text in typed.items() if name not in NOT_BOXES}


def _form(
    request: Request,
    base: _Base,
    typed: dict[str, str],
    error: Exception | None = None,
    key: str = "",
    seen: int = 0,
    theirs: Mapping[str, str] | None = None,
) -> Response:
    origin = base.table.copied_from
    values: dict[str, Any] = {
        "typed": typed, "base": base, "error": error, "key": key, "seen": seen, "sizes": SIZES, "whole": WHOLE,
        "choices": CHOICES, "targets": TARGETS, "good": GOOD, "hands": HANDS, "makes": makes(), "wraps": wraps(),
        "theirs": theirs or {}, "origin": origin if origin in families() else "",
    }  # fmt: skip
    status = 200 if error is None else 409 if isinstance(error, EditedMeanwhileError) else 422
    return page(request, "shop_kind.html", status, **values)
