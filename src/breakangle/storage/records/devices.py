"""Who may come in from elsewhere: codes that pair a device once, and devices known by their token's hash."""

import hashlib
import hmac
from datetime import datetime, timedelta

from sqlalchemy import Connection, delete, insert, select, update

from breakangle.storage.records.records import Device, Pairing
from breakangle.storage.schema.tables import DEVICE, PAIRING

FORGOTTEN_AFTER = timedelta(days=1)
UNUSED_AFTER, OLD_AFTER = timedelta(days=180), timedelta(days=365)  # when a device is to be paired again


def secret_hash(secret: str) -> str:
    """Return the SHA-256 of a code or token, in hexadecimal digits."""
    return hashlib.sha256(secret.encode()).hexdigest()


def keep_code(connection: Connection, code: str, role: str, made_by: str, expires_at: datetime) -> None:
    """Keep the hash of a new pairing code, and let go of those that died a day ago."""
    connection.execute(delete(PAIRING).where(PAIRING.c.expires_at < expires_at - FORGOTTEN_AFTER))
    row = {"code_hash": secret_hash(code), "role": role, "made_by": made_by, "expires_at": expires_at}
    connection.execute(insert(PAIRING).values(row | {"used_at": None, "tries": 0}))


def use_code(connection: Connection, code: str, now: datetime) -> Pairing | None:
    """Return the living pairing that `code` belongs to and mark it used; None if it belongs to none.

    A wrong code is counted and changes nothing: a stranger who guesses must not spoil the code that somebody else is
    about to type. How often an address may guess is for the door to say.
    Every living one is compared, in a time that says nothing of where they differ.
    """
    living = (
        select(PAIRING)
        .where(PAIRING.c.used_at.is_(None), PAIRING.c.expires_at > now)
        .order_by(PAIRING.c.code_hash)
        .with_for_update()
    )
    asked, found = secret_hash(code), None
    rows = [Pairing(**row) for row in connection.execute(living).mappings()]
    for one in rows:
        if hmac.compare_digest(one.code_hash, asked):
            found = one
    named = PAIRING.c.code_hash
    if found is not None:
        connection.execute(update(PAIRING).where(named == found.code_hash).values(used_at=now))
    elif rows:
        wrong = update(PAIRING).where(named.in_([one.code_hash for one in rows]))
        connection.execute(wrong.values(tries=PAIRING.c.tries + 1))
    return found


def device_with(connection: Connection, token: str, now: datetime) -> Device | None:
    """Return the device that the token belongs to; None if it belongs to none, or to one revoked or long unused."""
    asked = secret_hash(token)
    living = DEVICE.c.token_hash == asked, DEVICE.c.deleted_at.is_(None)
    row = connection.execute(select(DEVICE).where(*living)).mappings().one_or_none()
    if row is None or not hmac.compare_digest(row["token_hash"], asked):
        return None
    device = Device(**row)
    return None if now > holds_until(device) else device


def holds_until(device: Device) -> datetime:
    """Return until when the device's token lets it in: a year from pairing, or half a year from when it was here."""
    unused = (device.last_seen_at or device.created_at) + UNUSED_AFTER
    return min(unused, device.created_at + OLD_AFTER)


def seen_now(connection: Connection, device: Device, now: datetime) -> None:
    """Keep when the device was last here; that is no edit, so its version stays."""
    connection.execute(update(DEVICE).where(DEVICE.c.id == device.id).values(last_seen_at=now))


def forget_devices(connection: Connection) -> None:
    """Let no device in any more, and no code pair one: after a restore, what was revoked since must stay so."""
    connection.execute(delete(DEVICE))
    connection.execute(delete(PAIRING))
