"""Ctrl+C at any moment of a fleet's run ends all of it with one sentence, and nothing is lost or done twice."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import psutil
import pyarrow.parquet as parquet
import pytest

from breakangle.cli.main import main
from breakangle.library.files import example_service, write_service

LONGEST_S = 240
MANY = 24  # some seconds of work: not all is done when the first is
STOPPED = "\nstopped; the same command goes on from here\n"
Run = subprocess.Popen[str]


def services_in(folder: Path, count: int) -> Path:
    """Write so many service files; return their folder."""
    folder.mkdir()
    for n in range(count):
        write_service(folder / f"{n}.json", example_service())
    return folder


def hearing() -> None:
    """Let a process hear Ctrl+C, as one at a terminal does, though the tests were begun in the background."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@contextmanager
def running(*words: str) -> Iterator[Run]:
    """Give a run of the job `buzz` in a process group of its own, as a terminal's is."""
    run = subprocess.Popen(
        [sys.executable, "-m", "breakangle", "fleet", "buzz", *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
        preexec_fn=hearing,
    )
    try:
        yield run
    finally:
        with suppress(ProcessLookupError):
            os.killpg(run.pid, signal.SIGKILL)
        run.communicate()


def wait_for(run: Run, happens: Callable[[], object]) -> None:
    ends = time.monotonic() + LONGEST_S
    while not happens():
        assert run.poll() is None
        assert time.monotonic() < ends
        time.sleep(0.05)


def workers_of(run: Run) -> list[int]:
    with suppress(psutil.NoSuchProcess):
        children = psutil.Process(run.pid).children(recursive=True)
        return [child.pid for child in children if "spawn_main" in " ".join(child.cmdline())]
    return []


def said_after_ctrl_c(run: Run, times: int = 1) -> str:
    """Interrupt every process of a run; return what it said, when it has ended and left no process."""
    begun = workers_of(run)
    for _ in range(times):
        os.killpg(run.pid, signal.SIGINT)
        time.sleep(0.05)
    said, _ = run.communicate(timeout=LONGEST_S)
    # A shell says 130 of both: Python ends itself with the signal where it fell into the making of a data class.
    assert run.returncode in (130, -signal.SIGINT)
    assert not any(psutil.pid_exists(number) for number in begun)
    return said


def test_ctrl_c_before_any_worker_is_one_sentence(tmp_path: Path):
    with running("--list", "-", "--out", str(tmp_path / "out")) as run:
        assert run.stdin
        run.stdin.write("\n" * 200_000)  # more than a pipe holds: that is read before all of it is written
        run.stdin.flush()
        assert said_after_ctrl_c(run) == STOPPED


@pytest.mark.parametrize(("later_s", "times"), [(0.0, 1), (0.5, 3), (3.0, 1)])
def test_ctrl_c_while_workers_start_is_one_sentence_and_ends_them(tmp_path: Path, later_s: float, times: int):
    """Of one item: no more workers begin than there are items, whatever is asked."""
    services = services_in(tmp_path / "services", 1)
    with running(str(services), "--out", str(tmp_path / "out"), "--workers", "2") as run:
        wait_for(run, lambda: workers_of(run))
        time.sleep(later_s)
        assert len(workers_of(run)) == 1
        assert said_after_ctrl_c(run, times) == STOPPED


def test_ctrl_c_at_work_keeps_what_is_done_and_the_same_command_does_the_rest_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    services, out = services_in(tmp_path / "services", MANY), tmp_path / "out"
    words = (str(services), "--out", str(out), "--workers", "1")

    def finished() -> dict[str, int]:
        return {path.name: path.stat().st_mtime_ns for path in out.glob("parts/[0-9a-f]*.done.parquet")}

    with running(*words) as run:
        wait_for(run, finished)
        said = said_after_ctrl_c(run)
    assert said.endswith(STOPPED)  # how far it has come may stand before it
    assert "Traceback" not in said
    before = finished()
    done = [row["item"] for name in before for row in parquet.read_table(out / "parts" / name).to_pylist()]
    assert 0 < len(done) < MANY
    assert main(["fleet", "buzz", *words]) == 0
    assert f"{MANY} items: {MANY} done, 0 failed; {len(done)} done before" in capsys.readouterr().out
    assert before.items() <= finished().items()
    rows = parquet.read_table(out / "results.parquet", columns=["item", "row"]).to_pylist()
    assert len({(row["item"], row["row"]) for row in rows}) == len(rows)
    assert len({row["item"] for row in rows}) == MANY


@pytest.mark.parametrize("workers", ["1000", "0", "two"])
def test_a_number_of_workers_that_cannot_be_says_which_can(
    workers: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """Four for each processor that this process may use: the program's own rule."""
    most = 4 * len(psutil.Process().cpu_affinity())
    assert main(["fleet", "buzz", "--example", "--out", str(tmp_path), "--workers", workers]) == 2
    said = capsys.readouterr().err
    assert f"--workers: '{workers}' is not a whole number from 1 to {most}: " in said
    assert said.count("\n") == 1
    assert (
        main(["fleet", "buzz", str(tmp_path / "none"), "--out", str(tmp_path), "--workers", str(most)]) == 2
    )
    assert "--workers" not in capsys.readouterr().err
