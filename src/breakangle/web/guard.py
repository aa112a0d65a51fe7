"""The door: which host was asked for, from which page, by which device, with how much in hand.

Every request passes here before anything of the shop is touched. What the door refuses gets one sentence and nothing
of the shop. A page elsewhere that names this computer (DNS rebinding) fails on the host; a page elsewhere that posts
here fails on its origin; a device of the network that is not paired sees the pairing page only. Where there is a
certificate, devices of the network are sent to it before they say anything of worth.
"""

import re
import time
from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie
from typing import Protocol
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import language, tr
from breakangle.web.options import LOOPBACK_HOSTS, Options
from breakangle.web.refusals import told
from breakangle.web.visitor import locale_of

DEVICE_COOKIE = "bench-device"
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
OPEN_PATHS = ("/pair", "/static/", "/authority")
PLAIN_PATHS = ("/static/", "/authority")  # what a device may fetch before it trusts the certificate
OWNER_PATHS = re.compile(
    r"^(/example)?/(shop/(devices|restore|import|backups|export\.zip)|example-workshop|shop/lists/owner/[^/]+/erase)"
)
ASK_AGAIN_S = 2.0
MOST_BYTES, MOST_UPLOAD_BYTES, MOST_DIGITS = 2 * 2**20, 512 * 2**20, 20
# Shorter than what is waited for before it takes a turn (limits/whole_forms.py): one that stalls holds nobody's.
ONE_BOX_END, MOST_ONE_BOX_BYTES = "/readings/one", 32_768
UPLOAD_ENDS = ("/recordings", "/photographs", "/restore", "/import", "/logo")
HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "media-src 'self' blob:; connect-src 'self'; font-src 'self'; manifest-src 'self'; worker-src 'self'; "
    "form-action 'self'; frame-src 'self'; frame-ancestors 'self'; base-uri 'none'; object-src 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "microphone=(self), camera=(self), geolocation=()",
}


class KnownDevice(Protocol):
    """What the door needs to know of a paired device."""

    @property
    def id(self) -> str:
        """Its own name in the records."""

    @property
    def name(self) -> str:
        """What its owner calls it."""

    @property
    def person(self) -> str | None:
        """Who uses it; None where nobody has said."""

    @property
    def role(self) -> str:
        """What it may do: owner, bench or read-only."""


DeviceOf = Callable[[str], KnownDevice | None]


