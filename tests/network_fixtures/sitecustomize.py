"""Python loads a file of this name by itself when its folder is on the path: so child processes are closed too."""

import ipaddress
import os
import socket
import sys
from pathlib import Path
from typing import Any

LOG_NAME = "CLOSED_NETWORK_LOG"
SENDING = {"socket.connect", "socket.sendto", "socket.sendmsg"}
ASKING = {"socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr"}


class Closed:
    """Whether the network is closed for this process, and what was tried in spite of it."""

    def __init__(self, on: bool, log: str | None) -> None:
        self.on, self.log = on, log
        self.tried: list[str] = []

    def refuse(self, event: str, arguments: tuple[Any, ...]) -> None:
        """Take every event that Python reports; stop those that lead outside."""
        if not self.on or (host := asked(event, arguments)) is None or own(host):
            return
        self.tried.append(f"{event} {host}")
        if self.log is not None:
            with Path(self.log).open("a", encoding="utf-8") as log:
                log.write(f"{sys.argv} {event} {host}\n")
        raise PermissionError(f"{event} to {host}: this network is closed")


def asked(event: str, arguments: tuple[Any, ...]) -> str | None:
    """Return the host that an event would reach; None: it reaches none."""
    if event in ASKING:
        return named(arguments[0])
    if event not in SENDING:
        return None
    way, address = arguments[0], arguments[1]
    # A datagram socket that is connected sends nothing: it only chooses the way. What it sends is seen by itself.
    chooses = event == "socket.connect" and way.type == socket.SOCK_DGRAM
    if chooses or way.family not in (socket.AF_INET, socket.AF_INET6) or address is None:
        return None
    return named(address[0])


def named(host: Any) -> str:
    return host.decode() if isinstance(host, bytes) else str(host or "localhost")


def own(host: str) -> bool:
    """Whether a host is this computer: a loopback address, no address at all, or its own name."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return host.lower() in {"localhost", socket.gethostname().lower()}
    return address.is_loopback or address.is_unspecified


CLOSED = Closed(LOG_NAME in os.environ, os.environ.get(LOG_NAME))
sys.addaudithook(CLOSED.refuse)
