"""A fleet's workers are killed, poisoned and strange: what is asked is done once, and what is bad is told."""

import gc
import os
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.parse import urlsplit

import dask.config
import psutil
import pyarrow.parquet as parquet
import pytest

from breakangle.cli.main import main
from breakangle.fleet.addresses import is_loopback
from breakangle.fleet.engine import LOST, Engine, elsewhere, local
from breakangle.fleet.items import Item, in_order, items_of
from breakangle.fleet.keys import keys_in, make_keys
from breakangle.fleet.machines import worker
from breakangle.fleet.run import run
from breakangle.fleet.studies import study
from breakangle.library.files import example_service, write_service
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from fleet_fixtures.deeds import POISON, count_and_die, interrupted, pages_cleared, slow_count, squared

pytestmark = pytest.mark.filterwarnings("ignore::ResourceWarning")  # sockets of workers that were killed
PROFILES = "distributed.worker.profile.enabled"  # samples of what a worker does, held for an hour
KINDS = ("electric-guitar", "bass-four", "ukulele-tenor", "mandolin")


def some(count: int, poisoned: int = -1) -> list[Item]:
    contents = [POISON if n == poisoned else b"x" * n for n in range(count)]
    return in_order(Item(f"item {n:03d}", f"{n:064x}", content) for n, content in enumerate(contents))


@contextmanager
def doing(does: object) -> Iterator[Engine]:
    """Give a local engine whose workers do something else than the jobs."""
    with local(workers=2, deaths=1) as engine:
        yield Engine(engine.connect, does)  # type: ignore[arg-type]


def test_a_worker_that_is_killed_while_it_starts_is_replaced():
    with local(workers=1, gone_s=1.0) as engine:
        assert study(squared, [4], engine) == [16]
        killed = set[int]()
        while len(killed) < 2:  # at work, then the one that starts in its place
            for child in psutil.Process().children(recursive=True):
                with suppress(psutil.NoSuchProcess):
                    if "spawn_main" in " ".join(child.cmdline()) and child.pid not in killed:
                        child.kill()
                        killed.add(child.pid)
        assert study(squared, [6, 7], engine) == [36, 49]


def test_an_item_that_kills_its_worker_is_told_and_the_rest_is_done(tmp_path: Path):
    with doing(count_and_die) as engine:
        outcome = run("predict", some(9, poisoned=4), tmp_path, engine, batch=3)
    assert (outcome.total, outcome.failed) == (9, 1)
    [failed] = parquet.read_table(outcome.failures).to_pylist()
    assert (failed["item"], failed["error"]) == ("item 004", LOST)
    assert "memory" in failed["sentence"]
    rows = parquet.read_table(outcome.results).to_pylist()
    assert [row["item"] for row in rows] == [f"item {n:03d}" for n in range(9) if n != 4]


def test_workers_killed_on_the_way_lose_nothing_and_do_nothing_twice_in_the_table(tmp_path: Path):
    marks, killed = tmp_path / "marks", []
    marks.mkdir()
    items = some(24)

    def kill_some() -> None:
        begun = marks / "begun"
        while len(killed) < 2:
            time.sleep(0.3)
            running = (
                {int(line.split()[-1]) for line in begun.read_text().splitlines()}
                if begun.exists()
                else set()
            )
            for number in sorted(running - set(killed))[:1]:
                try:
                    os.kill(number, signal.SIGKILL)
                except ProcessLookupError:
                    continue
                killed.append(number)

    killer = threading.Thread(target=kill_some)
    killer.start()
    settings = {"marks": str(marks), "seconds": 0.15}
    with doing(slow_count) as engine:
        outcome = run("predict", items, tmp_path / "out", engine, settings=settings, batch=2)
    killer.join()
    assert len(killed) == 2
    assert (outcome.total, outcome.failed) == (24, 0)
    rows = parquet.read_table(outcome.results).to_pylist()
    assert [row["item"] for row in rows] == [one.name for one in items]


