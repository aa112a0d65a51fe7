"""A fleet's workers are killed, poisoned and strange: what is asked is done once, and what is bad is told."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pyarrow.parquet as parquet
import pytest

from breakangle.cli.main import main
from breakangle.fleet.engine import LOST, Engine, elsewhere, local
from breakangle.fleet.items import Item, in_order, items_of
from breakangle.fleet.keys import keys_in, make_keys
from breakangle.fleet.run import run
from breakangle.fleet.studies import study
from breakangle.library.files import example_service, write_service
from breakangle.model.errors import ChooseAnotherFileError
from fleet_fixtures.deeds import POISON, count_and_die, slow_count, squared

pytestmark = pytest.mark.filterwarnings("ignore::ResourceWarning")  # sockets of workers that were killed
KINDS = ("electric-guitar", "bass-four", "ukulele-tenor", "mandolin")


def some(count: int, poisoned: int = -1) -> list[Item]:
    contents = [POISON if n == poisoned else b"x" * n for n in range(count)]
    return in_order(Item(f"item {n:03d}", f"{n:064x}", content) for n, content in enumerate(contents))


@contextmanager
def doing(does: object) -> Iterator[Engine]:
    """Give a local engine whose workers do something else than the jobs."""
    with local(workers=2, deaths=1) as engine:
        yield Engine(engine.connect, does)  # type: ignore[arg-type]


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


@contextmanager
def machines(keys: Path) -> Iterator[str]:
    """Give the address of a scheduler with two workers, processes of their own, over TLS."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tls://127.0.0.1:{free.getsockname()[1]}"
    verb = [sys.executable, "-m", "breakangle"]
    started = [subprocess.Popen([*verb, "fleet-scheduler", "--listen", address, "--keys", str(keys)],
                                stderr=subprocess.DEVNULL)]  # fmt: skip
    try:
        worker = [*verb, "fleet-worker", address, "--keys", str(keys)]
        started += [subprocess.Popen(worker, stderr=subprocess.DEVNULL) for _ in range(2)]
        wait_for_workers(address, keys)
        yield address
    finally:
        for one in started[::-1]:
            one.send_signal(signal.SIGINT)
        for one in started:
            one.wait(20)


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


def test_separate_machines_over_tls_write_the_same_bytes_as_this_one_and_refuse_strangers(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    services = tmp_path / "services"
    services.mkdir()
    for kind in KINDS:
        write_service(services / f"{kind}.json", example_service(kind))
    keys, others = tmp_path / "keys", tmp_path / "others"
    make_keys(keys)
    make_keys(others)
    items = items_of([services])
    with local(workers=1) as engine:
        here = run("predict", items, tmp_path / "here", engine, batch=3)
    with machines(keys) as address:
        there = ["--scheduler", address, "--keys"]
        asked = ["fleet", "predict", str(services), "--out", str(tmp_path / "there")]
        assert main([*asked, *there, str(keys)]) == 0
        assert main([*asked[:-1], str(tmp_path / "strange"), *there, str(others)]) == 2
    assert "no scheduler answers" in capsys.readouterr().err
    assert (tmp_path / "there" / "results.parquet").read_bytes() == here.results.read_bytes()
