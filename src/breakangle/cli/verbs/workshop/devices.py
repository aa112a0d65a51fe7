"""`devices`: phones and tablets of the network: listed, let in by a code, sent away."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, now, opened, stamp_of
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.records import Device
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "devices",
        help=tr("phones and tablets that may come in from the network"),
        description=tr(
            "List the paired devices; make a code that pairs one (owner, bench, read-only); or "
            "send one away. They come in while `breakangle serve --network` runs."
        ),
    )
    verb.add_argument(
        "--code", metavar="ROLE", help=tr("make a code that pairs one device within 10 minutes")
    )
    verb.add_argument("--revoke", metavar="DEVICE", help=tr("send a device away, by its name or its id"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: no such role or device, or the shop cannot be reached.
    """
    from breakangle.services.workshop.devices import devices, make_pairing_code, revoke_device

    with opened(arguments) as shop:
        if arguments.code is not None:
            code = make_pairing_code(shop, stamp_of(arguments), arguments.code, now())
            say(tr("Pairing code, for one device, 10 minutes: {code}", code=code))
        elif arguments.revoke is not None:
            gone = revoke_device(shop, _named(shop, arguments.revoke).id, stamp_of(arguments))
            say(tr("{gone_name} is let in no more.", gone_name=gone.name))
        else:
            found = devices(shop)
            for one in found:
                say(_line(one))
            if not found:
                say(tr("No device is paired. Make a code: breakangle devices --code bench"))
    return 0


def _named(shop: "Shop", words: str) -> "Device":
    """Return the one device of that name or id.

    Raises:
        CorrectInputError: none, or several.
    """
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.workshop.devices import devices

    found = [device for device in devices(shop) if words in (device.name, device.id)]
    if len(found) != 1:
        given = (
            tr('no device is called "{words}"', words=words)
            if not found
            else tr('{found_count} devices are called "{words}"', found_count=len(found), words=words)
        )
        raise CorrectInputError(given, tr("a name, or an id, as `breakangle devices` lists them"), "")
    return found[0]


def _line(device: "Device") -> str:
    from breakangle.services.visits.visits import local_text
    from breakangle.storage.records.devices import holds_until

    seen = tr("never") if device.last_seen_at is None else local_text(device.last_seen_at)
    who = tr(", used by {person}", person=device.person) if device.person else ""
    paired = local_text(device.created_at)
    until = local_text(holds_until(device))[:10]
    since = tr("paired {paired}, last seen {seen}", paired=paired, seen=seen)
    return tr(
        "{id}  {role:9}  {device_name}{who}  (let in until {until}, {since})",
        id=device.id,
        role=device.role,
        device_name=device.name,
        who=who,
        until=until,
        since=since,
    )
