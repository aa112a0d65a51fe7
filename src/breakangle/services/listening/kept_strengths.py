"""A player's strengths heard at a visit, kept with the instrument and, if wished, for all of its kind in the shop."""

import json
from collections.abc import Sequence

from breakangle.model.errors import CorrectInputError
from breakangle.model.playing import PlayedStrengths
from breakangle.model.words.speech import tr
from breakangle.services.listening.recordings import heard_again
from breakangle.services.listening.strokes import strengths_of
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.instrument_at_visit import correct_visit
from breakangle.services.visits.visits import checked_body, instrument_of
from breakangle.services.workshop.house_strengths import keep_house_strengths
from breakangle.storage.records.records import Attachment, InstrumentRecord, Visit
from breakangle.storage.records.store import Shop, change_record, one_record, records_where
from breakangle.storage.schema.stamp import Stamp


def strengths_heard(
    shop: Shop, visit: Visit, recordings: Sequence[Attachment], who: str, stamp: Stamp
) -> PlayedStrengths:
    """Return the strengths of a dozen plucks in recordings: the first third light, then medium, then heavy.

    Raises:
        CorrectInputError: nobody is named as the player.
        ReadAgainError: too few plucks that tell their height, or they do not rise.
    """
    if not who.strip():
        raise CorrectInputError(tr("nobody is named"), tr("who played"), tr("say whose strengths these are"))
    heard = heard_again(shop, visit, recordings)
    day = f"{stamp.at.astimezone():%Y-%m-%d}"
    return strengths_of([one.stroke for one in heard.takes], service_of(shop, visit.id), who.strip(), day)


def keep_strengths(
    shop: Shop, visit: Visit, found: PlayedStrengths, stamp: Stamp, for_shop: bool = False
) -> InstrumentRecord:
    """Store how an instrument is played, with who and when, in its record and its visits that are not handed back.

    `for_shop`: the shop plays all instruments of the kind so, where no player of theirs was heard.

    Raises:
        ServiceFileError: a visit's readings do not fit the instrument any more.
    """
    with shop.writing() as connection:
        record = one_record(connection, InstrumentRecord, visit.instrument_id)
        before = instrument_of(record)
        made = before.model_copy(update={"playing": found})
        body = json.dumps(checked_body(made)["instrument"], ensure_ascii=False)
        kept = change_record(connection, record, stamp, body=body)
        for one in records_where(connection, Visit, instrument_id=record.id):
            if one.handed_back_at is None:
                correct_visit(connection, one, before, made, stamp)
        if for_shop:
            keep_house_strengths(connection, made.kind, found, stamp)
    return kept
