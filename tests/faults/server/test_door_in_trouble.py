"""The door when the records cannot be asked, are slow, or what comes is no address; one device holds up nobody."""

import asyncio
import threading
import time
import warnings
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient
from starlette.types import Message, Receive, Scope, Send

from breakangle.services.workshop.devices import device_of, make_pairing_code, pair_device
from breakangle.storage.records.devices import seen_now
from breakangle.storage.schema.errors import ShopOutOfReachError
from breakangle.web import guard
from breakangle.web.app import make_app
from breakangle.web.entry_points import device_finder
from breakangle.web.guard import Guard
from breakangle.web.options import LOOPBACK_HOSTS, Options
from breakangle.web.rate_limit import MOST_ADDRESSES, MOST_ALL, WITHIN_S, Tries
from shop_fixtures.people import ADA

pytest_plugins = ["shop_fixtures.shops"]
HERE, THERE = ("127.0.0.1", 5000), ("10.0.0.9", 5000)
NETWORK = Options(Path(), port=8320, hosts=(*LOOPBACK_HOSTS, "10.0.0.5"), network=True)


def scope_of(client: tuple[str, int], host: str, kind: str = "http") -> Scope:
    headers = [(b"host", host.encode()), (b"cookie", b"bench-device=token")]
    return {
        "type": kind,
        "scheme": "http",
        "method": "GET",
        "path": "/",
        "headers": headers,
        "client": client,
    }


def ran(work: Coroutine[None, None, Any]) -> Any:
    """Return what comes of the work, on a loop and thread of its own: a browser's tests leave one running in this."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()


async def asked(door: Guard, scope: Scope) -> int:
    """Return the status that the door, or what is behind it, answers."""
    got: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.request"}

    async def send(message: Message) -> None:
        got.append(message)

    await door(scope, receive, send)
    return int(got[0]["status"])


def test_one_device_that_is_looked_up_holds_up_nobody():
    look, end = threading.Event(), threading.Event()

    def slow(_: str) -> None:
        look.set()
        assert end.wait(20)

    async def both() -> tuple[int, int]:
        door = Guard(PlainTextResponse("in"), NETWORK, slow)
        device = asyncio.create_task(asked(door, scope_of(THERE, "10.0.0.5:8320")))
        while not look.is_set():
            await asyncio.sleep(0.01)
        mine = await asked(door, scope_of(HERE, "127.0.0.1:8320"))
        assert not device.done()
        end.set()
        return mine, await device

    timer = threading.Timer(5, end.set)  # so that a door that waits fails, and does not hang
    timer.start()
    assert ran(both()) == (200, 303)
    timer.cancel()


def test_a_socket_is_cut_when_the_records_cannot_be_asked(monkeypatch):
    monkeypatch.setattr(guard, "ASK_AGAIN_S", -1.0)
    answers = iter([SimpleNamespace(id="d", name="a phone", role="bench", person=None)])

    def found(_: str) -> object:
        device = next(answers, None)
        if device is None:
            raise ShopOutOfReachError("the shop's file cannot be opened or read")
        return device

    got: list[Message] = []

    async def app(_: Scope, receive: Receive, __: Send) -> None:
        got.append(await receive())

    async def receive() -> Message:
        return {"type": "websocket.receive", "text": "x"}

    async def send(message: Message) -> None:
        got.append(message)

    scope = scope_of(THERE, "10.0.0.5:8320", "websocket") | {"scheme": "ws"}
    ran(Guard(app, NETWORK, found)(scope, receive, send))
    assert got == [{"type": "websocket.disconnect", "code": 1013}]
    got.clear()
    ran(Guard(app, NETWORK, found)(scope, receive, send))
    assert got == [{"type": "websocket.close", "code": 1013}]


def test_when_a_device_was_seen_is_written_while_nobody_waits(shop):
    then = datetime.now(UTC) - timedelta(hours=1)
    device, token = pair_device(shop, make_pairing_code(shop, ADA, "bench", then), "a phone", then)
    find = device_finder(SimpleNamespace(shop=lambda: shop))
    with shop.writing() as connection:
        seen_now(connection, device, then)  # holds the file, or the device's row
        begun = time.monotonic()
        assert [find(token).id for _ in range(5)] == [device.id] * 5
        took_s = time.monotonic() - begun
        writers = [one for one in threading.enumerate() if "_write" in one.name]
    for one in writers:
        one.join()
    assert took_s < 1.0
    assert len(writers) == 1
    assert device_of(shop, token, datetime.now(UTC)).last_seen_at > then


def test_a_device_is_let_in_although_that_cannot_be_written_down(shop, monkeypatch):
    then = datetime.now(UTC) - timedelta(hours=1)
    device, token = pair_device(shop, make_pairing_code(shop, ADA, "bench", then), "a phone", then)
    tried = threading.Event()

    def full(*_: object) -> None:
        tried.set()
        raise ShopOutOfReachError("the disk is full")

    monkeypatch.setattr("breakangle.web.entry_points.keep_seen", full)
    assert device_finder(SimpleNamespace(shop=lambda: shop))(token) == device
    assert tried.wait(5)


@pytest.fixture
def damaged(tmp_path: Path) -> Iterator[tuple[TestClient, TestClient]]:
    """Return a device and this computer, both of a bench whose file of records is none."""
    (tmp_path / "shop.db").write_bytes(b"not a database" * 1000)
    app = make_app(Options(tmp_path, port=8320, hosts=NETWORK.hosts, network=True))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield tuple(
            TestClient(app, base_url=f"http://{host}:8320", client=client, follow_redirects=False,
                       cookies={"bench-device": "token"})
            for host, client in (("10.0.0.5", THERE), ("127.0.0.1", HERE))
        )  # fmt: skip


def test_a_device_reads_of_damaged_records_what_this_computer_reads(damaged):
    device, here = damaged
    told = device.get("/")
    assert told.status_code == here.get("/").status_code == 503
    assert "records are damaged" in told.text
    assert told.headers["x-content-type-options"] == "nosniff"
    assert device.get("/api/visits").json()["error"]["given"] == "the shop's records are damaged"
    assert device.post("/view").status_code == 503
    assert device.get("/static/assets.json").status_code == 200, "its styles come all the same"


def test_an_origin_or_host_that_is_no_address_is_foreign(damaged):
    _, here = damaged
    assert here.post("/view", headers={"origin": "http://["}).status_code == 403
    assert here.get("/ping", headers={"host": "127.0.0.1:" + "8" * 5000}).status_code == 421
    assert here.post("/view", headers={"content-length": "9" * 5000}).status_code == 413


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "LOCALHOST", "[::1]"])
def test_on_the_port_that_no_browser_names_this_computer_is_let_in(host):
    door = Guard(PlainTextResponse("in"), Options(Path(), port=80), lambda token: None)
    assert ran(asked(door, scope_of(HERE, host))) == 200
    assert ran(asked(door, scope_of(HERE, f"{host}:80"))) == 200
    assert ran(asked(door, scope_of(HERE, f"{host}:81"))) == 421


def test_addresses_that_were_refused_are_not_kept():
    now = [0.0]
    tries = Tries(lambda: now[0])
    assert sum(tries.allowed(str(one)) for one in range(2 * MOST_ADDRESSES)) == MOST_ALL
    for minute in range(1, 3 * MOST_ADDRESSES // MOST_ALL):
        now[0] = minute * (WITHIN_S + 1)
        assert sum(tries.allowed(f"{minute}-{one}") for one in range(MOST_ALL + 5)) == MOST_ALL
    assert len(tries._each) <= MOST_ADDRESSES + MOST_ALL
