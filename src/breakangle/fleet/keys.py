"""Certificates for the machines of a fleet: one authority, one certificate that shows a machine belongs to it.

Whoever holds these files can run code on every worker. They are made on one machine, carried to the others by hand, and
readable by their owner only.
"""

import os
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from breakangle.fleet.needs import dask, x509
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr

AUTHORITY, CERTIFICATE, KEY = "authority.crt", "fleet.crt", "fleet.key"
LIFE, SLACK = timedelta(days=397), timedelta(days=1)


@dataclass(frozen=True)
class Keys:
    """The three files: the authority's certificate, this fleet's, and its key."""

    authority: Path
    certificate: Path
    key: Path


def keys_in(folder: str | Path, now: datetime | None = None) -> Keys:
    """Return the keys in a folder.

    Raises:
        ChooseAnotherFileError: one of the three files is not there, they do not belong together, or their time is over
            or has not begun.
    """
    place = Path(folder)
    missing = [name for name in (AUTHORITY, CERTIFICATE, KEY) if not (place / name).is_file()]
    if missing:
        raise ChooseAnotherFileError(
            tr("{place} has no {missing}", place=place, missing=", ".join(missing)),
            "",
            tr("make them: breakangle fleet-keys {place}", place=place),
        )
    found = Keys(place / AUTHORITY, place / CERTIFICATE, place / KEY)
    _check(found, now or datetime.now(UTC))
    return found


def _check(keys: Keys, now: datetime) -> None:
    """Refuse keys that nobody would answer: who waits for that is told no reason."""
    load = x509().load_pem_x509_certificate
    from cryptography.exceptions import InvalidSignature

    place = keys.key.parent
    new = tr("make new ones, for every machine: breakangle fleet-keys NEW-FOLDER")
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT).load_cert_chain(keys.certificate, keys.key)
        above, own = (load(one.read_bytes()) for one in (keys.authority, keys.certificate))
        own.verify_directly_issued_by(above)
    except (OSError, ValueError, TypeError, InvalidSignature) as cause:  # SSLError is an OSError
        raise ChooseAnotherFileError(
            tr("the keys in {place} cannot be read or do not belong together", place=place),
            tr("they are carried whole, all three files"),
            new,
        ) from cause
    day = "%Y-%m-%d"
    if own.not_valid_after_utc < now:
        ended = own.not_valid_after_utc.strftime(day)
        raise ChooseAnotherFileError(
            tr("the keys in {place} ended on {day}", place=place, day=ended), "", new
        )
    if own.not_valid_before_utc > now:
        begins = own.not_valid_before_utc.strftime(day)
        raise ChooseAnotherFileError(
            tr("the keys in {place} begin on {day}", place=place, day=begins),
            "",
            tr("set this machine's clock"),
        )


def make_keys(folder: str | Path, now: datetime | None = None) -> Keys:
    """Make an authority and one certificate under it, for thirteen months; the authority's key is not kept.

    Raises:
        ChooseAnotherFileError: there are keys already, or the folder cannot be written.
    """
    x509()
    from cryptography.hazmat.primitives.asymmetric import ec

    place, begins = Path(folder), (now or datetime.now(UTC)) - SLACK
    if (place / KEY).exists():
        raise ChooseAnotherFileError(
            tr("{place} has keys already", place=place), "", tr("name another folder")
        )
    above, own = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    files = Keys(place / AUTHORITY, place / CERTIFICATE, place / KEY)
    try:
        place.mkdir(parents=True, exist_ok=True, mode=0o700)
        _write(files.authority, _signed(tr("Fleet authority"), above, above, begins), 0o644)
        _write(files.certificate, _signed(tr("Fleet member"), own, above, begins), 0o644)
        _write(files.key, _key_bytes(own), 0o600)
    except OSError as cause:
        why = (cause.strerror or str(cause)).lower()
        raise ChooseAnotherFileError(
            tr("{place} cannot be written: {why}", place=place, why=why), "", tr("name another folder")
        ) from cause
    return files


def _signed(words: str, key: Any, above: Any, begins: datetime) -> bytes:
    """Return a certificate of a key, signed by the one above; the one above signs itself and may sign others."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.serialization import Encoding
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    def named(text: str) -> x509.Name:
        return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])

    itself = key is above
    builder = (
        x509.CertificateBuilder()
        .subject_name(named(words))
        .issuer_name(named("Fleet authority"))
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + LIFE)
        .add_extension(x509.BasicConstraints(ca=itself, path_length=0 if itself else None), critical=True)
    )
    if not itself:
        uses = [ExtendedKeyUsageOID.SERVER_AUTH, ExtendedKeyUsageOID.CLIENT_AUTH]
        builder = builder.add_extension(x509.ExtendedKeyUsage(uses), critical=False)
    made: bytes = builder.sign(above, hashes.SHA256()).public_bytes(Encoding.PEM)
    return made


def security_of(keys: Keys | None) -> Any:
    """Return Dask's security for these keys: nothing unencrypted, certificates asked of both sides; None without."""
    if keys is None:
        return None
    sides = {
        f"tls_{side}_{part}": str(file)
        for side in ("client", "worker", "scheduler")
        for part, file in (("cert", keys.certificate), ("key", keys.key))
    }
    return dask().security.Security(tls_ca_file=str(keys.authority), require_encryption=True, **sides)


def _key_bytes(key: Any) -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    found: bytes = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    return found


def _write(path: Path, content: bytes, mode: int) -> None:
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
        file.write(content)
