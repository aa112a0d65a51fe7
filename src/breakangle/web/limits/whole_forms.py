"""A form is looked at when it has come in: one that never does costs a waiting, and one given up leaves no trace."""

from starlette.datastructures import Headers
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from breakangle.web.guard import too_large

WITHOUT_BODY = ("GET", "HEAD", "OPTIONS")
MOST_WAITED_FOR_BYTES = 65_536  # a longer body is an upload: what reads it sees it come


class WholeForms:
    """The middleware outside all others that waits for a body's end, or for its first 64 kB."""

    def __init__(self, app: ASGIApp) -> None:
        """Keep what is behind it."""
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand a request on once its form is whole; drop it where the sender has gone."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        came = list[Message]()
        # What is announced as too large is refused by its head; a sender that waits for that sends no body.
        refused = too_large(Headers(scope=scope), str(scope["path"]))
        if scope["method"] not in WITHOUT_BODY and not refused:
            size, more = 0, True
            while more and size < MOST_WAITED_FOR_BYTES:
                message = await receive()
                if message["type"] == "http.disconnect":
                    return
                came.append(message)
                size, more = size + len(message.get("body", b"")), bool(message.get("more_body", False))

        async def again() -> Message:
            return came.pop(0) if came else await receive()

        try:
            await self.app(scope, again, send)
        except ClientDisconnect:  # an upload was given up: nobody is there to be told
            return
