"""The shop's own house targets: for a kind of instrument, the hand it is set up for and figures of its own.

They are what a coming visit of such an instrument begins with, unless the instrument has wishes of its own.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, get_args

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.service import SERVICE_FORMAT, Hand, Service
from breakangle.model.words.speech import tr
from breakangle.planning.buzz.try_out import MOST_MM, Wish, wished
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.units_doubted.figures import expectation
from breakangle.planning.estimate.units_doubted.likelihood import Expectation
from breakangle.reference.families import Family, family_of
from breakangle.services.service_files.service import service_from
from breakangle.services.typed_values.doubtful_units import refuse_doubted_size
from breakangle.services.workshop.kinds import kind_here, kinds_on_list
from breakangle.storage.records.records import Setting
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp

HANDS: tuple[str, ...] = get_args(Hand)
FIGURES = tuple(field.name for field in fields(Wish))


WISHED_RATIO = 0.4  # a shop's own figure lies within about that of the usual; common practice, no source


@dataclass(frozen=True)
class HouseTargets:
    """What the shop sets a kind of instrument up to; a figure that is None is the table's for the hand.

    `words`: what the kind is called.
    """

    kind: str
    hand: str
    own: Wish
    usual: Wish
    words: str = ""

    @property
    def changed(self) -> bool:
        """Return whether the shop has said anything of its own."""
        return self.hand != "medium" or self.own != Wish()


def house_targets(shop: Shop, kind: str) -> HouseTargets:
    """Return the shop's targets of a kind of instrument.

    Raises:
        CorrectInputError: no such kind.
    """
    return _of(shop, kind_here(shop, kind))


def _of(shop: Shop, kin: Family) -> HouseTargets:
    kind = kin.kind
    try:
        kept: dict[str, Any] = json.loads(shop.get(Setting, _name(kind)).value)
    except NoSuchRecordError:
        kept = {}
    hand = kept.get("hand", "medium")
    usual = kin.targets[hand]
    return HouseTargets(
        kind,
        hand,
        Wish(**{name: kept.get(name) for name in FIGURES}),
        Wish(**{name: getattr(usual, name) for name in FIGURES}),
        kin.words,
    )


def every_house_target(shop: Shop) -> tuple[HouseTargets, ...]:
    """Return the shop's targets of every kind of instrument."""
    return tuple(house_targets(shop, kind) for kind in kinds_on_list(shop))


def set_house_targets(
    shop: Shop, stamp: Stamp, kind: str, hand: str, typed: Mapping[str, str], own_unit: str = "mm"
) -> HouseTargets:
    """Keep the shop's targets of a kind; an empty box is the table's figure. Returns what stands now.

    Raises:
        CorrectInputError: no such kind or hand, or a length that cannot be right.
    """
    kin = kind_here(shop, kind)
    if hand not in HANDS:
        raise CorrectInputError(
            tr('"{hand}" is no hand', hand=hand),
            tr("one of {hands}", hands=", ".join(HANDS)),
            tr("choose one"),
        )
    most = max(MOST_MM.values())
    usual = kin.targets[hand]
    own = {
        name: refuse_doubted_size(typed[name], _words(name), _near(getattr(usual, name)), own_unit, 0.0, most)
        for name in FIGURES
        if typed.get(name, "").strip()
    }
    for low, high in (("action_low_mm", "action_high_mm"), ("nut_low_mm", "nut_high_mm")):
        if (low in own) != (high in own):
            given, missing = (low, high) if low in own else (high, low)
            raise CorrectInputError(
                tr("{words} without {words_2}", words=_words(given), words_2=_words(missing)),
                tr("both, or neither"),
                "",
            )
    value = json.dumps({"hand": hand, **own})
    try:
        shop.change(shop.get(Setting, _name(kind)), stamp, value=value)
    except NoSuchRecordError:
        shop.add(Setting, stamp, _name(kind), value=value)
    return house_targets(shop, kind)


def targets_for(shop: Shop, instrument: Instrument) -> dict[str, Any] | None:
    """Return what a visit of the instrument begins with, as a service file's targets; None: the tables' for all."""
    found = _of(shop, family_of(instrument))
    if not found.changed:
        return None
    body: dict[str, Any] = {"hand": found.hand}
    if any(value is not None for value in asdict(found.own).values()):
        now = estimate(Service(instrument=instrument))
        body["wanted"] = [one.model_dump(mode="json") for one in wished(now, found.own)]
    whole = {"format": SERVICE_FORMAT, "instrument": instrument.model_dump(mode="json", exclude_unset=True)}
    service_from(json.dumps(whole | {"targets": body}).encode(), tr("the house targets"))
    return body


def _near(usual_mm: float) -> Expectation:
    """Return what a figure that a shop wants instead of the usual may be; common practice, no source."""
    return expectation(usual_mm, WISHED_RATIO * usual_mm)


def _name(kind: str) -> str:
    return f"house_targets:{kind}"


def _words(name: str) -> str:
    return name.removesuffix("_mm").replace("_", " ")