class Guard:
    """The middleware that stands outside every page and socket."""

    def __init__(self, app: ASGIApp, options: Options, device_of: DeviceOf) -> None:
        """Keep what is served, how, and who knows the devices."""
        self.app, self.options, self.device_of = app, options, device_of

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request or socket in, or send it away with one sentence."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        with language(locale_of(Headers(scope=scope))):
            await self._let_in(scope, receive, send)

    async def _let_in(self, scope: Scope, receive: Receive, send: Send) -> None:
        refusal = await self._refusal(scope)
        if refusal is not None:
            await self._away(scope, receive, send, refusal)
            return
        if scope["type"] == "websocket":
            await self.app(scope, self._still_paired(scope, receive), _with_headers(send))
            return
        await self.app(scope, _counted(scope, receive), _with_headers(send))

    async def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if not self._host_known(host, str(scope["scheme"])):
            return PlainTextResponse(tr("This server does not go by that name.\n"), 421)
        unsafe = scope["type"] == "websocket" or scope["method"] not in SAFE_METHODS
        if unsafe and not same_origin(headers, host):
            return PlainTextResponse(
                tr("This was sent from a page of another place. Nothing was changed.\n"), 403
            )
        if too_large(headers, str(scope["path"])):
            return PlainTextResponse(tr("That is larger than this page takes. Nothing was stored.\n"), 413)
        try:
            return await self._stranger(scope, headers, unsafe)
        except BreakangleError as error:
            # Who it is cannot be looked up. The sentence is the one that this computer reads.
            if scope["type"] == "websocket":
                return Response(status_code=503)
            return await run_in_threadpool(told, Request(scope), error)

    def _host_known(self, host: str, scheme: str) -> bool:
        name, port = name_and_port(host)
        port = port or ("443" if scheme in ("https", "wss") else "80")
        return name in self.options.hosts and port == str(self.options.port_of(scheme))

    async def _stranger(self, scope: Scope, headers: Headers, unsafe: bool) -> Response | None:
        """Refuse who is not paired, or may not write; note the device and its role for those let in."""
        state = scope.setdefault("state", {})
        if self._at_this_computer(scope, headers):
            state.update(role="owner", device_name="", device_id="")
            return None
        path = str(scope["path"])
        if self.options.secure_port is not None and scope["scheme"] in ("http", "ws"):
            if path.startswith(PLAIN_PATHS) and not unsafe:
                state.update(role="read-only", device_name="", device_id="")
                return None
            return self._to_certificate(headers, unsafe)
        if path.startswith("/static/") and not unsafe:  # anybody's: nobody needs to be looked up
            state.update(role="read-only", device_name="", device_id="")
            return None
        device = await run_in_threadpool(self.device_of, _cookie(headers, DEVICE_COOKIE))
        if device is None:
            if path.startswith(OPEN_PATHS):
                state.update(role="read-only", device_name="", device_id="")
                return None
            if unsafe or scope["type"] == "websocket":
                return PlainTextResponse(tr("This device is not paired with the shop.\n"), 401)
            return RedirectResponse("/pair", 303)
        state.update(role=device.role, device_name=device.name, device_id=device.id, person=device.person)
        if unsafe and device.role == "read-only" and not path.endswith(("/view", "/pair/leave")):
            return PlainTextResponse(
                tr("This device may look, not change. The owner can pair it anew.\n"), 403
            )
        if device.role != "owner" and OWNER_PATHS.match(path):
            return PlainTextResponse(tr("Only the owner's devices may do that.\n"), 403)
        return None

    def _to_certificate(self, headers: Headers, unsafe: bool) -> Response:
        """Send a device that came over plain http to where what it says cannot be overheard."""
        if unsafe:
            return PlainTextResponse(tr("This is served over https only. Nothing was changed.\n"), 403)
        name, _ = name_and_port(headers.get("host", ""))
        return RedirectResponse(f"https://{name}:{self.options.secure_port}/pair", 307)

    def _at_this_computer(self, scope: Scope, headers: Headers) -> bool:
        client = scope.get("client")
        name, _ = name_and_port(headers.get("host", ""))
        return client is not None and client[0] in ("127.0.0.1", "::1") and name in LOOPBACK_HOSTS

    def _still_paired(self, scope: Scope, receive: Receive) -> Receive:
        """Return `receive`, cut off soon after the device on the other end was revoked or may no longer write."""
        token, asked_at = _cookie(Headers(scope=scope), DEVICE_COOKIE), time.monotonic()
        if not scope["state"].get("device_id"):
            return receive

        async def asked() -> Message:
            nonlocal asked_at
            message = await receive()
            if time.monotonic() - asked_at > ASK_AGAIN_S:
                asked_at = time.monotonic()
                try:
                    device = await run_in_threadpool(self.device_of, token)
                except BreakangleError:  # nor could anything be stored
                    return {"type": "websocket.disconnect", "code": 1013}
                if device is None or device.role == "read-only":
                    return {"type": "websocket.disconnect", "code": 1008}
            return message

        return asked

    async def _away(self, scope: Scope, receive: Receive, send: Send, refusal: Response) -> None:
        if scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1013 if refusal.status_code == 503 else 1008})
            return
        await refusal(scope, receive, _with_headers(send))


def name_and_port(host: str) -> tuple[str, str]:
    """Return the name that was asked for, in small letters, and the port; none where the scheme's own is meant."""
    name, _, port = host.lower().rpartition(":")
    return (name, port) if name and port.isdecimal() else (host.lower(), "")


def same_origin(headers: Headers, host: str) -> bool:
    """Return whether what changes things comes from a page of this server, or from no browser at all."""
    origin = headers.get("origin")
    if origin is not None:
        try:
            return urlsplit(origin).netloc.lower() == host.lower()
        except ValueError:  # no address at all
            return False
    return headers.get("sec-fetch-site", "same-origin") == "same-origin"


def most_bytes(path: str) -> int:
    """Return how many bytes a path takes."""
    if path.endswith(ONE_BOX_END):
        return MOST_ONE_BOX_BYTES
    return MOST_UPLOAD_BYTES if path.endswith(UPLOAD_ENDS) else MOST_BYTES


def too_large(headers: Headers, path: str) -> bool:
    """Return whether the body is announced as larger than its path takes."""
    length = headers.get("content-length", "0")
    return not length.isdecimal() or len(length) > MOST_DIGITS or int(length) > most_bytes(path)


def _counted(scope: Scope, receive: Receive) -> Receive:
    """Return `receive`, cut off where a body of unannounced length grows past what its path takes."""
    most, seen = most_bytes(str(scope["path"])), 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        return {"type": "http.disconnect"} if seen > most else message

    return counted


def _cookie(headers: Headers, name: str) -> str:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return ""
    return found.value if found else ""


def _with_headers(send: Send) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            there = {name for name, _ in message["headers"]}
            extra = [(k.encode(), v.encode()) for k, v in HEADERS.items() if k.encode() not in there]
            if b"cache-control" not in there:
                extra.append((b"cache-control", b"no-store"))
            message["headers"] = [*message["headers"], *extra]
        await send(message)

    return sent
