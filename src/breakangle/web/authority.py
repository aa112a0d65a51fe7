"""The workshop's own certificate authority: so that phones and tablets of its network may use their microphone.

Its certificate is installed on a device once, for five years; the server's own is made from it anew when its time or
its names run out. It can vouch for nothing but addresses of home networks and this computer's own names, so that
even a stolen key opens no other door. Keys are readable by the account that runs the server only.
"""

import ipaddress
import os
import tempfile
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from breakangle.model.words.speech import tr
from breakangle.storage.schema.errors import ShopOutOfReachError

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

FOLDER = "authority"
AUTHORITY_LIFE, LEAF_LIFE = timedelta(days=5 * 365), timedelta(days=397)
RENEW_BEFORE, CLOCK_SLACK = timedelta(days=30), timedelta(days=1)
HOME_NETWORKS = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8")
LOCAL_NAMES = ("localhost", "local")


@dataclass(frozen=True)
class Certificates:
    """Files of the authority's certificate, the server's with it, and the server's key."""

    authority: Path
    server: Path
    key: Path


def certificates(folder: Path, names: tuple[str, ...], now: datetime) -> Certificates:
    """Return the files to serve over https by `names`, made or renewed where need be.

    Raises:
        ShopOutOfReachError: they cannot be written.
    """
    place = folder / FOLDER
    files = Certificates(place / "authority.crt", place / "server.crt", place / "server.key")
    try:
        place.mkdir(parents=True, exist_ok=True, mode=0o700)
        place.chmod(0o700)
        authority, key = _authority(place, names, now)
        if not _leaf_serves(files, authority, names, now):
            _make_leaf(files, authority, key, names, now)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            tr("{place} cannot be written: {reason}", place=place, reason=reason),
            "",
            tr("allow writing there"),
        ) from cause
    return files


def fingerprint(path: Path) -> str:
    """Return the SHA-256 of a certificate as devices show it, in pairs of digits."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    found = x509.load_pem_x509_certificate(path.read_bytes()).fingerprint(hashes.SHA256()).hex().upper()
    return " ".join(found[at : at + 2] for at in range(0, len(found), 2))


def _authority(
    place: Path, names: tuple[str, ...], now: datetime
) -> tuple["x509.Certificate", "EllipticCurvePrivateKey"]:
    """Return the authority's certificate and key; new ones where there are none, or their time runs out."""
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    certificate, key = place / "authority.crt", place / "authority.key"
    try:
        found = x509.load_pem_x509_certificate(certificate.read_bytes())
        held = load_pem_private_key(key.read_bytes(), None)
        if found.public_key() == held.public_key() and found.not_valid_after_utc > now + LEAF_LIFE / 4:
            return found, held  # type: ignore[return-value]
    except (OSError, ValueError):
        pass  # none yet, or not whole
    return _make_authority(certificate, key, names, now)


def _make_authority(
    certificate: Path, key_file: Path, names: tuple[str, ...], now: datetime
) -> tuple["x509.Certificate", "EllipticCurvePrivateKey"]:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    called = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Breakangle workshop {now:%Y-%m-%d}")])
    usage = x509.KeyUsage(
        digital_signature=False, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=True, crl_sign=True, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    made = (
        x509.CertificateBuilder()
        .subject_name(called)
        .issuer_name(called)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - CLOCK_SLACK)
        .not_valid_after(now + AUTHORITY_LIFE)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.NameConstraints(_may_vouch_for(names), None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(key_file, _key_bytes(key), 0o600)
    _write(certificate, _pem(made), 0o644)
    return made, key


def _may_vouch_for(names: tuple[str, ...]) -> list["x509.GeneralName"]:
    from cryptography import x509

    networks = [ipaddress.ip_network(one) for one in HOME_NETWORKS]
    networks += [ipaddress.ip_network(one) for one in names if _is_address(one)]
    called = dict.fromkeys([*LOCAL_NAMES, *(one for one in names if not _is_address(one))])
    return [*(x509.IPAddress(one) for one in networks), *(x509.DNSName(one) for one in called)]


def vouched_for(authority: "x509.Certificate", names: tuple[str, ...]) -> tuple[str, ...]:
    """Return those of `names` that the authority may vouch for: a new name needs a new authority."""
    from cryptography import x509

    allowed = (
        authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    )
    networks = [ipaddress.ip_network(str(one.value)) for one in allowed if isinstance(one, x509.IPAddress)]
    called = [one.value for one in allowed if isinstance(one, x509.DNSName)]

    def may(name: str) -> bool:
        if _is_address(name):
            return any(ipaddress.ip_address(name) in one for one in networks)
        return any(name == one or name.endswith(f".{one}") for one in called)

    return tuple(one for one in names if may(one))


def _leaf_serves(
    files: Certificates, authority: "x509.Certificate", names: tuple[str, ...], now: datetime
) -> bool:
    """Return whether the server's certificate is of this authority, has the names, and time left."""
    from cryptography import x509
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        found = x509.load_pem_x509_certificate(files.server.read_bytes())
        key = load_pem_private_key(files.key.read_bytes(), None)
        found.verify_directly_issued_by(authority)
    except (OSError, ValueError, TypeError, InvalidSignature):
        return False
    if key.public_key() != found.public_key() or found.not_valid_after_utc <= now + RENEW_BEFORE:
        return False
    there = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    held = {str(one) for one in there.get_values_for_type(x509.IPAddress)} | set(
        there.get_values_for_type(x509.DNSName)
    )
    return set(vouched_for(authority, names)) <= held


def _make_leaf(
    files: Certificates,
    authority: "x509.Certificate",
    signing: "EllipticCurvePrivateKey",
    names: tuple[str, ...],
    now: datetime,
) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key, usable = ec.generate_private_key(ec.SECP256R1()), vouched_for(authority, names)
    sans: list[x509.GeneralName] = [
        x509.IPAddress(ipaddress.ip_address(one)) if _is_address(one) else x509.DNSName(one) for one in usable
    ]
    issuer = x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key())
    made = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Breakangle bench")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - CLOCK_SLACK)
        .not_valid_after(min(now - CLOCK_SLACK + LEAF_LIFE, authority.not_valid_after_utc))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(sans), critical=False)
        .add_extension(issuer, critical=False)
        .sign(signing, hashes.SHA256())
    )
    _write(files.key, _key_bytes(key), 0o600)
    _write(files.server, _pem(made) + _pem(authority), 0o644)


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _pem(made: "x509.Certificate") -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding

    return made.public_bytes(Encoding.PEM)


def _key_bytes(key: "EllipticCurvePrivateKey") -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def _write(path: Path, content: bytes, mode: int) -> None:
    """Write a file whole, never readable by others for a moment."""
    number, unfinished = tempfile.mkstemp(dir=path.parent)
    with os.fdopen(number, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    Path(unfinished).chmod(mode)
    Path(unfinished).replace(path)
