"""Devices of the bench: paired with a code that is shown once, known by a token, revoked in one action."""

import secrets
from datetime import datetime, timedelta

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.records.devices import device_with, keep_code, secret_hash, seen_now, use_code
from breakangle.storage.records.records import Device
from breakangle.storage.records.store import Shop, add_record
from breakangle.storage.schema.errors import PairingRefusedError
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.schema.tables import ROLES

CODE_SIGNS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"  # no 0, 1, I, L, O, U: read aloud and typed without doubt
CODE_LENGTH, CODE_LIFE = 8, timedelta(minutes=10)
TOKEN_BYTES = 32
SEEN_EVERY = timedelta(minutes=1)
LONGEST_NAME = 80


def make_pairing_code(shop: Shop, stamp: Stamp, role: str, now: datetime) -> str:
    """Return a new code of 8 signs that pairs one device within 10 minutes; it is kept nowhere but here.

    Raises:
        CorrectInputError: no such role.
    """
    if role not in ROLES:
        raise CorrectInputError(
            tr('"{role}" is no role', role=role),
            tr("one of {roles}", roles=", ".join(ROLES)),
            tr("choose one"),
        )
    code = "".join(secrets.choice(CODE_SIGNS) for _ in range(CODE_LENGTH))
    with shop.writing() as connection:
        keep_code(connection, code, role, stamp.who, now + CODE_LIFE)
    return code


def pair_device(shop: Shop, code: str, name: str, now: datetime, person: str = "") -> tuple[Device, str]:
    """Return the newly paired device and its token, which is kept nowhere but there.

    `person` is who uses it: all that is stored from it carries that name.

    Raises:
        CorrectInputError: no name for it, or one of more than 80 signs.
        PairingRefusedError: mistyped, used, or older than 10 minutes.
    """
    if not 0 < len(name.strip()) <= LONGEST_NAME:
        raise CorrectInputError(
            tr("the device has no name, or a long one"),
            tr("at most {longest_name} signs", longest_name=LONGEST_NAME),
            tr("name it"),
        )
    if len(person.strip()) > LONGEST_NAME:
        raise CorrectInputError(
            tr("the name of who uses it is long"),
            tr("at most {longest_name} characters", longest_name=LONGEST_NAME),
            tr("shorten it"),
        )
    typed = "".join(sign for sign in code.upper() if sign.isalnum())
    token = secrets.token_urlsafe(TOKEN_BYTES)
    device = None
    with shop.writing() as connection:
        # Not raised in here: a wrong try must be counted, and a raised error would take the count back.
        found = use_code(connection, typed, now)
        if found is not None:
            device = add_record(
                connection, Device, Stamp(found.made_by, now), name=name.strip(), role=found.role,
                token_hash=secret_hash(token), last_seen_at=now,
                person=person.strip() or None,
            )  # fmt: skip
    if device is None:
        raise PairingRefusedError(
            tr("this code pairs no device"),
            tr("a code is good for one device and 10 minutes"),
            tr("type it as it is shown, or make a new one"),
        )
    return device, token


def device_of(shop: Shop, token: str, now: datetime) -> Device | None:
    """Return the device that holds the token, or None; half a year unused, or a year old, a token holds no more."""
    with shop.reading() as connection:
        return device_with(connection, token, now)


def seen_long_ago(device: Device, now: datetime) -> bool:
    """Return whether it is to be kept that the device is here now; when it was last seen is kept to the minute."""
    return device.last_seen_at is None or now - device.last_seen_at >= SEEN_EVERY


def keep_seen(shop: Shop, device: Device, now: datetime) -> None:
    """Keep that the device is here now.

    Raises:
        ShopOutOfReachError: it cannot be written.
    """
    with shop.writing() as connection:
        seen_now(connection, device, now)


def revoke_device(shop: Shop, device_id: str, stamp: Stamp) -> Device:
    """Return the device as it now is: let in no more, by no token.

    Raises:
        NoSuchRecordError: no such device, or a revoked one.
    """
    seen = shop.get(Device, device_id)
    key = f"revoked {seen.id}"  # no token has this hash
    return shop.change(seen, stamp, deleted_at=stamp.at, token_hash=key)


def devices(shop: Shop) -> tuple[Device, ...]:
    """Return the devices that are let in, oldest first."""
    return shop.every(Device)
