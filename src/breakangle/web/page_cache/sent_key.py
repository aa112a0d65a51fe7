"""The key of a form, by which what is sent twice is stored once: of a page that is kept, new each time it is given out.

While the page is kept there stands in its place a sign that nobody can know, and so nobody can have typed.
"""

import secrets

from starlette.requests import Request

DIGITS = 24
PLACE = secrets.token_hex(DIGITS // 2)
KEPT_WITHOUT = "/plan"  # how the addresses of such pages end: they are kept uncompressed
KEY_LATER = (
    "breakangle.key_later"  # in a request's scope: its page is kept, and gets its key when it is given out
)


def sent_key(request: Request) -> str:
    """Return the key for a form; of a page that is to be kept, what stands for it until it is given out."""
    return PLACE if request.scope.get(KEY_LATER) else secrets.token_hex(DIGITS // 2)


def with_sent_keys(body: bytes) -> bytes:
    """Return a page as it is given out: with a key of its own wherever one is to stand."""
    place = PLACE.encode()
    return body.replace(place, secrets.token_hex(DIGITS // 2).encode()) if place in body else body
