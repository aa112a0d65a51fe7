"""How the app is served: where from, to whom, on which folder."""

from dataclasses import dataclass
from pathlib import Path

LOOPBACK_HOSTS = ("127.0.0.1", "localhost", "[::1]")
USUAL_PORT = 8320


@dataclass(frozen=True)
class Options:
    """What `breakangle serve` was asked for; `hosts` are the names and addresses a browser may ask by.

    `network` lets other devices in once they are paired. With `secure_port` they are served over https there; the
    plain `port` then serves this computer, and to others only the certificate. `take_over` takes the shop from another
    server that holds it.
    """

    folder: Path
    database_url: str | None = None
    port: int = USUAL_PORT
    hosts: tuple[str, ...] = LOOPBACK_HOSTS
    network: bool = False
    secure_port: int | None = None
    take_over: bool = False

    @property
    def address(self) -> str:
        """Return the address to open on this computer."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def network_addresses(self) -> tuple[str, ...]:
        """Return the addresses to open on other devices, the likeliest first."""
        if not self.network:
            return ()
        scheme, port = ("http", self.port) if self.secure_port is None else ("https", self.secure_port)
        return tuple(f"{scheme}://{one}:{port}" for one in self.hosts if one not in LOOPBACK_HOSTS)

    def port_of(self, scheme: str) -> int | None:
        """Return the port that a scheme (http, https, ws, wss) is served on; None where it is not."""
        return self.secure_port if scheme in ("https", "wss") else self.port