def test_a_study_answers_in_order_and_names_only_what_never_ends_or_kills_its_worker():
    """Derived: tasks that wait at a worker when it dies are done; a function's own error is the study's."""
    with local(workers=2, deaths=0) as engine:
        assert study(squared, [0, 1, 2, 3, 4, 6, 7, 8], engine, seconds=1) == [
            0,
            1,
            None,
            None,
            16,
            36,
            49,
            64,
        ]
        assert study(squared, range(4, 5), engine) == [16]
        with pytest.raises(ValueError, match="5"):
            study(squared, [4, 5], engine)


def test_a_worker_holds_the_memory_that_it_used_last_and_leaves_interruptions_to_who_began_it():
    """Derived: a megabyte is 256 pages of 4 kB, so a hundred anew are 25,600; one anew and a growing heap: hundreds."""
    with local(workers=1) as engine:
        [cleared] = study(pages_cleared, [100], engine)
        number = engine.client.run(os.getpid)
        assert study(interrupted, [7], engine) == [7]
        assert engine.client.run(os.getpid) == number
    assert cleared < 2_560


def documented(port: int, places: Mapping[str, Path]) -> dict[str, list[str]]:
    """Return the commands that docs/fleet.md gives for several machines, by verb, all for this one.

    Args:
        port: in the place of the documented one.
        places: the folders in the place of the documented ones.
    """
    page = (Path(__file__).parents[3] / "docs" / "fleet.md").read_text(encoding="utf-8")
    block = page.partition("## On several machines")[2].partition("```text\n")[2].partition("```")[0]
    found = {}
    for line in block.splitlines():
        words = (
            line.partition("#")[0].replace("bench.example", "127.0.0.1").replace("8786", str(port)).split()
        )
        assert words[0] == "breakangle"
        found[words[1]] = [str(places.get(word, word)) for word in words[1:]]
    return found


@contextmanager
def machines(commands: Mapping[str, list[str]], keys: Path) -> Iterator[tuple[str, list[int]]]:
    """Give the address of a scheduler with two workers, processes of their own, over TLS; and their process ids.

    The scheduler listens to other machines too, as one of several does.
    """
    verb, address = [sys.executable, "-m", "breakangle"], commands["fleet-worker"][1]
    asked = [[*verb, *commands[name]] for name in ("fleet-scheduler", "fleet-worker", "fleet-worker")]
    started = [subprocess.Popen(one, stderr=subprocess.DEVNULL) for one in asked]
    try:
        wait_for_workers(address, keys)
        yield address, [one.pid for one in started]
    finally:
        for one in started[::-1]:
            one.send_signal(signal.SIGINT)
        for one in started:
            try:
                one.wait(40)  # a busy machine takes its time to say goodbye to all
            except subprocess.TimeoutExpired:
                one.kill()
                one.wait(20)
                raise


def wait_for_workers(address: str, keys: Path, longest_s: float = 60) -> None:
    ends = time.monotonic() + longest_s
    while True:
        try:
            with elsewhere(address, keys_in(keys), longest_s=5) as engine:
                if engine.workers() == 2 and len(engine.client.nthreads()) == 2:
                    return
        except ChooseAnotherFileError:
            pass
        assert time.monotonic() < ends, "no two workers came"
        time.sleep(0.2)


def is_answered(address: str, keys: Path) -> bool:
    """Return whether a scheduler says anything to one that trusts its certificate and has none of its own."""
    parts = urlsplit(address)
    context = ssl.create_default_context(cafile=str(keys / "authority.crt"))
    context.check_hostname = False  # a fleet's certificate is for no host: what counts is who signed it
    with socket.create_connection((parts.hostname, parts.port), 5) as plain:
        try:
            with context.wrap_socket(plain) as wrapped:
                return wrapped.recv(1) != b""
        except (ssl.SSLError, ConnectionError):
            return False


def says_anything(port: int) -> bool:
    """Return whether a port answers one who asks for a page, without TLS."""
    with socket.create_connection(("127.0.0.1", port), 5) as plain:
        try:
            plain.sendall(b"GET /status HTTP/1.0\r\n\r\n")
            return b"HTTP" in plain.recv(100)
        except ConnectionError:
            return False


