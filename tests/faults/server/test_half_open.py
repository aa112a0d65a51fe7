"""Connections that send half a request, or nothing, and bodies that never end: the owner's page still answers."""

import socket
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import closing

import pytest

from breakangle.web.limits.gate import Gate, Line, Stage
from web_fixtures.process import Served

pytest_plugins = ["web_fixtures.served"]

CHUNKED = (
    b"POST /visits/1/readings/one HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n"
    b"Content-Type: application/x-www-form-urlencoded\r\nTransfer-Encoding: chunked\r\n\r\n"
)
WITHIN_S = 1.0  # issue: the owner's page answers within 1 s
HALF = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Long: "
BODY = b"POST /visits/new HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Length: 100000\r\n\r\n"


def never() -> None:
    raise AssertionError("this connection had to stay")


def held(gate: Gate, number: int, address: str, stage: Stage = Stage.WAITING) -> list[int]:
    """Let a connection in, and return the list that its number is put in when it is ended."""
    ended: list[int] = []
    line = Line(address, lambda: ended.append(number), stage, since_s=float(number))
    assert gate.let_in(number, line)
    return ended


def test_oldest_half_open_connection_of_an_address_gives_way_to_its_next():
    gate = Gate(most=10, most_of_an_address=2, reserve=2)
    first, second = held(gate, 1, "10.0.0.1"), held(gate, 2, "10.0.0.1")
    held(gate, 3, "10.0.0.2")
    held(gate, 4, "10.0.0.1")
    assert (first, second, len(gate)) == ([1], [], 3)


def test_connection_that_is_answered_stays_and_the_next_of_its_address_is_refused():
    gate = Gate(most=10, most_of_an_address=2, reserve=2)
    for number in (1, 2):
        assert gate.let_in(number, Line("10.0.0.1", never, Stage.ANSWERED))
    assert not gate.let_in(3, Line("10.0.0.1", never))
    assert gate.let_in(4, Line("10.0.0.2", never))


def test_body_that_has_brought_least_gives_way_after_those_that_sent_nothing():
    gate = Gate(most=4, most_of_an_address=4, reserve=0)
    bodies = [held(gate, number, f"10.0.0.{number}", Stage.SENDING) for number in (1, 2, 3)]
    for number in (1, 2, 3):
        line = gate.line(number)
        assert line is not None
        line.body_bytes = {1: 5000, 2: 10, 3: 900}[number]
    silent = held(gate, 4, "10.0.0.4")
    held(gate, 5, "10.0.0.5", Stage.ANSWERED)
    held(gate, 6, "10.0.0.6", Stage.ANSWERED)
    assert (silent, bodies) == ([4], [[], [2], []])


def test_this_computer_has_room_that_nobody_else_gets():
    gate = Gate(most=10, most_of_an_address=2, reserve=3)
    for number in range(7):
        assert gate.let_in(number, Line(f"10.0.0.{number}", never, Stage.ANSWERED))
    assert not gate.let_in(7, Line("10.0.0.7", never))
    for number in (8, 9, 10):
        assert gate.let_in(number, Line("127.0.0.1", never, Stage.ANSWERED))
    assert not gate.let_in(11, Line("127.0.0.1", never))


def test_number_of_a_connection_that_gave_way_may_be_that_of_the_next():
    gate = Gate(most=1, most_of_an_address=1, reserve=0)
    old, new = Line("10.0.0.1", lambda: None), Line("10.0.0.1", never)
    assert gate.let_in(5, old)
    assert gate.let_in(5, new)
    gate.gone(5, old)
    assert gate.line(5) is new
    gate.gone(5, new)
    assert len(gate) == 0


