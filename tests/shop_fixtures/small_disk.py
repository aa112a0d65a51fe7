"""A real file system of a few megabytes that can be filled to the last byte, and emptied again."""

import os
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

PART = b"\0" * 4096
WITHOUT = "BREAKANGLE_NO_SMALL_DISK"  # set where CI runs without the right to mount, and that is accepted


class SmallDisk:
    """The mounted file system; `fill` leaves no room, `make_room` makes some again."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.ballast = folder / "ballast"

    def fill(self) -> None:
        with self.ballast.open("ab", buffering=0) as file:
            size = len(PART)
            while size:
                try:
                    size = file.write(PART)
                except OSError as full:
                    assert full.errno == 28, full  # ENOSPC
                    break
        assert self.free() < len(PART)

    def free(self) -> int:
        found = os.statvfs(self.folder)
        return found.f_bavail * found.f_frsize

    def make_room(self) -> None:
        self.ballast.unlink()


@contextmanager
def mounted(megabytes: int, say: pytest.CaptureFixture[str]) -> Iterator[SmallDisk]:
    """Give a file system of this size; where none may be mounted, say so on the terminal and skip, or fail in CI."""
    folder = Path(tempfile.mkdtemp(prefix="small-disk"))  # where a server's ordinary user may enter too
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m,mode=755", "tmpfs", str(folder)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode != 0:
        folder.rmdir()
        words = (
            f"NOT TESTED: a full disk, since no small file system may be mounted here ({done.stderr.strip()})"
        )
        with say.disabled():
            print(f"\n{words}")
        if os.environ.get("CI") == "true" and not os.environ.get(WITHOUT):
            pytest.fail(f"{words}; let the tests mount, or set {WITHOUT}=1 where that is known and accepted")
        pytest.skip(words)
    try:
        yield SmallDisk(folder)
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)
        folder.rmdir()
