"""How the app is served: where from, to whom, on which folder."""

from dataclasses import dataclass
from pathlib import Path

LOOPBACK_HOSTS = ("127.0.0.1", "localhost", "[::1]")
USUAL_PORT = 8320


@dataclass(frozen=True)
class Options:
    """What `breakangle serve` was asked for; `hosts` are the names and addresses a browser may ask by.

    `network` lets other devices in once they are paired; `secure` says that the app is served over https.
    """

    folder: Path
    database_url: str | None = None
    port: int = USUAL_PORT
    hosts: tuple[str, ...] = LOOPBACK_HOSTS
    network: bool = False
    secure: bool = False

    @property
    def address(self) -> str:
        """Return the address to open on this computer."""
        return f"{'https' if self.secure else 'http'}://127.0.0.1:{self.port}"
