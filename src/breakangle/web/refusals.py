"""Errors as a page: the same sentence as on the command line, with what was typed still on the screen."""

from urllib.parse import urlsplit

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from breakangle.model.errors import BreakangleError, BusyError
from breakangle.model.words.speech import mark, tr
from breakangle.storage.schema.errors import (
    EditedMeanwhileError,
    NoSuchRecordError,
    ShopDamagedError,
    ShopMovedError,
    ShopOutOfReachError,
)
from breakangle.web import rescue
from breakangle.web.render import page

STATUS: tuple[tuple[type[BreakangleError], int], ...] = (
    (NoSuchRecordError, 404),
    (EditedMeanwhileError, 409),
    (ShopOutOfReachError, 503),
    (ShopDamagedError, 503),
    (BusyError, 503),
    (BreakangleError, 422),
)
# What the framework refuses, by its status or the kind of misfit, as a person is told.
REFUSED = {404: mark("there is no such page"), 405: mark("this address only takes what its form sends")}
MISFITS = {
    "missing": mark("it is missing"),
    "int_parsing": mark("it must be a whole number"),
    "float_parsing": mark("it must be a number"),
    "string_too_long": mark("it is too long"),
}
OTHER_MISFIT = mark("it is not what this address takes")


def add_refusals(app: FastAPI) -> None:
    """Let `app` answer every error with one sentence."""
    app.add_exception_handler(BreakangleError, _told)
    app.add_exception_handler(RequestValidationError, _misfit)
    app.add_exception_handler(HTTPException, _plain)


def refused(request: Request, status: int, given: str, possible: str = "", remedy: str = "") -> Response:
    """Return an error as the asker reads it: JSON to a program, a part to a page that is open, else a page."""
    if "/api/" in request.url.path:
        content = {"error": {"given": given, "possible": possible, "remedy": remedy}}
        return JSONResponse(content, status_code=status)
    part = "hx-request" in request.headers
    answer = page(
        request,
        "_message.html" if part else "refused.html",
        status,
        given=given,
        possible=possible,
        remedy=remedy,
        back=_came_from(request),
        nowhere=status == 404 and request.method == "GET",
    )
    if part:
        answer.headers["hx-retarget"] = "#message"
        answer.headers["hx-reswap"] = "innerHTML"
    return answer


def _came_from(request: Request) -> str:
    """Return the page of this server that asked, or nothing where the browser does not say."""
    came = urlsplit(request.headers.get("referer", ""))
    asked_itself = request.method == "GET" and came.path == request.url.path
    if (
        came.netloc != request.url.netloc
        or not came.path.startswith("/")
        or came.path.startswith("//")
        or asked_itself
    ):
        return ""
    return came.path + (f"?{came.query}" if came.query else "")


def told(request: Request, error: BreakangleError) -> Response:
    """Return an error of the services as its asker reads it."""
    status = next(code for kind, code in STATUS if isinstance(error, kind))
    workshop = getattr(request.app.state, "workshop", None)
    if isinstance(error, ShopMovedError) and workshop is not None:
        workshop.lost()
    if isinstance(error, ShopDamagedError) and workshop is not None and rescue.wanted(request):
        return rescue.rescue_page(request, workshop, error)
    answer = refused(request, status, error.given, error.possible, error.remedy)
    if isinstance(error, BusyError):
        answer.headers["retry-after"] = str(error.retry_after_s)
    return answer


async def _told(request: Request, error: Exception) -> Response:
    if not isinstance(error, BreakangleError):
        raise error
    return told(request, error)


async def _misfit(request: Request, error: Exception) -> Response:
    if not isinstance(error, RequestValidationError):
        raise error
    first = error.errors()[0]
    place = ".".join(str(one) for one in first["loc"][1:]) or str(first["loc"][0])
    wrong = tr(MISFITS.get(first["type"], OTHER_MISFIT))
    return refused(request, 422, f"{place}: {wrong}", "", tr("correct it and try again"))


async def _plain(request: Request, error: Exception) -> Response:
    if not isinstance(error, HTTPException):
        raise error
    sentence = tr(REFUSED[error.status_code]) if error.status_code in REFUSED else str(error.detail).lower()
    return refused(request, error.status_code, sentence)
