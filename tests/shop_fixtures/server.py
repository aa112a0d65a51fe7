"""A PostgreSQL server of the tests' own: a temporary folder, a socket in it, no network, an ordinary user."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

CI = os.environ.get("CI") == "true"
USER = "nobody"


def programs() -> Path | None:
    """Return the folder of the newest server's programs."""
    named = os.environ.get("BREAKANGLE_TEST_POSTGRESQL")
    found = [Path(named)] if named else sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=_version)
    on_path = shutil.which("initdb")
    found = [Path(on_path).parent, *found] if on_path else found
    return next((one for one in reversed(found) if (one / "initdb").exists()), None)


def _version(path: Path) -> int:
    return int(path.parent.name) if path.parent.name.isdigit() else 0


class Server:
    """One server that can be stopped, started, and given new databases."""

    def __init__(self, bin_folder: Path) -> None:
        self.bin = bin_folder
        self.folder = Path(tempfile.mkdtemp(prefix="bpg"))
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
        options = f"-k {self.folder} -c listen_addresses='' -c fsync=off -c max_connections=60"
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-o", options, "-w", "start")

    def stop(self, mode: str = "immediate") -> None:
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-m", mode, "-w", "stop")

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


def server_or_skip() -> Server:
    """Return a running server; without PostgreSQL installed, skip aloud, or fail where CI runs."""
    found = programs()
    if found is None:
        words = "PostgreSQL is not installed: storage is tested on SQLite only (apt-get install postgresql)"
        if CI:
            pytest.fail(words)
        pytest.skip(words)
    return Server(found)
