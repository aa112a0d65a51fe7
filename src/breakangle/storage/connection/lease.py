"""One server at a time for a shop's folder: a lease that is held while it runs, and taken over only when asked for.

Single commands may work beside the server: the database keeps them apart. Two servers would each believe that what
they remember of the shop is so.
"""

import json
import os
import secrets
import socket
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.files.blobs import write_whole
from breakangle.storage.schema.errors import ShopMovedError, ShopOutOfReachError

NOTE, HELD = "serving.json", "serving.lock"


@dataclass(frozen=True)
class Holder:
    """Who serves the shop: a word that nobody else has, the process, its computer, and where to open it."""

    word: str
    process: int
    computer: str
    address: str


class Lease:
    """A held lease; `check` is called before anything is acknowledged."""

    def __init__(self, folder: Path, holder: Holder, held: IO[bytes] | None) -> None:
        """Keep whose it is, and the file whose lock ends with the process."""
        self.folder, self.holder, self._held = folder, holder, held

    def check(self) -> None:
        """Return if this server still holds the shop.

        Raises:
            ShopMovedError: another server has taken it over.
        """
        there = holder_of(self.folder)
        if there is not None and there.word != self.holder.word:
            given = tr("another server has taken this shop over: {described}", described=described(there))
            raise ShopMovedError(
                given, tr("nothing was stored"), tr("go on at {address}", address=there.address)
            )

    def end(self) -> None:
        """Give the lease back."""
        with suppress(OSError):
            there = holder_of(self.folder)
            if there is not None and there.word == self.holder.word:
                (self.folder / NOTE).unlink()
        if self._held is not None:
            self._held.close()


def hold(folder: Path, address: str, take_over: bool = False) -> Lease | None:
    """Hold the shop's folder for this server; None where nothing can be written there anyway.

    Raises:
        CorrectInputError: another server holds it, and it is not to be taken over.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        held = (folder / HELD).open("ab")
    except OSError:
        return None
    there, alone = holder_of(folder), locked(held)
    elsewhere = there is not None and there.computer != socket.gethostname()
    if there is not None and (not alone or elsewhere) and not take_over:
        held.close()
        remedy = tr(
            "open {address}, or add --take-over, which stops that one from storing anything",
            address=there.address,
        )
        raise CorrectInputError(
            tr("this shop is served already: {described}", described=described(there)),
            tr("one server at a time"),
            remedy,
        )
    holder = Holder(secrets.token_hex(8), os.getpid(), socket.gethostname(), address)
    try:
        write_whole(folder / NOTE, json.dumps(asdict(holder)).encode())
    except ShopOutOfReachError:
        held.close()
        return None
    return Lease(folder, holder, held)


def holder_of(folder: Path) -> Holder | None:
    """Return who is written down as serving the shop; None where nobody is."""
    try:
        return Holder(**json.loads((folder / NOTE).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def described(holder: Holder) -> str:
    """Return who it is, in words."""
    return tr(
        "process {process} on {computer}, at {address}",
        process=holder.process,
        computer=holder.computer,
        address=holder.address,
    )


def locked(held: IO[bytes]) -> bool:
    """Lock the file for as long as it is open, and return whether that could be had."""
    try:
        import fcntl
    except ImportError:  # Windows
        import msvcrt

        try:
            msvcrt.locking(held.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        except OSError:
            return False
        return True
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