def open_to_others(numbers: list[int]) -> list[int]:
    """Return the ports on which these processes and their children listen to other machines."""
    processes = [psutil.Process(number) for number in numbers]
    every = [*processes, *(child for one in processes for child in one.children(recursive=True))]
    sockets = [
        each for one in every for each in one.net_connections("tcp") if each.status == psutil.CONN_LISTEN
    ]
    assert len(sockets) > len(numbers)
    return [each.laddr.port for each in sockets if not is_loopback(each.laddr.ip)]


@pytest.mark.parametrize("address", ["tcp://0.0.0.0:8786", "tls://0.0.0.0:8786", "tcp://bench.example:8786"])
def test_scheduler_and_worker_refuse_to_listen_to_others_without_certificates(
    address: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    assert main(["fleet-scheduler", "--listen", address]) == 2
    assert main(["fleet-worker", address]) == 2
    assert main(["fleet-worker", "tcp://127.0.0.1:8786", "--host", "0.0.0.0"]) == 2
    assert (
        main(["fleet", "plan", str(tmp_path), "--example", "--out", str(tmp_path), "--scheduler", address])
        == 2
    )
    assert capsys.readouterr().err.count("fleet-keys") == 4


def test_a_worker_without_a_scheduler_and_a_scheduler_without_a_port_say_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        place = f"127.0.0.1:{taken.getsockname()[1]}"
        assert main(["fleet-scheduler", "--listen", f"tcp://{place}"]) == 2
    assert f"tcp://{place} cannot be listened at: address already in use" in capsys.readouterr().err
    for address, keys, remedy in (
        (f"tcp://{place}", None, "start one: "),
        (f"tls://{place}", make_keys(tmp_path / "keys"), "start one with these keys: "),
    ):
        with pytest.raises(ChooseAnotherFileError, match=f"no scheduler answers at {address}; .*; {remedy}"):
            worker(address, keys, longest_s=0.2)
    gc.collect()  # sockets that were never opened go here, not in another test


def test_a_worker_that_cannot_begin_says_why_and_not_that_nobody_answers(tmp_path: Path):
    """192.0.2.7 is an address for documentation (RFC 5737): no machine has it."""
    keys = make_keys(tmp_path / "keys")
    with pytest.raises(CorrectInputError, match="the worker did not begin: cannot assign requested address"):
        worker("tls://127.0.0.1:9", keys, host="192.0.2.7", longest_s=0.2)
    gc.collect()  # sockets that were never opened go here, not in another test


def test_separate_machines_over_tls_write_the_same_bytes_as_this_one_and_refuse_strangers(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    services = tmp_path / "services"
    services.mkdir()
    for kind in KINDS:
        write_service(services / f"{kind}.json", example_service(kind))
    keys, others = tmp_path / "keys", tmp_path / "others"
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    commands = documented(port, {"keys": keys, "services": services, "plans": tmp_path / "there"})
    assert list(commands) == ["fleet-keys", "fleet-scheduler", "fleet-worker", "fleet"]
    assert main(commands["fleet-keys"]) == 0
    make_keys(others)
    items = items_of([services])
    with local(workers=1) as engine:
        assert engine.client.run(dask.config.get, PROFILES) == dict.fromkeys(engine.client.nthreads(), False)
        here = run("plan", items, tmp_path / "here", engine, batch=3)
    with machines(commands, keys) as (address, numbers):
        assert main(commands["fleet"]) == 0
        with elsewhere(address, keys_in(keys)) as engine:
            assert engine.client.run(dask.config.get, PROFILES) == dict.fromkeys(
                engine.client.nthreads(), False
            )
        strange = [str(others) if word == str(keys) else word for word in commands["fleet"]]
        assert main(strange) == 2
        assert not is_answered(address, keys)
        ports = open_to_others(numbers)
        assert urlsplit(address).port in ports
        assert not any(is_answered(f"tls://127.0.0.1:{port}", keys) or says_anything(port) for port in ports)
    assert "no scheduler answers" in capsys.readouterr().err
    assert (tmp_path / "there" / "results.parquet").read_bytes() == here.results.read_bytes()
