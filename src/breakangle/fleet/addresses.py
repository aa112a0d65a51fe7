"""Which addresses may be spoken to, and how."""

import ipaddress
from urllib.parse import urlsplit

from breakangle.fleet.keys import Keys
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.words.speech import tr

PLAIN, SECURE = "tcp", "tls"
# Dask shows what a scheduler and a worker do on pages without TLS, asks nobody who he is, and has no way to leave them
# out: they stay on the machine.
OWN_PAGES = "127.0.0.1:0"
REMEDY = "use tls:// with --keys FOLDER (breakangle fleet-keys makes them)"


def nobody_answers(address: str, keys: Keys | None, waited_s: float) -> ChooseAnotherFileError:
    """Return the error of who waited so long for a scheduler; one of another fleet's keys answers nobody."""
    what = tr("no scheduler answers at {address}", address=address)
    if keys is None:
        waited = tr("waited {waited_s:.0f} s", waited_s=waited_s)
        return ChooseAnotherFileError(what, waited, tr("start one: breakangle fleet-scheduler"))
    return ChooseAnotherFileError(
        what,
        tr("waited {waited_s:.0f} s, and one with other keys answers nobody", waited_s=waited_s),
        tr(
            "start one with these keys: breakangle fleet-scheduler --listen ADDRESS --keys {folder}",
            folder=keys.key.parent,
        ),
    )


def is_loopback(host: str) -> bool:
    """Return whether a host is this machine itself and nothing else."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False  # a name can lead anywhere


def checked_address(address: str, keys: Keys | None) -> str:
    """Return the address, if it may be used with these keys.

    Raises:
        CorrectInputError: no address, or one outside this machine without TLS and certificates.
    """
    parts = urlsplit(address)
    try:
        port = parts.port
    except ValueError:
        port = None
    if parts.scheme not in (PLAIN, SECURE) or not parts.hostname or port is None:
        raise CorrectInputError(
            tr("{address!r} is not a scheduler's address", address=address),
            "such as tcp://127.0.0.1:8786 or tls://bench.example:8786",
        )
    if parts.scheme == SECURE and keys is None:
        raise CorrectInputError(
            tr("{address} without certificates", address=address), tr("TLS needs them on both sides"), REMEDY
        )
    if parts.scheme == PLAIN and not is_loopback(parts.hostname):
        raise CorrectInputError(
            tr("{address} is outside this machine and not encrypted", address=address),
            tr("whoever reaches a scheduler can run code with it"),
            REMEDY,
        )
    return address
