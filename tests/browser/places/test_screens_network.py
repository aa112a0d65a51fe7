"""The bench on its network: who is let in, as what, and who is not. Devices come from other addresses than its own."""

import http.client
import json
import re
import socket
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.routing import APIRoute
from playwright.sync_api import Browser, Page, expect
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from breakangle.services.workshop.devices import devices, revoke_device
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.schema.stamp import Stamp
from breakangle.web import pages
from breakangle.web.rate_limit import MOST_ALL, MOST_EACH, WITHIN_S, Tries
from web_fixtures.devices import Device, code_for, paired
from web_fixtures.played import on_the_bench
from web_fixtures.process import Served
from web_fixtures.rules import WIDTHS

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]


@pytest.fixture(scope="module")
def network(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Return the app served to the network, an instrument on the bench, `bench.test` one of its names."""
    one = Served(tmp_path_factory.mktemp("network"), ("--network", "--name", "bench.test"))
    one.start()
    on_the_bench(one.folder)
    yield one
    one.stop()


def all_routes() -> list[tuple[str, str]]:
    """Return every route of both shops but the doors, as method and path."""
    found = {("GET", "/sw.js"), ("GET", "/app.webmanifest"), ("GET", "/offline"), ("GET", "/ping")}
    for router in pages.routers():
        for one in router.routes:
            if isinstance(one, APIRoute):
                path = re.sub(r"\{[^}]*\}", "1", one.path)
                found |= {(method, shop + path) for method in one.methods for shop in ("", "/example")}
    assert len(found) > 60
    return sorted(found)


def test_a_request_without_pairing_gets_nothing(network: Served):
    stranger, answered = Device(network, "127.0.0.9"), []
    for method, path in all_routes():
        answer = stranger.ask(method, path, {} if method == "POST" else None)
        wanted = 303 if method in ("GET", "HEAD") else 401
        if (
            answer.status != wanted
            or answer.headers.get("location", "/pair") != "/pair"
            or "Dunlin" in answer.text
        ):
            answered.append((method, path, answer.status))
    assert answered == []
    for path in ("/openapi.json", "/docs", "/api/openapi.json", "/no such page".replace(" ", "%20")):
        assert stranger.ask("GET", path).status == 303
    assert stranger.ask("GET", "/pair").status == 200
    assert Device(network, "127.0.0.9", cookie="guessed").ask("GET", "/").status == 303
    with pytest.raises(InvalidStatus), from_network(network, "127.0.0.9", ""):
        pass


def from_network(served: Served, address: str, cookie: str):
    line = socket.create_connection(("127.0.0.1", served.port), source_address=(address, 0))
    headers = {"Cookie": f"bench-device={cookie}"} if cookie else {}
    url = f"ws://127.0.0.1:{served.port}/visits/1/listen/live"
    return connect(url, sock=line, additional_headers=headers)


def test_a_code_pairs_one_device_by_a_token_no_page_can_read(network: Served):
    code, phone = code_for(network), Device(network, "127.0.0.10")
    answer = phone.pair(f" {code[:4].lower()}-{code[4:]}")
    assert answer.status == 303
    flags = {one.strip().lower() for one in answer.headers["set-cookie"].split(";")[1:]}
    assert {"httponly", "samesite=strict"} <= flags
    assert phone.ask("GET", "/").status == 200
    assert phone.ask("GET", "/visits/1/listen").status == 200
    assert Device(network, "127.0.0.11").pair(code).status == 422, "a code is good for one device"


def test_a_code_dies_after_ten_minutes(network: Served):
    old = code_for(network, at=datetime.now(UTC) - timedelta(minutes=10, seconds=1))
    late = Device(network, "127.0.0.12")
    assert late.pair(old).status == 422
    assert late.cookie == ""


def test_wrong_codes_slow_the_one_who_guesses_and_spoil_no_code(tmp_path):
    served = Served(tmp_path / "own", ("--network",))
    served.start()
    try:
        code, guesser = code_for(served), Device(served, "127.0.0.13")
        assert [guesser.pair("2" * 8).status for _ in range(6)] == [422] * 5 + [429]
        assert guesser.pair(code).status == 429
        own = Device(served, "127.0.0.14")
        assert own.pair(code).status == 303, "a stranger's guesses spoil no code of the owner's"
        assert own.ask("GET", "/").status == 200
        assert Device(served, "127.0.0.15").pair(code).status == 422, "a code is good for one device"
        assert paired(served, "127.0.0.15").ask("GET", "/").status == 200, "a new code works"
    finally:
        served.stop()


def test_tries_are_few_for_each_address_and_for_all_together():
    now = [0.0]
    tries = Tries(lambda: now[0])
    assert [tries.allowed("a") for _ in range(MOST_EACH + 1)] == [True] * MOST_EACH + [False]
    assert sum(tries.allowed(f"b{number}") for number in range(3 * MOST_ALL)) == MOST_ALL - MOST_EACH
    now[0] = WITHIN_S
    assert tries.allowed("a")


def test_a_device_that_was_sent_away_gets_nothing_more(network: Served):
    phone = paired(network, "127.0.0.16", name="the lost one")
    with from_network(network, phone.address, phone.cookie) as line:
        line.send('{"rate_hz": 44100}')
        assert json.loads(line.recv(timeout=5))["event"] == "asks"
        shop = shop_at(network.folder)
        (lost,) = (one for one in devices(shop) if one.name == "the lost one")
        revoke_device(shop, lost.id, Stamp("Ada", datetime.now(UTC)))
        shop.close()
        assert phone.ask("GET", "/").status == 303
        with pytest.raises(ConnectionClosed):
            for _ in range(80):
                line.send(bytes(8192))
                time.sleep(0.1)


def test_a_read_only_device_looks_and_changes_nothing(network: Served):
    tablet = paired(network, "127.0.0.17", "read-only")
    assert tablet.ask("GET", "/visits/1/listen").status == 200
    assert "Start listening" not in tablet.ask("GET", "/visits/1/listen").text
    writes = [path for method, path in all_routes() if method == "POST" and not path.endswith("/view")]
    assert {tablet.ask("POST", path, {}).status for path in writes} == {403}
    assert tablet.ask("POST", "/view", {"units": "inch"}).status == 303
    with pytest.raises(InvalidStatus), from_network(network, tablet.address, tablet.cookie):
        pass


@pytest.mark.parametrize(
    "path", ["/shop/devices", "/shop/export.zip", "/example/shop/devices", "/shop/backups"]
)
def test_what_is_the_owners_is_the_owners(network: Served, path: str):
    number = 20 + len(path)
    phone = paired(network, f"127.0.0.{number}")
    assert phone.ask("GET", path).status == 403
    assert phone.ask("POST", path, {}).status == 403


def test_an_owners_device_may_do_everything(network: Served):
    owner = paired(network, "127.0.0.18", "owner", "Ada's tablet")
    assert "tablet" in owner.ask("GET", "/shop/devices").text
    assert "Pairing code" in owner.ask("POST", "/shop/devices", {"role": "read-only"}).text


@pytest.mark.parametrize(
    "host",
    ["elsewhere.example", "elsewhere.example:{port}", "127.0.0.1:1", "", "127.0.0.1:{port}.", "[", "a:b:c"],
)
def test_a_name_that_is_not_ours_gets_nothing(network: Served, host: str):
    at_home = Device(network, "127.0.0.1")
    assert at_home.ask("GET", "/", Host=host.format(port=network.port)).status == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
    ],
)
def test_what_a_page_of_another_place_sends_changes_nothing(network: Served, headers: dict[str, str]):
    at_home = Device(network, "127.0.0.1")
    assert at_home.ask("POST", "/shop/devices", {"role": "owner"}, **headers).status == 403
    assert (
        at_home.ask(
            "POST", "/shop/devices", {"role": "bench"}, Origin=f"http://127.0.0.1:{network.port}"
        ).status
        == 200
    )


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e/%2e%2e/app.py",
        "/static/....//app.py",
        "/static//etc/passwd",
        "/static/..%5c..%5capp.py",
        "/../../../../etc/passwd",
        "/static/%00",
        "/authority/authority.key",
        "/authority/..%2fshop.db",
    ],
)
def test_no_path_leads_out_of_what_is_served(network: Served, path: str):
    answer = Device(network, "127.0.0.1").ask("GET", path)
    assert answer.status in (400, 404)
    assert "import" not in answer.text
    assert "root:" not in answer.text


def test_too_much_is_refused_before_it_is_read(network: Served):
    at_home = Device(network, "127.0.0.1")
    assert at_home.ask("POST", "/shop/settings", {}, Content_Length=str(3 * 2**20)).status == 413
    assert at_home.ask("POST", "/visits/1/recordings", {}, Content_Length=str(600 * 2**20)).status == 413
    line = http.client.HTTPConnection("127.0.0.1", network.port, timeout=20)
    grows = (bytes(2**16) for _ in range(64))
    try:
        line.request(
            "POST",
            "/shop/settings",
            grows,
            {"Content-Type": "application/x-www-form-urlencoded"},
            encode_chunked=True,
        )
        assert line.getresponse().status >= 400
    except (ConnectionError, http.client.HTTPException):
        pass  # cut off in the middle is refused too
    line.close()


def test_headers_keep_a_page_to_itself(network: Served):
    told = Device(network, "127.0.0.1").ask("GET", "/").headers
    policy = told["content-security-policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    assert told["x-content-type-options"] == "nosniff"
    assert told["cache-control"] == "no-store"


# -- in a browser -----------------------------------------------------------------------------------------


@pytest.fixture
def elsewhere(chromium: Browser) -> Iterator[Page]:
    """Return a tab of a browser on another device: it knows the bench computer by name, over plain http."""
    words = ["--no-sandbox", "--host-resolver-rules=MAP bench.test 127.0.0.1"]
    path = "/usr/bin/chromium"
    browser = chromium.browser_type.launch(executable_path=path, args=words)
    yield browser.new_context(viewport={"width": WIDTHS["phone"], "height": 740}, locale="en-GB").new_page()
    browser.close()


def test_a_phone_is_paired_by_scanning_used_and_sent_away(
    network: Served, elsewhere: Page, screen: Page, tmp_path
):
    import zxingcpp
    from PIL import Image

    screen.goto(f"{network.url}/shop/devices")
    screen.get_by_role("button", name="Make a pairing code").click()
    picture = tmp_path / "code.png"
    screen.locator("figure.scan").screenshot(path=picture)
    (scanned,) = zxingcpp.read_barcodes(Image.open(picture))
    code = scanned.text.split("code=")[1]
    assert code == screen.locator(".pairing-code").inner_text().replace(" ", "")
    elsewhere.goto(f"http://bench.test:{network.port}/visits/1/listen")
    assert elsewhere.url.endswith("/pair")
    elsewhere.goto(f"http://bench.test:{network.port}/pair?code={code}")
    expect(elsewhere.get_by_label("Pairing code")).to_have_value(code)
    elsewhere.get_by_label("A name for this device").fill("phone by the door")
    elsewhere.get_by_role("button", name="Pair").click()
    elsewhere.goto(f"http://bench.test:{network.port}/visits/1/listen")
    expect(elsewhere.locator("#no-microphone")).to_contain_text(
        "came from another computer without a certificate"
    )
    expect(elsewhere.get_by_label("Add a recording")).to_be_visible()
    screen.goto(f"{network.url}/shop/devices")
    screen.get_by_role("button", name="Send away phone by the door").click()
    expect(screen.get_by_text("phone by the door")).to_have_count(0)
    elsewhere.reload()
    expect(elsewhere.get_by_role("heading", name="Pair this device")).to_be_visible()


def test_a_wrong_code_is_told_on_the_page(network: Served, elsewhere: Page):
    elsewhere.goto(f"http://bench.test:{network.port}/pair")
    elsewhere.get_by_label("Pairing code").fill("22222222")
    elsewhere.get_by_label("A name for this device").fill("phone")
    elsewhere.get_by_role("button", name="Pair").click()
    expect(elsewhere.locator("#message")).to_contain_text("This code pairs no device")
