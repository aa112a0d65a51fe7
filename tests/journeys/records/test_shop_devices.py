"""Devices paired by a code, known by a token, revoked; on both engines."""

import json
import zipfile
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from sqlalchemy import text
from starlette.requests import HTTPConnection

from breakangle.model.errors import CorrectInputError
from breakangle.services.overview.exports import list_names
from breakangle.services.workshop.devices import (
    CODE_LENGTH,
    CODE_SIGNS,
    device_of,
    devices,
    keep_seen,
    make_pairing_code,
    pair_device,
    revoke_device,
    seen_long_ago,
)
from breakangle.storage.backup.copies import make_backup
from breakangle.storage.backup.restoring import restore_backup, restore_on_server
from breakangle.storage.exchange.exchange import ORDER, export_shop, import_shop
from breakangle.storage.records.devices import holds_until
from breakangle.storage.records.records import Device
from breakangle.storage.schema.errors import PairingRefusedError
from breakangle.web.visitor import VIEW_COOKIE, View, visitor_of
from shop_fixtures.filled import fill
from shop_fixtures.people import ADA, BO, START, later

pytest_plugins = ["shop_fixtures.shops"]


def minutes(count: float):
    return START + timedelta(minutes=count)


def paired(shop, role: str = "bench", name: str = "a phone"):
    return pair_device(shop, make_pairing_code(shop, ADA, role, START), name, minutes(1))


def everything(shop) -> str:
    """Return every value stored, as text."""
    with shop.reading() as connection:
        rows = [
            tuple(row)
            for table in ("device", "pairing", "change")
            for row in connection.execute(text(f"SELECT * FROM {table}"))
        ]
    return repr(rows)


def test_a_code_pairs_a_device_and_its_token_lets_it_in(shop):
    code = make_pairing_code(shop, ADA, "bench", START)
    assert len(code) == CODE_LENGTH
    assert set(code) <= set(CODE_SIGNS)
    assert not set(CODE_SIGNS) & set("01ILOU")
    device, token = pair_device(shop, f" {code[:4].lower()}-{code[4:]} ", "a phone", minutes(9.9))
    assert (device.name, device.role, device.created_by) == ("a phone", "bench", "Ada")
    assert len(token) >= 43  # 32 bytes as base64 (RFC 4648, section 5) without padding
    assert device_of(shop, token, START).id == device.id
    assert device_of(shop, token + "x", START) is None
    assert device_of(shop, "", START) is None
    stored = everything(shop)
    assert code not in stored
    assert token not in stored
    assert token not in repr(device)
    assert device.token_hash not in repr(device)


def test_a_code_is_good_once_and_for_ten_minutes(shop):
    code = make_pairing_code(shop, ADA, "read-only", START)
    pair_device(shop, code, "one", minutes(1))
    late = make_pairing_code(shop, ADA, "read-only", START)
    for spent, at in ((code, 2), (late, 10), ("NOSUCHCO", 1), ("", 1)):
        with pytest.raises(PairingRefusedError, match=r"good for one device and 10 minutes") as refused:
            pair_device(shop, spent, "two", minutes(at))
        assert "\n" not in str(refused.value)
    assert [one.name for one in devices(shop)] == ["one"]
    with pytest.raises(CorrectInputError, match="one of owner, bench, read-only"):
        make_pairing_code(shop, ADA, "king", START)
    with pytest.raises(CorrectInputError, match="no name"):
        pair_device(shop, late, "  ", minutes(1))


def test_wrong_tries_of_a_stranger_do_not_spoil_the_owner_code(shop):
    code = make_pairing_code(shop, ADA, "bench", START)
    for _ in range(50):
        with pytest.raises(PairingRefusedError):
            pair_device(shop, "AAAAAAAA", "a stranger", minutes(1))
    assert pair_device(shop, code, "a phone", minutes(2))[0].name == "a phone"


def test_token_holds_half_a_year_unused_and_a_year_at_most(shop):
    _, token = paired(shop)
    assert device_of(shop, token, later(days=180).at) is not None
    assert device_of(shop, token, later(days=181).at) is None
    for day in range(100, 365, 100):
        keep_seen(shop, device_of(shop, token, later(days=day).at), later(days=day).at)
    assert device_of(shop, token, later(days=364).at) is not None
    assert device_of(shop, token, later(days=367).at) is None


def test_two_devices_with_one_code_at_one_moment_are_one_device(shop):
    code = make_pairing_code(shop, ADA, "bench", START)

    def one(number: int) -> bool:
        try:
            pair_device(shop, code, f"phone {number}", minutes(1))
        except PairingRefusedError:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sorted(pool.map(one, range(8))) == [False] * 7 + [True]
    assert len(devices(shop)) == 1


def test_strangers_who_try_at_one_moment_are_all_counted(shop):
    code = make_pairing_code(shop, ADA, "bench", START)

    def one(number: int) -> None:
        with pytest.raises(PairingRefusedError):
            pair_device(shop, f"AAAAAAA{number}", "a stranger", minutes(1))

    with ThreadPoolExecutor(5) as pool:
        list(pool.map(one, range(2, 7)))
    with shop.reading() as connection:
        assert connection.execute(text("SELECT tries FROM pairing")).scalar_one() == 5
    assert pair_device(shop, code, "a phone", minutes(1))[0].name == "a phone"


