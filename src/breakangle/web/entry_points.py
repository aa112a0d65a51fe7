"""What belongs to the server and to no shop: pairing a device, the certificate, what makes the app installable."""

import threading
from contextlib import suppress
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response

from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import tr
from breakangle.services.workshop.devices import device_of, keep_seen, pair_device, seen_long_ago
from breakangle.storage.records.records import Device
from breakangle.storage.records.store import Shop
from breakangle.web.assets import FOLDER, all_assets, asset
from breakangle.web.authority import FOLDER as AUTHORITY_FOLDER
from breakangle.web.authority import fingerprint
from breakangle.web.guard import DEVICE_COOKIE, DeviceOf, KnownDevice
from breakangle.web.options import Options
from breakangle.web.rate_limit import Tries
from breakangle.web.refusals import refused
from breakangle.web.render import page
from breakangle.web.workshops import Workshop

router = APIRouter(include_in_schema=False)
A_YEAR_S = 365 * 86400
TRIES = Tries()


def device_finder(own: Workshop) -> DeviceOf:
    """Return what tells the door which paired device a token belongs to."""
    seen = LastSeen()

    def found(token: str) -> KnownDevice | None:
        if not token:
            return None
        shop, now = own.shop(), datetime.now(UTC)
        device = device_of(shop, token, now)
        if device is not None and seen_long_ago(device, now):
            seen.keep(shop, device, now)
        return device

    return found


class LastSeen:
    """Keeps when devices were last here, while nobody waits for it; what cannot be written keeps nobody out."""

    def __init__(self) -> None:
        """Begin with nothing to write."""
        self._lock, self._writing = threading.Lock(), set[str]()

    def keep(self, shop: Shop, device: Device, now: datetime) -> None:
        """Begin to write it down, unless that is going on for this device already."""
        with self._lock:
            if device.id in self._writing:
                return
            self._writing.add(device.id)
        threading.Thread(target=self._write, args=(shop, device, now), daemon=True).start()

    def _write(self, shop: Shop, device: Device, now: datetime) -> None:
        try:
            with suppress(BreakangleError):
                keep_seen(shop, device, now)
        finally:
            with self._lock:
                self._writing.discard(device.id)


@router.get("/pair")
def pair_page(request: Request, code: str = "") -> Response:
    """Show the page on which a device is paired."""
    return page(request, "pair.html", code=code[:20])


@router.post("/pair")
def pair(
    request: Request,
    code: Annotated[str, Form(max_length=40)] = "",
    name: Annotated[str, Form(max_length=80)] = "",
    person: Annotated[str, Form(max_length=80)] = "",
) -> Response:
    """Pair this device by its code; a token that only this browser holds lets it in from then on."""
    address = request.client.host if request.client else ""
    if not TRIES.allowed(address):
        return refused(
            request, 429, tr("too many tries"), tr("five a minute"), tr("wait a minute, then try again")
        )
    own: Workshop = request.app.state.workshop
    _, token = pair_device(own.shop(), code, name, datetime.now(UTC), person)
    answer = RedirectResponse("/", status_code=303)
    answer.set_cookie(
        DEVICE_COOKIE, token, max_age=A_YEAR_S, httponly=True, samesite="strict",
        secure=request.url.scheme == "https",
    )  # fmt: skip
    return answer


@router.get("/authority")
def authority_page(request: Request) -> Response:
    """Show how the workshop's certificate is installed, system by system."""
    path = _authority_file(request)
    options: Options = request.app.state.options
    https = f"https://{request.url.hostname}:{options.secure_port}/pair"
    return page(request, "authority.html", fingerprint=fingerprint(path) if path else None, https=https)


@router.get("/authority/workshop.crt")
def authority_file(request: Request) -> Response:
    """Send the certificate to install; it holds no secret."""
    path = _authority_file(request)
    if path is None:
        return refused(
            request, 404, tr("this server has no certificate of its own"), "", tr("start it with --secure")
        )
    return FileResponse(path, media_type="application/x-x509-ca-cert", filename="workshop.crt")


def _authority_file(request: Request) -> Path | None:
    options: Options = request.app.state.options
    path = options.folder / AUTHORITY_FOLDER / "authority.crt"
    return path if options.secure_port is not None and path.exists() else None


@router.get("/sw.js")
def service_worker() -> Response:
    """Return the script that keeps pages for when the bench does not answer; it is asked for anew each time.

    It begins with the name of the build, so that a browser notices when any other file has changed.
    """
    path = FOLDER / asset("sw.js").removeprefix("/static/")
    build = sha256("".join(all_assets()).encode()).hexdigest()[:12]
    text = f'self.BUILD = "{build}";\n{path.read_text(encoding="utf-8")}'
    return Response(text, media_type="text/javascript", headers={"cache-control": "no-cache"})


@router.get("/ping")
async def ping() -> Response:
    """Say that the bench answers, even while all its threads are at work."""
    return Response(status_code=204)


@router.get("/offline")
def offline_page(request: Request) -> Response:
    """Show the page that stands in for pages never seen, while the bench does not answer."""
    return page(request, "offline.html")


@router.get("/app.webmanifest")
def manifest() -> Response:
    """Return what lets a phone or tablet keep the app on its first screen."""
    icons = [
        {"src": asset(f"icon-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"}
        for size in (192, 512)
    ]
    told = {
        "name": "Breakangle",
        "short_name": "Breakangle",
        "start_url": "/",
        "display": "standalone",
        "background_color": "#f6f3ec",
        "theme_color": "#1f4b48",
        "icons": icons,
    }
    return JSONResponse(told, media_type="application/manifest+json")
