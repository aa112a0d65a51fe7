"""How strongly an instrument is played: its player's, kept from visit to visit."""

from breakangle.storage.records.records import InstrumentRecord, Owner
from breakangle.storage.records.store import Shop, Writing, change_record, one_record
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp


def usual_hand(shop: Shop, record: InstrumentRecord) -> str:
    """Return how strongly the instrument is played: as it was said of it, else of its owner; empty where never."""
    if record.hand or record.owner_id is None:
        return record.hand or ""
    try:
        return shop.get(Owner, record.owner_id, deleted=True).hand or ""
    except NoSuchRecordError:
        return ""


def keep_hand(connection: Writing, instrument_id: str, hand: str, stamp: Stamp) -> None:
    """Keep what a visit says of the hand with the instrument and its owner, within a transaction."""
    record = one_record(connection, InstrumentRecord, instrument_id, deleted=True)
    if not hand:
        return
    if record.hand != hand:
        change_record(connection, record, stamp, hand=hand)
    if record.owner_id is not None:
        owner = one_record(connection, Owner, record.owner_id, deleted=True)
        if owner.hand != hand:
            change_record(connection, owner, stamp, hand=hand)
