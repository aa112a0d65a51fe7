"""Devices of the network, in tests: requests that come from another address than this computer's own."""

import http.client
import socket
import ssl
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from urllib.parse import urlencode

from breakangle.services.workshop.devices import make_pairing_code
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.schema.stamp import Stamp
from web_fixtures.process import Served, free_port


@dataclass
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    text: str


@dataclass
class Device:
    """A device at `address` (any of 127.0.0.0/8 but this computer's own), with its cookie once it is paired."""

    served: Served
    address: str
    cookie: str = ""
    secure: ssl.SSLContext | None = None
    headers: dict[str, str] = field(default_factory=dict)

    def ask(self, method: str, path: str, form: dict[str, str] | None = None, **headers: str) -> Answer:
        """Return the answer to a request as a browser's page of this server would send it."""
        line = self._line()
        body = urlencode(form).encode() if form is not None else None
        sent = {"Content-Type": "application/x-www-form-urlencoded"} if body is not None else {}
        if self.cookie:
            sent["Cookie"] = f"bench-device={self.cookie}"
        given = {name.replace("_", "-"): value for name, value in headers.items()}
        line.request(method, path, body, sent | self.headers | given)
        got = line.getresponse()
        told = {name.lower(): value for name, value in got.getheaders()}
        text = got.read().decode("utf-8", "replace")
        line.close()
        return Answer(got.status, told, text)

    def pair(self, code: str, name: str = "a phone") -> Answer:
        """Type a code, and keep the token that comes back."""
        answer = self.ask("POST", "/pair", {"code": code, "name": name})
        told = answer.headers.get("set-cookie", "")
        if "bench-device=" in told:
            self.cookie = told.split("bench-device=")[1].split(";")[0]
        return answer

    def _line(self) -> http.client.HTTPConnection:
        source = (self.address, 0)
        if self.secure is None:
            return http.client.HTTPConnection(
                "127.0.0.1", self.served.port, timeout=20, source_address=source
            )
        return http.client.HTTPSConnection(
            "127.0.0.1", self.served.port + 1, timeout=20, source_address=source, context=self.secure
        )


def two_free_ports() -> int:
    """Return a port that is free together with the one after it, as serving over https needs them."""
    while True:
        port = free_port()
        with closing(socket.socket()) as next_one:
            try:
                next_one.bind(("127.0.0.1", port + 1))
            except OSError:
                continue
        return port


def code_for(served: Served, role: str = "bench", at: datetime | None = None) -> str:
    """Return a fresh pairing code, as the bench computer would show it."""
    shop, now = shop_at(served.folder), at or datetime.now(UTC)
    code = make_pairing_code(shop, Stamp("Ada", now), role, now)
    shop.close()
    return code


def paired(served: Served, address: str, role: str = "bench", name: str = "a phone") -> Device:
    """Return a device that has been paired."""
    device = Device(served, address)
    answer = device.pair(code_for(served, role), name)
    assert answer.status == 303
    assert device.cookie
    return device
