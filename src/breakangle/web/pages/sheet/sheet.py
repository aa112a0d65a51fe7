"""Sheet: a visit with all its parts, in any order; every change can be undone, no tab loses another's words."""

from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Request, UploadFile
from starlette.responses import Response

from breakangle.documents.sheets.complaints import complaint_words
from breakangle.model.errors import ReadAgainError
from breakangle.model.typed_number import plain_digits
from breakangle.model.words.unit_said import unit_open
from breakangle.reference.families import HANDS
from breakangle.services.documents.hand_back.close import HANDED_BACK
from breakangle.services.documents.hand_back.frozen import closed_told
from breakangle.services.documents.photograph_page import pairs_shown
from breakangle.services.documents.photograph_page import photographs as photographs_shown
from breakangle.services.plans.plan_page import plan_sheet
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.typed_values.amounts import decimals_of
from breakangle.services.visit_sheets.sheet import (
    arrival_of,
    change_air,
    change_words,
    correct_entry,
    drop_line,
    entries_told,
    entry_told,
    move_sheet,
    sheet_of,
    states,
)
from breakangle.services.visits.entries import service_of, undo
from breakangle.services.workers.queue import PICTURES
from breakangle.services.workshop.attachments import attach, content_of, small_picture
from breakangle.services.workshop.prices import add_line
from breakangle.storage.records.records import Attachment, InstrumentRecord
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, to
from breakangle.web.form_data import TheTyped
from breakangle.web.forms.take_in import arrival_form
from breakangle.web.limits.uploads import read_upload
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form()]
SHOWN_MEDIA = ("image/jpeg", "image/png", "image/webp", "image/gif")


@router.get("/visits/{number:int}")
def sheet_page(request: Request, shop: TheShop, visit: TheVisit, removed: str = "") -> Response:
    """Show the sheet."""
    sheet = sheet_of(shop, visit)
    values: dict[str, Any] = {"visit": visit, "instrument": sheet.instrument, "sheet": sheet}
    values |= {"arrival": arrival_of(visit, sheet.service), "places": decimals_of, "plain": plain_digits}
    shown = photographs_shown(shop, visit)
    values |= {"photographs": shown, "pairs": pairs_shown(shown), "removed": removed[:40]}
    values["closed"] = closed_told(shop, visit)
    values["complaints"] = [complaint_words(one) for one in sheet.service.complaints]
    values["open_count"] = sum(unit_open(one) for one in sheet.service.readings)
    return page(request, "sheet.html", states=states(), hands=HANDS, **values)


