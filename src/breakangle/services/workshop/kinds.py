"""The kinds of instrument that the shop made: offered beside the program's own wherever a kind is chosen.

An instrument carries the table of its kind, so a kind can be taken off the list, and a file read elsewhere, without
harm to it. A kind lies with the shop's settings, and so in its backups and exports. Where a later release of the
program has a kind of the same key, the shop's own stands in its place.
"""

from dataclasses import dataclass

from breakangle.model.kind.kind_table import KindTable
from breakangle.reference.families import Family, families, family, family_with
from breakangle.storage.records.records import InstrumentRecord, Setting
from breakangle.storage.records.store import Shop, Writing, records_where
from breakangle.storage.schema.errors import NoSuchRecordError

NAME = "kind:"


@dataclass(frozen=True)
class ShopKind:
    """One kind of the shop's: its key, its table, the version a person saw, and how many instruments are of it."""

    key: str
    table: KindTable
    version: int
    instruments: int


def kinds_on_list(shop: Shop) -> tuple[str, ...]:
    """Return every kind that can be chosen: the program's, then the shop's own by their keys."""
    with shop.reading() as connection:
        own = [key for key, _ in _kept(connection)]
    return (*(one for one in families() if one not in own), *own)


def kinds_offered(shop: Shop) -> tuple[Family, ...]:
    """Return every kind that can be chosen, as `kinds_on_list` has them."""
    with shop.reading() as connection:
        own = [(key, KindTable.model_validate_json(kept.value)) for key, kept in _kept(connection)]
    programs = [family(kind) for kind in families() if kind not in dict(own)]
    return (*programs, *(family_with(key, table) for key, table in own))


def kind_here(shop: Shop, kind: str) -> Family:
    """Return a kind that can be chosen in this shop.

    Raises:
        CorrectInputError: neither the program nor the shop knows it.
    """
    try:
        kept = shop.get(Setting, NAME + kind)
    except NoSuchRecordError:
        return family(kind)  # the program's, or refused with the kinds there are
    return family_with(kind, KindTable.model_validate_json(kept.value))


def shop_kinds(shop: Shop) -> tuple[ShopKind, ...]:
    """Return the shop's own kinds, by name."""
    with shop.reading() as connection:
        found = [
            ShopKind(
                key,
                KindTable.model_validate_json(kept.value),
                kept.version,
                len(records_where(connection, InstrumentRecord, kind=key)),
            )
            for key, kept in _kept(connection)
        ]
    return tuple(sorted(found, key=lambda one: one.table.words.casefold()))


def shop_kind(shop: Shop, key: str) -> ShopKind:
    """Return one of the shop's own kinds.

    Raises:
        NoSuchRecordError: none of that key on the list.
    """
    kept = shop.get(Setting, NAME + key)
    count = len(shop.every(InstrumentRecord, kind=key))
    return ShopKind(key, KindTable.model_validate_json(kept.value), kept.version, count)


def _kept(connection: Writing) -> list[tuple[str, Setting]]:
    every = records_where(connection, Setting)
    return [(one.id.removeprefix(NAME), one) for one in every if one.id.startswith(NAME)]