@pytest.fixture(scope="module")
def network(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Return the app as devices of the network reach it; any address of 127.0.0.0/8 but the first is a stranger's."""
    served = Served(tmp_path_factory.mktemp("half-open"), ("--network",))
    served.start()
    for _ in range(60):  # what the first plan needs is still being loaded
        if slowest_s(served, 2) < 0.1:
            break
        time.sleep(0.5)
    yield served
    served.stop()


def slowest_s(served: Served, pages: int = 8) -> float:
    """Return how long the slowest of some pages took this computer's own browser."""
    times = []
    for _ in range(pages):
        began = time.monotonic()
        with urllib.request.urlopen(f"{served.url}/shop", timeout=30) as page:
            assert page.status == 200
            assert b"</html>" in page.read()
        times.append(time.monotonic() - began)
    return max(times)


def opened(served: Served, address: str, words: bytes) -> socket.socket:
    line = socket.create_connection(("127.0.0.1", served.port), timeout=10, source_address=(address, 0))
    line.sendall(words)
    return line


@pytest.mark.parametrize("whose", ["this computer", "one stranger", "many strangers"])
@pytest.mark.parametrize("what", ["nothing", "half a head", "half a body"])
def test_owner_page_answers_within_a_second_beside_half_open_connections(
    network: Served, whose: str, what: str
):
    words = {"nothing": b"", "half a head": HALF, "half a body": BODY % network.port}[what]
    lines, slowest = [], 0.0
    slowest_s(network, 1)
    try:
        for number in range(560):
            address = {"this computer": "127.0.0.1", "one stranger": "127.0.0.9"}.get(
                whose, f"127.0.{1 + number // 200}.{1 + number % 200}"
            )
            lines.append(opened(network, address, words))
            if number % 80 == 79:
                slowest = max(slowest, slowest_s(network, 2))
        assert slowest < WITHIN_S
    finally:
        for line in lines:
            line.close()


@pytest.mark.parametrize("size", [100, 30_000, 70_000])
def test_forms_that_stall_hold_up_no_other_readings(network: Served, size: int):
    """Two readings are stored at a time: those whose form never ends take no turn, however much of it has come."""
    lines = [opened(network, "127.0.0.1", CHUNKED % network.port) for _ in range(4)]
    try:
        for line in lines:
            line.sendall(b"%x\r\nbox=gap_6_5_h1&text=%s\r\n" % (size + 20, b"a" * size))
        time.sleep(0.5)
        began = time.monotonic()
        form = urllib.request.Request(f"{network.url}/visits/1/readings/one", data=b"box=gap_6_5_h1&text=1")
        with pytest.raises(urllib.error.HTTPError) as refused:  # this shop has no sheet yet
            urllib.request.urlopen(form, timeout=10)
        refused.value.close()
        assert refused.value.code == 404
        assert time.monotonic() - began < WITHIN_S
    finally:
        for line in lines:
            line.close()


def test_head_that_never_ends_is_cut_off_and_a_slow_upload_is_not(network: Served):
    """10 s for a head; a body of 3,000 bytes a second is slow, and comes in whole."""
    head = opened(network, "127.0.0.1", HALF)
    answers: list[bytes] = []

    def upload() -> None:
        size, pieces = 3000, 18
        words = b"POST /pair HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Type: application/x-www-form-urlencoded\r\n"
        line = opened(
            network, "127.0.0.1", words % network.port + b"Content-Length: %d\r\n\r\n" % (size * pieces)
        )
        with closing(line):
            for _ in range(pieces):
                line.sendall(b"a" * size)
                time.sleep(1.0)
            answers.append(line.recv(65536))

    sender = threading.Thread(target=upload)
    sender.start()
    began = time.monotonic()
    with closing(head):
        head.settimeout(30)
        while time.monotonic() - began < 9.0:  # a byte now and then does not make a head of it
            head.sendall(b"a")
            time.sleep(0.5)
        try:
            ended = head.recv(100)
        except ConnectionResetError:
            ended = b""
    assert ended == b""
    assert 9.0 < time.monotonic() - began < 14.0
    sender.join()
    assert answers[0].startswith(
        b"HTTP/1.1 4"
    )  # the form lacks a code: it was read whole and refused by its sense
