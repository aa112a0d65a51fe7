"""The example workshop: invented people and instruments of five families, two years of visits with seasons.

It lies in a folder of its own beside the user's shop: it is loaded and removed whole, and never mixed with it.
"""

import shutil
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from breakangle.model.concern import Complaint
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.planning.buzz.try_out import Wish
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.services.example_workshop.people import INSTRUMENTS, MAKER, NEW_HERE, OWNERS
from breakangle.services.example_workshop.shelf import count_the_shelf, furnish, photograph
from breakangle.services.example_workshop.visits import (
    SEED,
    Coming,
    Sitting,
    arrives,
    hand_back,
    room_percent,
    serve,
)
from breakangle.services.visits.complaints import add_complaint
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.visits import add_owner, open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import InstrumentRecord, Stock, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import ShopOutOfReachError
from breakangle.storage.schema.stamp import Stamp

FOLDER, DAYS = "example", 730
ROD_DONE = (RodTurn(turns=0.25), Tune())
# How the two on the bench came in, as they read: relief, action at the lowest and at the highest string, in mm.
BENCH = (Wish(0.26, 2.5, 1.95), Wish(0.44, 1.75, 1.45))


def example_folder(folder: Path) -> Path:
    """Return where the example workshop beside the shop in `folder` lies."""
    return folder / FOLDER


def load_example(folder: Path, now: datetime) -> Path:
    """Make the example workshop beside the shop in `folder`, whole or not at all, and return where it is.

    Raises:
        CorrectInputError: it is there already.
        ShopOutOfReachError: the folder cannot be written.
    """
    place = example_folder(folder)
    if place.exists():
        raise CorrectInputError(
            tr("the example workshop is there already"), "", tr("remove it first to make it anew")
        )
    unfinished = folder / f".unfinished-{FOLDER}"
    shutil.rmtree(unfinished, ignore_errors=True)
    shop = shop_at(unfinished)
    try:
        _fill(shop, now)
    finally:
        shop.close()
    unfinished.rename(place)
    return place


def remove_example(folder: Path) -> None:
    """Remove the example workshop; the user's own shop is another folder and is not touched.

    Raises:
        CorrectInputError: there is none.
        ShopOutOfReachError: it cannot be removed.
    """
    place = example_folder(folder)
    if not place.exists():
        raise CorrectInputError(tr("there is no example workshop"), "", tr("load it first"))
    gone = folder / f".unfinished-{FOLDER}"
    try:
        with suppress(FileNotFoundError):
            shutil.rmtree(gone)
        place.rename(gone)
        shutil.rmtree(gone)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            tr("the example workshop cannot be removed: {reason}", reason=reason), "", tr("allow it")
        ) from cause


def _fill(shop: Shop, now: datetime) -> None:
    start = Stamp(MAKER, now - timedelta(days=DAYS))
    owners = [add_owner(shop, start, name, contact) for name, contact in OWNERS]
    packs = furnish(shop, start)
    coming = [
        arrives(shop, owners[owner], name, kind, hours, number, start)
        for number, (name, kind, owner, _, _, hours) in enumerate(INSTRUMENTS)
    ]
    visits = sorted(
        (now - timedelta(days=first - every * count), number)
        for number, (_, _, _, first, every, _) in enumerate(INSTRUMENTS)
        for count in range(first // every + 1)
    )
    for order, (at, number) in enumerate(visits[:-2]):
        visit = serve(shop, coming[number], at, order, packs)
        hand_back(shop, visit, at + timedelta(days=1 + order % 3))
    _on_the_bench(shop, [(coming[number], at) for at, number in visits[-2:]], now)
    new = [
        arrives(shop, owners[owner], name, kind, hours, len(INSTRUMENTS) + number, start)
        for number, (name, kind, owner, hours) in enumerate(NEW_HERE)
    ]
    _this_week(shop, {one.record.name: one for one in (*coming, *new)}, packs, now)
    count_the_shelf(shop, Stamp(MAKER, now))


COMPLAINTS_OF = (
    Complaint(what="hard-to-play", when=("always",)),
    Complaint(what="buzz", strings=(6,), frets=(3, 5), when=("hard",), played="with a pick"),
)


PROMISED_DAYS = (-1, 0)  # from now, for the two on the bench: the first is overdue


def promised_in(now: datetime, days: int) -> str:
    """Return the day so many days from now, as a promise is stored."""
    return (now.astimezone().date() + timedelta(days=days)).isoformat()


def _on_the_bench(shop: Shop, two: list[tuple[Coming, datetime]], now: datetime) -> None:
    """Store the two visits on the bench: one read, one with the rod done and read again."""
    for number, (one, at) in enumerate(two):
        sitting = Sitting(one, at)
        one.made_up.stand_at(BENCH[number], np.random.default_rng(SEED + number))
        sitting.read()
        if number:
            for made in ROD_DONE:
                sitting.do(made)
            sitting.read()
        told = ("hard to press", "buzzes low down & hard to press: “since I turned the screws myself”")
        visit = sitting.store(shop, told[number])
        visit = add_complaint(shop, visit, COMPLAINTS_OF[number], Stamp(MAKER, at))
        promised = promised_in(now, PROMISED_DAYS[number])
        visit = shop.change(visit, Stamp(MAKER, at), promised_on=promised)
        visit = move_visit(shop, visit, "on the bench", Stamp(MAKER, at + timedelta(hours=2)))
        if not number:
            photograph(shop, Stamp(MAKER, at), visit, "front")


def _this_week(shop: Shop, coming: dict[str, Coming], packs: dict[str, Stock], now: datetime) -> None:
    """Store what came in last: one ready, one settling, one handed back yesterday, two waiting and not read."""
    ready = serve(shop, coming["Redwing"], now - timedelta(days=9), 3, packs)
    move_visit(shop, shop.get(Visit, ready.id), "ready", Stamp(MAKER, now - timedelta(days=2)))
    photograph(shop, Stamp(MAKER, now - timedelta(days=9)), ready, "headstock")
    at = now - timedelta(days=6)
    sitting = Sitting(coming["Lapwing"], at)
    sitting.read()
    sitting.restring()
    settling = sitting.store(shop, "new strings, please")
    move_visit(shop, settling, "settling", Stamp(MAKER, at + timedelta(hours=3)))
    back = serve(shop, coming["Bittern"], now - timedelta(days=4), 2, packs)
    hand_back(shop, back, now - timedelta(days=1))
    for name, days, promised, told in (
        ("Siskin", 2, 1, "la 3ª cuerda zumba; <peg 3> slips again"),
        ("Godwit", 1, 5, "bought second-hand: what is it worth doing?"),
    ):
        at = now - timedelta(days=days)
        record = shop.get(InstrumentRecord, coming[name].record.id)
        visit = open_visit(shop, Stamp(MAKER, at), record, told, 20.0, float(round(room_percent(at))))
        shop.change(visit, Stamp(MAKER, at), promised_on=promised_in(now, promised))
