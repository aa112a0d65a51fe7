"""What this computer is called on its network."""

import ipaddress
import re
import socket
from contextlib import suppress

ELSEWHERE = (
    "192.0.2.1"  # an address of the documentation (RFC 5737): asked for the way there, nothing is sent
)
HOST_NAME = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*")


def network_names(extra: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Return the addresses and names a device of the network may ask this computer by, the likeliest first."""
    found: list[str] = []
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        way.connect((ELSEWHERE, 9))
        found.append(str(way.getsockname()[0]))
    own = socket.gethostname().lower()
    with suppress(OSError):
        found += socket.gethostbyname_ex(own)[2]
    short = own.split(".")[0]
    named = [own, f"{short}.local"] if HOST_NAME.fullmatch(short) else []
    usable = [one for one in found if not _local_only(one)]
    return tuple(dict.fromkeys([*usable, *named, *(one.lower() for one in extra)]))


def _local_only(address: str) -> bool:
    at = ipaddress.ip_address(address)
    return at.is_loopback or at.is_unspecified