def test_last_seen_is_kept_to_the_minute_and_is_no_edit(shop):
    device, token = paired(shop)
    seen = []
    for at in (1.5, 1.99, 2.5, 2.6, 4):
        here = device_of(shop, token, START)
        if seen_long_ago(here, minutes(at)):
            keep_seen(shop, here, minutes(at))
        seen.append(device_of(shop, token, START).last_seen_at)
    assert seen == [minutes(1), minutes(1), minutes(2.5), minutes(2.5), minutes(4)]
    assert shop.get(Device, device.id).version == 1


def test_a_revoked_device_stays_out_whatever_is_brought_back(shop):
    (device, token), (other, kept) = paired(shop), paired(shop, name="a tablet")
    gone = revoke_device(shop, device.id, BO)
    assert device_of(shop, token, START) is None
    assert device_of(shop, kept, START).id == other.id
    assert [one.id for one in devices(shop)] == [other.id]
    back = shop.restore(Device, device.id, later(days=1))
    assert device_of(shop, token, START) is None
    with pytest.raises(CorrectInputError, match="never changed"):
        shop.undo(back, ADA)
    assert secret_nowhere(shop, device.token_hash)
    assert gone.deleted_at == BO.at


def secret_nowhere(shop, secret: str) -> bool:
    return secret not in everything(shop)


def test_devices_and_codes_never_leave(new_shop, shop, tmp_path):
    fill(shop)
    device, _ = paired(shop)
    revoked, _ = paired(shop, name="lost")
    revoke_device(shop, revoked.id, ADA)
    make_pairing_code(shop, ADA, "owner", START)
    export_shop(shop, tmp_path / "all.zip")
    assert not {"device", "pairing"} & set(ORDER)
    assert "devices" not in list_names()
    with zipfile.ZipFile(tmp_path / "all.zip") as zipped:
        whole = b"".join(zipped.read(name) for name in zipped.namelist())
    for secret in (device.token_hash, device.id, revoked.id, "pairing", "token_hash"):
        assert secret.encode() not in whole
    other = new_shop("other")
    import_shop(other, tmp_path / "all.zip")
    assert other.every(Device, deleted=True) == ()


def test_what_somebody_else_wrote_into_an_export_lets_nobody_in(new_shop, shop, tmp_path):
    """A zip made to bring a device with it, as a table and as a former content of one."""
    import hashlib

    fill(shop)
    export_shop(shop, tmp_path / "all.zip")
    row = {
        "id": "made-up",
        "version": 1,
        "name": "x",
        "role": "owner",
        "token_hash": "0" * 64,
        "deleted_at": None,
    }
    row |= {"created_at": "2027-01-11T09:00:00.000000Z", "created_by": "x"}
    row |= {"changed_at": row["created_at"], "changed_by": "x", "last_seen_at": None}
    change = {
        "id": "c1",
        "record_table": "device",
        "record_id": "made-up",
        "version": 1,
        "body": json.dumps(row),
    }
    with zipfile.ZipFile(tmp_path / "all.zip") as old:
        parts = {name: old.read(name) for name in old.namelist()}
    parts["device.jsonl"] = json.dumps(row).encode() + b"\n"
    parts["change.jsonl"] += json.dumps(change).encode() + b"\n"
    told = json.loads(parts["manifest.json"])
    for name in ("device.jsonl", "change.jsonl"):
        told["sha256"][name] = hashlib.sha256(parts[name]).hexdigest()
    parts["manifest.json"] = json.dumps(told).encode()
    with zipfile.ZipFile(tmp_path / "made.zip", "w") as new:
        for name, content in parts.items():
            new.writestr(name, content)
    other = new_shop("other")
    import_shop(other, tmp_path / "made.zip")
    assert other.every(Device, deleted=True) == ()
    assert "made-up" not in everything(other)


def test_a_restored_shop_lets_in_nobody_who_was_revoked_since(shop):
    fill(shop)
    device, token = paired(shop)
    made = make_backup(shop, START)
    revoke_device(shop, device.id, BO)
    if shop.is_file:
        shop.close()
        restore_backup(shop.folder, made.path, later(days=1).at)
    else:
        restore_on_server(shop, made.path, later(days=1).at)
    assert device_of(shop, token, START) is None
    assert devices(shop) == ()


def test_a_device_is_one_persons_until_its_day(shop):
    code = make_pairing_code(shop, ADA, "bench", START)
    device, token = pair_device(shop, code, "a phone", START, person=" Bo Lindqvill ")
    assert device_of(shop, token, START).person == "Bo Lindqvill"
    assert holds_until(device) == later(days=180).at
    keep_seen(shop, device, later(days=300).at)
    assert holds_until(shop.get(Device, device.id)) == later(days=365).at
    with pytest.raises(CorrectInputError, match="at most 80 characters"):
        pair_device(shop, code, "a phone", START, person="x" * 81)


def test_what_a_persons_device_stores_carries_that_name():
    """The name is the device's on the server: another one that its browser was told does not replace it."""
    state = {"role": "bench", "device_name": "a phone", "person": "Bo Lindqvill"}
    cookie = f"{VIEW_COOKIE}={View(who='Ada').to_cookie()}".encode()
    for person, who in (("Bo Lindqvill", "Bo Lindqvill"), (None, "Ada")):
        scope = {"type": "http", "headers": [(b"cookie", cookie)], "state": state | {"person": person}}
        assert visitor_of(HTTPConnection(scope)).who == who
