"""Listen: pitch by ear, live or from recordings; what was heard so far, and recordings heard and added."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, File, Form, Path, Query, Request, UploadFile, WebSocket
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from breakangle.drawings.look import Drawing
from breakangle.listening.takes.reasons import Verdict
from breakangle.services.listening.decays import dead_notes, ringing_of
from breakangle.services.listening.heard_page import heard_sheet
from breakangle.services.listening.kept_strengths import keep_strengths, strengths_heard
from breakangle.services.listening.notes import Note
from breakangle.services.listening.recorded_forms import FORMS
from breakangle.services.listening.recordings import (
    MOST_FILES,
    Named,
    add_buzzes,
    add_heard,
    can_be_added,
    heard_again,
    keep_recordings,
    recordings_of,
)
from breakangle.services.listening.takes import NamedTake
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import instrument_of, visit_numbered
from breakangle.services.workers.queue import LISTENING
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import new_id
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, now, to
from breakangle.web.limits.uploads import read_upload
from breakangle.web.pages.listening.listen_socket import Stream
from breakangle.web.pages.listening.listen_words import Speaker, curve
from breakangle.web.render import page
from breakangle.web.visitor import VIEW_COOKIE

router = APIRouter(include_in_schema=False)
MOST_NUMBER = 2**31
A_YEAR_S = 365 * 86400


@router.get("/visits/{number}/listen")
def listen_page(
    request: Request, shop: TheShop, visit: TheVisit, job: Annotated[str, Query(max_length=20)] = "notes"
) -> Response:
    """Show where one listens, and what was heard so far; `job` is what it is to begin with."""
    instrument = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    return page(
        request, "listen.html", visit=visit, instrument=instrument, sheet=heard_sheet(shop, visit.id),
        recordings=recordings_of(shop, visit), job=job, certified=request.app.state.options.network,
        own=service_of(shop, visit.id).instrument.playing,
    )  # fmt: skip


@router.get("/visits/{number}/listen/heard")
def heard_part(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show what was heard so far, as a part of the page."""
    return page(request, "_listen_sheet.html", visit=visit, sheet=heard_sheet(shop, visit.id))


@router.websocket("/visits/{number}/listen/live")
async def live(socket: WebSocket, number: Annotated[int, Path(ge=1, le=MOST_NUMBER)]) -> None:
    """Listen to a browser's microphone until it leaves."""
    try:
        shop = await run_in_threadpool(socket.app.state.workshop.shop)
        visit = await run_in_threadpool(visit_numbered, shop, number)
    except NoSuchRecordError:
        await socket.close(1008)
        return
    await socket.accept()
    await Stream(socket, shop, visit).run()


@router.post("/visits/{number}/listen/spoken")
def speak(
    request: Request, visit: TheVisit, visitor: TheVisitor, spoken: Annotated[str, Form()] = "off"
) -> Response:
    """Remember in this browser whether prompts are spoken."""
    answer: RedirectResponse = to(request, f"/visits/{visit.number}/listen")
    chosen = visitor.view.changed(spoken=spoken).to_cookie()
    answer.set_cookie(VIEW_COOKIE, chosen, max_age=A_YEAR_S, samesite="lax", httponly=True)
    return answer


@router.post("/visits/{number}/recordings")
def bring(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    stamp: TheStamp,
    recordings: Annotated[list[UploadFile], File()],
) -> Response:
    """Keep recordings that hold sound, and show what is heard in them."""
    with LISTENING.turn():  # what waits for its turn is on the disk, not yet in memory
        brought = [
            Named(one.filename or "", read_upload(one, "recording")) for one in recordings[: MOST_FILES + 1]
        ]
        kept = keep_recordings(shop, visit, stamp, brought)
    asked = "&".join(f"recording={one.id}" for one in kept)
    return to(request, f"/visits/{visit.number}/listen/recordings?{asked}")


@dataclass(frozen=True)
class TakeShown:
    """A take of a recording as its page shows it."""

    number: int
    named: NamedTake
    note: str | None
    figure: str
    good: bool
    usable: bool
    pluck: str
    buzz: str
    names_crown: bool
    drawing: Drawing | None


@router.get("/visits/{number}/listen/recordings")
def recordings_page(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    recording: Annotated[list[str], Query(max_length=20)] = [],  # noqa: B006 (FastAPI reads it, nobody changes it)
) -> Response:
    """Show what is heard in recordings: takes, verdicts, reasons, and which are good enough to add."""
    if not recording:
        return to(request, f"/visits/{visit.number}/listen")
    kept = recordings_of(shop, visit, recording)
    heard = heard_again(shop, visit, kept)
    speaker = Speaker(request)
    takes = [_shown(number, one, speaker) for number, one in enumerate(heard.takes)]
    dead = dead_notes(ringing_of((one.take.pitch, one.name) for one in heard.takes if can_be_added(one)))
    instrument = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    return page(
        request, "listen_recordings.html", visit=visit, instrument=instrument, kept=kept, heard=heard,
        takes=takes, speaker=speaker, key=new_id(now()), dead=dead, forms=FORMS, form="", string=0, against="",
        every=recordings_of(shop, visit),
    )  # fmt: skip


def _shown(number: int, one: NamedTake, speaker: Speaker) -> TakeShown:
    name, pitch = one.name, one.take.pitch
    note = None if name is None else speaker.note(Note(name.string, name.fret, name.harmonic))
    figure = "" if name is None or pitch is None else speaker.figure(name.cents, pitch.uncertainty_cents)
    good = can_be_added(one) and one.take.verdict is Verdict.GOOD
    drawing = curve(one.take, None if name is None else name.note_hz, note or "")
    crown = one.buzz is not None and one.buzz.gap_mm is not None and one.buzz.crown is not None
    told = speaker.pluck(one.stroke), speaker.buzz(one.buzz)
    return TakeShown(number, one, note, figure, good, can_be_added(one), *told, crown, drawing)


@router.post("/visits/{number}/listen/recordings")
def add(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    stamp: TheStamp,
    recording: Annotated[list[str], Form()],
    key: Annotated[str, Form(max_length=60)],
    take: Annotated[list[int], Form()] = [],  # noqa: B006 (FastAPI reads it, nobody changes it)
    buzz: Annotated[list[int], Form()] = [],  # noqa: B006
) -> Response:
    """Store the chosen good takes and buzz as readings, and go back to what was heard so far."""
    heard = heard_again(shop, visit, recordings_of(shop, visit, recording))
    buzzes = add_buzzes(shop, visit, heard, buzz, stamp, key)
    if take or not buzzes:
        add_heard(shop, visit, heard, take, stamp, key)
    return to(request, f"/visits/{visit.number}/listen#heard")


@router.post("/visits/{number}/listen/strengths")
def strengths(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    stamp: TheStamp,
    recording: Annotated[list[str], Form()],
    who: Annotated[str, Form(max_length=200)] = "",
    for_shop: Annotated[str, Form(max_length=3)] = "",
) -> Response:
    """Store the strengths that a dozen plucks tell of, and go to the map of buzz, which counts with them."""
    found = strengths_heard(shop, visit, recordings_of(shop, visit, recording), who, stamp)
    keep_strengths(shop, visit, found, stamp, for_shop == "yes")
    return to(request, f"/visits/{visit.number}/listen#strengths")
