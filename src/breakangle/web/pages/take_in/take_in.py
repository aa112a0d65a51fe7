"""Take in: an instrument that has been here, a new one from its family's usual sizes, or a service file."""

import secrets
from collections.abc import Sequence
from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Request, UploadFile
from starlette.responses import Response

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr
from breakangle.reference.families import HANDS, family_of, offered_first
from breakangle.reference.posts import posts
from breakangle.reference.strings import makes, wraps
from breakangle.services.intake.owners import OwnerAskedError
from breakangle.services.intake.take_in import (
    known_by,
    known_instrument,
    owners_called,
    take_in_again,
    take_in_new,
)
from breakangle.services.intake.typed_instrument import usual_typed
from breakangle.services.typed_values.past_days import day_typed
from breakangle.services.visits.instrument_identity.similar import NEW, InstrumentAskedError, KnownInstrument
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.playing_strength import usual_hand
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.typed_complaints import WHATS, WHENS
from breakangle.services.visits.visits import instrument_of
from breakangle.services.workshop.kinds import kind_here, kinds_offered, kinds_on_list
from breakangle.storage.records.records import Owner
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.schema.tables import STATES
from breakangle.web.dependencies import TheShop, TheStamp, TheVisitor, to
from breakangle.web.form_data import TheTyped
from breakangle.web.forms.take_in import new_form, visit_form
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
ON_THE_BENCH = STATES[1]


@router.get("/visits/new")
def take_in_page(
    request: Request, shop: TheShop, instrument: str = "", kind: str = "", owner_id: str = ""
) -> Response:
    """Ask which instrument comes in; show the few fields of one that is known, or the sizes of a new one."""
    if instrument:
        return _again(request, shop, {"instrument": instrument})
    if kind:
        return _new(request, shop, {"kind": kind, "owner_id": owner_id})
    return page(request, "take_in.html", families=kinds_offered(shop), first=offered_first())


@router.get("/visits/new/found")
def found_part(request: Request, shop: TheShop, q: str = "") -> Response:
    """Show the instruments found while somebody types."""
    part = "hx-request" in request.headers
    found = known_by(shop, q[:200])
    if len(found) == 1 and not part:
        return to(request, f"/visits/new?instrument={found[0].instrument.id}")
    template = "_take_in_found.html" if part else "take_in.html"
    return page(
        request, template, found=found, words=q.strip(), families=kinds_offered(shop), first=offered_first()
    )


@router.get("/visits/new/owners")
def owners_part(request: Request, shop: TheShop, owner: str = "") -> Response:
    """Show the owners found while somebody types a name."""
    return page(request, "_take_in_owners.html", owners=owners_called(shop, owner[:200]), must=False)


@router.post("/visits/new")
def take_in(
    request: Request, shop: TheShop, visitor: TheVisitor, stamp: TheStamp, typed: TheTyped
) -> Response:
    """Take the instrument in, and go to its sheet; what was wrong is said beside what was typed."""
    key = typed.get("key") or None
    try:
        known = typed.get("instrument") or typed.get("same", NEW)
        if known != NEW:
            visit = take_in_again(shop, stamp, known, visit_form(typed), key)
        else:
            visit = take_in_new(shop, stamp, new_form(typed), visit_form(typed), visitor.view.own_unit, key)
    except NoSuchRecordError:
        raise
    except OwnerAskedError as cause:
        return _new(request, shop, typed, cause, cause.owners)
    except InstrumentAskedError as cause:
        return _new(request, shop, typed, cause, known=cause.known)
    except CorrectInputError as cause:
        if typed.get("instrument"):
            return _again(request, shop, typed, cause)
        if typed.get("kind") not in kinds_on_list(shop):
            raise
        return _new(request, shop, typed, cause)
    if typed.get("then") != "readings":
        return to(request, f"/visits/{visit.number}")
    if visit.state == STATES[0]:
        move_visit(shop, visit, ON_THE_BENCH, stamp)
    return to(request, f"/visits/{visit.number}/readings")


@router.post("/visits/new/import")
def bring_file(
    request: Request,
    shop: TheShop,
    stamp: TheStamp,
    file: Annotated[UploadFile, File()],
    on: Annotated[str, Form()] = "",
) -> Response:
    """Take in what a service file holds; where its instrument may be here already, ask which it is."""
    return _brought(request, shop, stamp, file.file.read(), file.filename or tr("the file"), on)


@router.post("/visits/new/asked/import")
def bring_file_answered(
    request: Request,
    shop: TheShop,
    stamp: TheStamp,
    content: Annotated[str, Form()],
    source: Annotated[str, Form()] = mark("the file"),
    same: Annotated[str, Form()] = "",
    on: Annotated[str, Form()] = "",
) -> Response:
    """Take in what a service file holds, with the answer which instrument it is."""
    return _brought(request, shop, stamp, content.encode(errors="replace"), source[:200], on, same)


def _brought(
    request: Request, shop: Shop, stamp: Stamp, content: bytes, source: str, on: str, same: str = ""
) -> Response:
    try:
        brought = bring_in(shop, content, source, stamp, same=same, on=day_typed(on, stamp.at))
    except InstrumentAskedError as cause:
        text = content.decode("utf-8", errors="replace")
        return page(request, "take_in_same.html", 409, error=cause, content=text, source=source, on=on)
    return to(request, f"/visits/{brought.visit.number}")


def _again(
    request: Request, shop: Shop, typed: dict[str, str], error: CorrectInputError | None = None
) -> Response:
    known = known_instrument(shop, typed["instrument"])
    values: dict[str, Any] = {
        "known": known,
        "typed": typed,
        "hands": HANDS,
        "hand": usual_hand(shop, known.instrument),
        "electrics": family_of(instrument_of(known.instrument)).electrics,
        "whats": WHATS,
        "whens": WHENS,
        "key": typed.get("key") or secrets.token_hex(12),
        "error": error,
    }
    return page(request, "take_in_again.html", 422 if error else 200, **values)


def _new(
    request: Request,
    shop: Shop,
    typed: dict[str, str],
    error: CorrectInputError | None = None,
    owners: Sequence[Owner] = (),
    known: Sequence[KnownInstrument] = (),
) -> Response:
    kin = kind_here(shop, typed["kind"])
    values: dict[str, Any] = {
        "usual": usual_typed(kin.kind, kin),
        "kin": kin,
        "typed": typed,
        "hands": HANDS,
        "whats": WHATS,
        "whens": WHENS,
        "makes": makes(),
        "wraps": wraps(),
        "posts": posts(),
        "owners": owners,
        "known": known,
        "key": typed.get("key") or secrets.token_hex(12),
        "error": error,
    }
    return page(request, "take_in_new.html", 422 if error else 200, **values)
