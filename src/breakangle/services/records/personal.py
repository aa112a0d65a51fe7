"""What is one person's: words, instruments, visits, photographs; also what was, before it was another's."""

import html
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from breakangle.planning.kinds.registry import adjustment_kinds, reading_kinds
from breakangle.reference.families import families
from breakangle.services.visits.instrument_identity.joining import (
    Joining,
    attachments_joined_away,
    joinings_of,
    visits_joined_away,
)
from breakangle.storage.backup.erased_words import (
    LEAST_LETTERS,
    WHEN,
    is_a_number,
    is_distinctive,
    leads_to_one,
    wide,
)
from breakangle.storage.records.records import Attachment, InstrumentRecord, Owner, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.tables import STATES

MAIL = re.compile(r"[^\s,;<>]+@[^\s,;<>]+")
DIGITS = re.compile(r"\+?\d[\d ()/.-]{4,}\d")


@dataclass(frozen=True)
class Personal:
    """One person's records: `own` are the ids of all; `photographs` those of the person's visits and instruments."""

    own: frozenset[str]
    visits: tuple[Visit, ...]
    photographs: tuple[Attachment, ...]


def personal(shop: Shop, owner: Owner) -> Personal:
    """Return what is the person's, deleted or not; of an instrument that others had too, what is of that time."""
    keys, visits = list[str](), dict[str, Visit]()
    for one in shop.every(InstrumentRecord, deleted=True):
        since, until = _theirs(shop, one, owner.id)
        if one.owner_id == owner.id:
            keys.append(one.id)
        elif until is None:
            continue
        others = {number for each in joinings_of(shop, one.id) for number in _of_another(each, owner.id)}
        for visit in shop.every(Visit, deleted=True, instrument_id=one.id):
            left = visit.handed_back_at or visit.deleted_at
            before = since is not None and left is not None and left < since
            # Open when it passed on, it is the next owner's: the first may have been noted by mistake.
            after = until is not None and (left is None or left >= until)
            if not (before or after or visit.number in others):
                visits[visit.id] = visit
    visits |= {one.id: one for one in visits_joined_away(shop, keys, tuple(visits))}
    moved = attachments_joined_away(shop, keys)
    photographs = [
        one
        for one in shop.every(Attachment, deleted=True)
        if one.kind == "photograph"
        and (
            one.visit_id in visits
            or (one.visit_id is None and (one.instrument_id in keys or one.id in moved))
        )
    ]
    return Personal(frozenset({owner.id, *keys, *visits}), tuple(visits.values()), tuple(photographs))


def _of_another(joining: Joining, owner_id: str) -> tuple[int, ...]:
    return () if joining.joined.owner_id in (None, owner_id) else joining.sheets


def _theirs(
    shop: Shop, instrument: InstrumentRecord, owner_id: str
) -> tuple[datetime | None, datetime | None]:
    """Return since when an instrument was this person's, after another's, and until when; None: always, or still."""
    since, until, before = None, None, None
    stood = [(one["owner_id"], one["changed_at"]) for one in shop.earlier(instrument)]
    for whose, at in (*stood, (instrument.owner_id, instrument.changed_at)):
        if whose == owner_id and before not in (None, owner_id) and since is None:
            since = at
        if whose != owner_id and before == owner_id:
            until = at
        before = whose or before
    return since, (None if instrument.owner_id == owner_id else until)


def words_of(shop: Shop, owner: Owner) -> tuple[tuple[str, ...], tuple[str, ...], frozenset[str]]:
    """Return what can only be the person's, parts that may be anybody's, and of those the ones the trade uses too.

    Names, e-mail addresses, telephone numbers and lines of the address, as they are and as they were. A line that
    another person's contact has too, such as one house's street, is nobody's alone.
    """
    told = [(owner.name, owner.contact), *((one["name"], one["contact"]) for one in shop.earlier(owner))]
    names = [name.strip() for name, _ in told]
    lines = [line for _, contact in told for line in _lines_of(contact)]
    others = _lines_of_others(shop, owner)
    alone = {one for one in names if is_distinctive(one)} | {
        one for one in lines if leads_to_one(one) and (is_a_number(one) or one.casefold() not in others)
    }
    found = dict.fromkeys((*names, *lines))
    parts = [*(one for one in found if one not in alone), *(part for name in names for part in name.split())]
    short = frozenset(part for part in parts if len(part) == LEAST_LETTERS - 1 and part[:1].isupper())
    parts = [one for one in parts if len(one) >= (1 if wide(one) else LEAST_LETTERS) or one in short]
    trade = _of_the_trade()
    exact = short | {one for one in parts if one.casefold() in trade}
    return _escaped_too(one for one in found if one in alone), _escaped_too(parts), exact


def _lines_of(contact: str) -> list[str]:
    """Return what a contact names: all of it, its addresses, its numbers, and every line."""
    numbers = [one for one in DIGITS.findall(contact) if not WHEN.fullmatch(one)]
    lines = [line.strip() for line in re.split(r"[\n;,]", contact)]
    named = (contact.strip(), *MAIL.findall(contact), *numbers, *lines)
    return [one for one in named if not WHEN.fullmatch(one)]


def _lines_of_others(shop: Shop, owner: Owner) -> set[str]:
    """Return every line of other people's contacts; whoever has the same name is the same person, noted twice."""
    others = [one for one in shop.every(Owner, deleted=True) if one.name.casefold() != owner.name.casefold()]
    return {line.casefold() for one in others for line in _lines_of(one.contact)}


def _escaped_too(words: Iterable[str]) -> tuple[str, ...]:
    told = tuple(words)
    return tuple(dict.fromkeys((*told, *(html.escape(one) for one in told))))


def _of_the_trade() -> set[str]:
    named: Iterable[str] = (*reading_kinds(), *adjustment_kinds(), *families(), *STATES)
    return {word for name in named for word in re.split(r"[ _-]", name.casefold())}
