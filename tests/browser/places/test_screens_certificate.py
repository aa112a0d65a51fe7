"""The workshop's own certificate: made once, renewed in time, good for nothing but the workshop; the app over https."""

import signal
import ssl
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import load_pem_private_key
from cryptography.x509.oid import ExtendedKeyUsageOID
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError
from websockets.sync.client import connect

from breakangle.storage.schema.errors import ShopOutOfReachError
from breakangle.web.authority import Certificates, certificates, fingerprint
from web_fixtures.devices import Device, code_for, two_free_ports
from web_fixtures.process import Served

pytest_plugins = ["web_fixtures.served"]

NOW = datetime(2026, 5, 4, 9, tzinfo=UTC)
NAMES = ("127.0.0.1", "localhost", "192.168.1.20", "bench", "bench.local")


def read(path: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(path.read_bytes())


def verifies(files: Certificates, leaf: x509.Certificate, name: str, at: datetime = NOW) -> bool:
    policy = PolicyBuilder().store(Store([read(files.authority)])).time(at)
    subject = x509.IPAddress(ip_address(name)) if name[0].isdigit() else x509.DNSName(name)
    try:
        policy.build_server_verifier(subject).verify(leaf, [])
    except VerificationError:
        return False
    return True


def test_it_vouches_for_every_name_of_this_computer(tmp_path):
    files = certificates(tmp_path, NAMES, NOW)
    assert all(verifies(files, read(files.server), name) for name in NAMES)
    assert not verifies(files, read(files.server), "192.168.1.21")


def test_lives_are_those_that_phones_accept(tmp_path):
    files = certificates(tmp_path, NAMES, NOW)
    leaf, authority = read(files.server), read(files.authority)
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc == timedelta(days=397)
    assert authority.not_valid_after_utc - NOW == timedelta(days=5 * 365)
    usage = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]


def test_keys_are_for_the_account_that_serves_only(tmp_path):
    certificates(tmp_path, NAMES, NOW)
    modes = {path.name: path.stat().st_mode & 0o777 for path in (tmp_path / "authority").iterdir()}
    assert modes == {"authority.crt": 0o644, "authority.key": 0o600, "server.crt": 0o644, "server.key": 0o600}
    assert (tmp_path / "authority").stat().st_mode & 0o777 == 0o700


def test_the_servers_own_is_renewed_in_time_and_the_authority_stays(tmp_path):
    files = certificates(tmp_path, NAMES, NOW)
    first, authority = read(files.server), read(files.authority)
    certificates(tmp_path, NAMES, NOW + timedelta(days=300))
    assert read(files.server) == first
    certificates(tmp_path, NAMES, NOW + timedelta(days=370))
    assert read(files.server) != first
    assert read(files.authority) == authority
    assert verifies(files, read(files.server), "bench.local", NOW + timedelta(days=700))


def test_a_new_address_of_a_home_network_gets_a_new_server_certificate_only(tmp_path):
    files = certificates(tmp_path, NAMES, NOW)
    authority = read(files.authority)
    certificates(tmp_path, (*NAMES, "192.168.1.77"), NOW)
    assert verifies(files, read(files.server), "192.168.1.77")
    assert read(files.authority) == authority


def test_before_the_authority_runs_out_a_new_one_is_made(tmp_path):
    files = certificates(tmp_path, NAMES, NOW)
    authority = read(files.authority)
    later = NOW + timedelta(days=5 * 365 - 60)
    certificates(tmp_path, NAMES, later)
    assert read(files.authority) != authority
    assert verifies(files, read(files.server), "bench.local", later)


@pytest.mark.parametrize("broken", ["authority.crt", "authority.key", "server.crt", "server.key"])
def test_a_damaged_or_missing_file_is_made_again(tmp_path, broken: str):
    files = certificates(tmp_path, NAMES, NOW)
    for damage in (lambda path: path.write_bytes(b"no certificate"), lambda path: path.unlink()):
        damage(tmp_path / "authority" / broken)
        certificates(tmp_path, NAMES, NOW)
        assert verifies(files, read(files.server), "bench.local")
        key = load_pem_private_key(files.key.read_bytes(), None)
        assert key.public_key() == read(files.server).public_key()


