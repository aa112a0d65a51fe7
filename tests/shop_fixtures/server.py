"""A PostgreSQL server of the tests' own: a temporary folder, a socket in it, no network, an ordinary user."""

import os
import shutil
import signal
import subprocess
import tempfile
import time
from contextlib import suppress
from pathlib import Path

import pytest

CI = os.environ.get("CI") == "true"
USER = "nobody"
LEAST_MEMORY_BYTES, MOST_DYING_S = 4_000_000_000, 60.0
MOST_WAITING_S = "180"  # pg_ctl's own minute is short where every core is busy


def programs() -> Path | None:
    """Return the folder of the newest server's programs."""
    named = os.environ.get("BREAKANGLE_TEST_POSTGRESQL")
    found = [Path(named)] if named else sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=_version)
    on_path = shutil.which("initdb")
    found = [Path(on_path).parent, *found] if on_path else found
    return next((one for one in reversed(found) if (one / "initdb").exists()), None)


def _version(path: Path) -> int:
    return int(path.parent.name) if path.parent.name.isdigit() else 0


def _place() -> str | None:
    """Return a folder in memory if there is a roomy one: hundreds of small databases come and go there at once."""
    memory = Path("/dev/shm")
    roomy = (
        memory.is_dir() and os.access(memory, os.W_OK) and shutil.disk_usage(memory).free > LEAST_MEMORY_BYTES
    )
    return str(memory) if roomy else None


def _children(process: int) -> list[str]:
    return Path(f"/proc/{process}/task/{process}/children").read_text().split()


def _alive(process: int) -> bool:
    """Return whether the process still runs (one that only waits to be collected does not)."""
    try:
        state = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state not in "ZX"


class Server:
    """One server that can be stopped, started, killed, and given new databases; `careful`: on the disk, with fsync."""

    def __init__(self, bin_folder: Path, careful: bool = False, under: Path | None = None) -> None:
        self.bin = bin_folder
        self.careful = careful
        self.folder = Path(tempfile.mkdtemp(prefix="bpg", dir=under if careful else _place()))
        self.made = 0
        if os.geteuid() == 0:
            shutil.chown(self.folder, USER)
        self.run("initdb", "-D", str(self.folder / "data"), "-U", "postgres", "--auth=trust", "--no-sync",
                 "--encoding=UTF8", "--locale=C")  # fmt: skip
        self.start()

    def run(self, program: str, *words: str) -> None:
        """Run one of the server's programs as an ordinary user (a server refuses to be root)."""
        who = {"user": USER, "group": "nogroup", "extra_groups": []} if os.geteuid() == 0 else {}
        with (self.folder.parent / f"{self.folder.name}.log").open("ab") as log:
            subprocess.run(
                [str(self.bin / program), *words], check=True, cwd=self.folder, stdout=log, stderr=log,
                env={"PATH": os.environ["PATH"], "LC_ALL": "C"}, **who,
            )  # fmt: skip

    def start(self) -> None:
        sync = "on" if self.careful else "off"
        options = f"-k {self.folder} -c listen_addresses='' -c fsync={sync} -c max_connections=60"
        self.run(
            "pg_ctl", "-D", str(self.folder / "data"), "-o", options, "-w", "-t", MOST_WAITING_S, "start"
        )

    def stop(self, mode: str = "immediate") -> None:
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-m", mode, "-w", "-t", MOST_WAITING_S, "stop")

    def start_again(self) -> None:
        """Start the server if it has given up."""
        try:
            self.run("pg_ctl", "-D", str(self.folder / "data"), "status")
        except subprocess.CalledProcessError:
            self.start()

    def kill(self) -> None:
        """Kill the server's every process with SIGKILL, as when the machine's memory runs out."""
        first = int((self.folder / "data" / "postmaster.pid").read_text().splitlines()[0])
        os.kill(first, signal.SIGSTOP)  # so that it begins no new one meanwhile
        every = [first, *(int(one) for one in _children(first))]
        for process in every:
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        deadline = time.monotonic() + MOST_DYING_S
        while any(_alive(one) for one in every):
            assert time.monotonic() < deadline, "a killed server process is still there"
            time.sleep(0.01)
        # Where nobody collects dead processes, a new server would take the dead one for a running one.
        for left in (self.folder / "data" / "postmaster.pid", self.folder / ".s.PGSQL.5432.lock"):
            left.unlink(missing_ok=True)

    def url(self, database: str) -> str:
        return f"postgresql+psycopg://postgres@/{database}?host={self.folder}"

    def statement(self, words: str) -> None:
        import psycopg

        with psycopg.connect(
            f"host={self.folder} user=postgres dbname=postgres", autocommit=True
        ) as connection:
            connection.execute(words)  # type: ignore[arg-type]

    def new_database(self, template: str = "template1") -> str:
        """Return the URL of a new, empty database (or a copy of `template`)."""
        self.made += 1
        name = f"shop{self.made}"
        self.statement(f"CREATE DATABASE {name} TEMPLATE {template}")
        return self.url(name)

    def remove(self) -> None:
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)
        Path(f"{self.folder}.log").unlink(missing_ok=True)


def server_or_skip(careful: bool = False, under: Path | None = None) -> Server:
    """Return a running server; without PostgreSQL installed, skip aloud, or fail where CI runs."""
    found = programs()
    if found is None:
        words = "PostgreSQL is not installed: storage is tested on SQLite only (apt-get install postgresql)"
        if CI:
            pytest.fail(words)
        pytest.skip(words)
    return Server(found, careful, under)