@router.get("/visits/{number:int}/summary")
def summary_part(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show what the plan says, in two lines."""
    try:
        solved = solved_visit(shop, visit.id)
        told, trouble, read = plan_sheet(solved), "", solved.read_since_work
    except ReadAgainError as cause:
        told, trouble, read = None, str(cause), True
    return page(request, "_sheet_summary.html", told=told, trouble=trouble, visit=visit, read=read)


@router.post("/visits/{number:int}/state")
def move(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, state: Text, seen: Text
) -> Response:
    """Move the work along; going back is asked about first."""
    if state == HANDED_BACK and visit.state != state:
        return to(request, f"/visits/{visit.number}/hand-back")
    try:
        move_sheet(shop, visit, state, seen, stamp)
    except EditedMeanwhileError as cause:
        return _clash(request, shop, cause, {"state": state})
    return to(request, f"/visits/{visit.number}")


@router.post("/visits/{number:int}/words")
def words(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, typed: TheTyped) -> Response:
    """Store complaint and notes."""
    before = {name: text.replace("\r\n", "\n") for name, text in _before(typed).items()}
    given = {name: text.replace("\r\n", "\n") for name, text in typed.items()}
    try:
        change_words(shop, visit, given, before, stamp)
    except EditedMeanwhileError as cause:
        return _clash(request, shop, cause, given)
    return to(request, f"/visits/{visit.number}")


@router.post("/visits/{number:int}/arrival")
def arrival(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, typed: TheTyped) -> Response:
    """Store the room's air and the strength of play."""
    try:
        change_air(shop, visit, arrival_form(typed), arrival_form(_before(typed)), stamp)
    except EditedMeanwhileError as cause:
        return _clash(request, shop, cause, typed)
    return to(request, f"/visits/{visit.number}")


@router.post("/visits/{number:int}/lines")
def line(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, kind: Text, words: Text, amount: Text,
    quantity: Text = "1",
) -> Response:  # fmt: skip
    """Add a line to the estimate and bill."""
    add_line(shop, stamp, visit, kind, words, amount, quantity or "1")
    return to(request, f"/visits/{visit.number}#bill")


@router.post("/visits/{number:int}/lines/{key}/drop")
def line_dropped(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    stamp: TheStamp,
    key: str,
    version: Annotated[int, Form()],
) -> Response:
    """Take a line off."""
    drop_line(shop, visit, key, version, stamp)
    return to(request, f"/visits/{visit.number}#bill")


@router.post("/visits/{number:int}/photographs")
def photographs(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    stamp: TheStamp,
    photographs: Annotated[list[UploadFile], File()],
) -> Response:
    """Store photographs."""
    with PICTURES.turn():  # what waits for its turn is on the disk, not yet in memory
        for one in photographs:
            attach(shop, stamp, visit, "photograph", one.filename or "", read_upload(one, "photograph"))
    return to(request, f"/visits/{visit.number}#photographs")


@router.get("/attachments/{key}/small")
def small(shop: TheShop, key: str) -> Response:
    """Return a photograph, small."""
    picture = small_picture(shop, shop.get(Attachment, key))
    return Response(picture, media_type="image/jpeg", headers={"cache-control": "private, max-age=86400"})


@router.get("/attachments/{key}")
def whole(shop: TheShop, key: str) -> Response:
    """Return a file as it was stored; only what a browser shows safely is shown, the rest is saved."""
    found = shop.get(Attachment, key)
    safe = found.media_type in SHOWN_MEDIA or found.media_type.startswith("audio/")
    ending = found.media_type.partition("/")[2].partition("+")[0][:12] if safe else "bin"
    place = "inline" if safe else "attachment"
    headers = {"content-disposition": f'{place}; filename="{found.kind}-{found.id}.{ending}"'}
    media = found.media_type if safe else "application/octet-stream"
    return Response(content_of(shop, found), media_type=media, headers=headers)


@router.get("/visits/{number:int}/entries")
def entries_page(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show every entry, superseded ones included."""
    instrument = shop.get(InstrumentRecord, visit.instrument_id)
    return page(
        request, "entries.html", visit=visit, instrument=instrument, entries=entries_told(shop, visit)
    )


@router.get("/visits/{number:int}/entries/{key}")
def entry_page(request: Request, shop: TheShop, visit: TheVisit, key: str) -> Response:
    """Show one entry, to correct it or take it back."""
    instrument = shop.get(InstrumentRecord, visit.instrument_id)
    return page(request, "entry.html", visit=visit, instrument=instrument, one=entry_told(shop, visit, key))


@router.post("/visits/{number:int}/entries/{key}/correct")
def entry_corrected(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    stamp: TheStamp,
    key: str,
    reason: Text,
    text: Text = "",
) -> Response:
    """Store what stands instead, with the reason."""
    correct_entry(shop, visit, key, text, reason, stamp, visitor.view.own_unit)
    return to(request, f"/visits/{visit.number}/entries")


@router.post("/visits/{number:int}/entries/{key}/undo")
def entry_undone(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, key: str) -> Response:
    """Take an entry back."""
    undo(shop, entry_told(shop, visit, key).entry.id, stamp)
    return to(request, f"/visits/{visit.number}/entries")


def _before(typed: dict[str, str]) -> dict[str, str]:
    """Return what stood in the boxes when the page was made, by the boxes' names."""
    return {name.removeprefix("was_"): text for name, text in typed.items() if name.startswith("was_")}


def _clash(request: Request, shop: TheShop, cause: EditedMeanwhileError, typed: dict[str, str]) -> Response:
    instrument = shop.get(InstrumentRecord, cause.theirs.instrument_id)
    values: dict[str, Any] = {
        "visit": cause.theirs,
        "instrument": instrument,
        "yours": cause.yours,
        "typed": typed,
        "arrival": arrival_of(cause.theirs, service_of(shop, cause.theirs.id)),
        "hands": HANDS,
        "places": decimals_of,
    }
    return page(request, "sheet_clash.html", 409, who=cause.theirs.changed_by, **values)