@pytest.mark.parametrize("name", ["bank.example", "8.8.8.8"])
def test_a_stolen_key_opens_no_other_door(tmp_path, name: str):
    files = certificates(tmp_path, NAMES, NOW)
    stolen = load_pem_private_key((tmp_path / "authority" / "authority.key").read_bytes(), None)
    assert isinstance(stolen, ec.EllipticCurvePrivateKey)
    own, forged = (
        read(files.server),
        x509.IPAddress(ip_address(name)) if name[0].isdigit() else x509.DNSName(name),
    )
    made = (
        x509.CertificateBuilder()
        .subject_name(own.subject)
        .issuer_name(own.issuer)
        .public_key(own.public_key())
        .serial_number(1)
        .not_valid_before(own.not_valid_before_utc)
        .not_valid_after(own.not_valid_after_utc)
        .add_extension(x509.SubjectAlternativeName([forged]), critical=False)
        .add_extension(
            own.extensions.get_extension_for_class(x509.AuthorityKeyIdentifier).value, critical=False
        )
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(stolen, hashes.SHA256())
    )
    assert not verifies(files, made, name)


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "authority").write_text("a file where the folder should be")
    with pytest.raises(ShopOutOfReachError, match="cannot be written"):
        certificates(tmp_path, NAMES, NOW)


# -- served ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def secure(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    one = Served(tmp_path_factory.mktemp("secure"), ("--network", "--secure"), two_free_ports())
    one.start()
    yield one
    one.stop()


def trusting(served: Served) -> ssl.SSLContext:
    """Return what a device with the workshop's certificate trusts: that, and nothing else."""
    return ssl.create_default_context(cafile=served.folder / "authority" / "authority.crt")


def test_over_plain_http_a_device_gets_the_certificate_and_is_sent_to_https(secure: Served):
    phone = Device(secure, "127.0.0.30")
    told = phone.ask("GET", "/authority")
    assert fingerprint(secure.folder / "authority" / "authority.crt") in told.text
    sent = phone.ask("GET", "/authority/workshop.crt")
    assert sent.headers["content-type"].startswith("application/x-x509-ca-cert")
    assert "PRIVATE" not in sent.text
    answer = phone.ask("GET", "/visits/1")
    assert (answer.status, answer.headers["location"]) == (307, f"https://127.0.0.1:{secure.port + 1}/pair")
    assert phone.pair(code_for(secure)).status == 403


def test_over_https_a_device_is_paired_and_its_token_stays_there(secure: Served):
    tablet = Device(secure, "127.0.0.31", secure=trusting(secure))
    answer = tablet.pair(code_for(secure))
    assert answer.status == 303
    assert "secure" in {one.strip().lower() for one in answer.headers["set-cookie"].split(";")}
    assert tablet.ask("GET", "/").status == 200
    tablet.secure = None
    assert tablet.ask("GET", "/").status == 307, "over plain http even a token opens nothing"
    url = f"wss://127.0.0.1:{secure.port + 1}/visits/1/listen/live"
    with (
        pytest.raises(Exception, match="HTTP 403"),
        connect(url, ssl=trusting(secure), origin="https://elsewhere.example"),
    ):
        pass


def test_this_computer_needs_no_certificate(secure: Served):
    at_home = Device(secure, "127.0.0.1")
    assert at_home.ask("GET", "/").status == 200
    wrong_port = f"127.0.0.1:{secure.port + 1}"
    assert at_home.ask("GET", "/", Host=wrong_port).status == 421


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_ends_both(tmp_path, how: signal.Signals):
    one = Served(tmp_path, ("--network", "--secure"), two_free_ports())
    one.start()
    assert one.process is not None
    one.process.send_signal(how)
    assert one.process.wait(timeout=15) in (0, 130, -how)


def test_without_a_certificate_the_page_says_how_to_get_one(served: Served):
    at_home = Device(served, "127.0.0.1")
    assert "--secure" in at_home.ask("GET", "/authority").text
    assert at_home.ask("GET", "/authority/workshop.crt").status == 404
