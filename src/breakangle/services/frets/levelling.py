"""What levelling comes to on a service's instrument: the plan, and what is to be read before it is begun."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.levelled import metal_since_mm
from breakangle.planning.estimate.own_parts import reads_crowns
from breakangle.planning.kinds.adjustments.fret_level import FretLevel, LevelledFret
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.levelling.bought import Bought, bought
from breakangle.planning.levelling.from_estimate import heights_of
from breakangle.planning.levelling.plan import (
    FINEST_MM,
    MOST_CHANCE,
    Asked,
    LevellingPlan,
    levelling_plan,
)
from breakangle.planning.levelling.swings import swings_mm
from breakangle.reference.strength import STRENGTHS
from breakangle.services.frets.what_was_read import crowns_there, crowns_told, figures_missing
from breakangle.services.service_files.buzz import playing_of
from breakangle.services.service_files.service import estimate_service, some_instrument_fits

Array = NDArray[np.float64]
# Where nothing else is said below: common practice, no source.
LOWEST_ASKED_MM, HIGHEST_ASKED_MM = 0.3, 6.0


@dataclass(frozen=True)
class FretWork:
    """The levelling plan of one instrument, and what stands before it.

    `crowns_read` (S, F): which crowns were read since the last work. `unread`: frets that would lose metal and whose
    crowns nobody read under every string that needs it. `missing`: which of relief and action nobody read.
    `height_read`: whether the crowns' own height was read. `asked_mm` (S,): the action that is the limit;
    `action_now_mm` (S,): what it is now.
    """

    service: Service
    strength: str
    asked_mm: Array
    plan: LevellingPlan
    bought: Bought
    action_now_mm: Array
    crowns_read: NDArray[np.bool_]
    missing: tuple[str, ...]
    height_read: bool
    least_mm: float
    finest_mm: float = FINEST_MM

    @cached_property
    def unread(self) -> tuple[int, ...]:
        """Return the frets, from 1, that would lose metal where no crown was read."""
        cut = self.plan.off_mm >= FINEST_MM
        return tuple(int(one) + 1 for one in np.flatnonzero((cut & ~self.crowns_read).any(axis=0)))

    @property
    def cuts(self) -> bool:
        """Return whether metal is to come off."""
        return bool(self.plan.frets) and self.plan.verdict in ("spot-level", "level-all")

    @property
    def open(self) -> bool:
        """Return whether something must be read before a file is taken up."""
        return self.unverified or (self.cuts and bool(self.missing or self.unread or not self.height_read))

    @property
    def unverified(self) -> bool:
        """Return whether frets were levelled and no crown read since: read before more is filed."""
        return self.levelled and not self.verified_by

    @property
    def orders(self) -> bool:
        """Return whether the map of what comes off may be shown: nothing is filed on half a picture."""
        return self.cuts and not self.open

    @property
    def levelled(self) -> bool:
        """Return whether the last work on the frets was levelling them."""
        return any(isinstance(one, FretLevel) for one in self.service.work)

    @property
    def verified_by(self) -> int:
        """Return how many crowns were read since frets were last levelled."""
        last = max(
            (at for at, one in enumerate(self.service.work, 1) if isinstance(one, FretLevel)), default=0
        )
        return sum(one.after >= last and reads_crowns(one) for one in self.service.readings) if last else 0

    def as_done(self) -> FretLevel:
        """Return the work as it is written down once the map's metal is off.

        Raises:
            CorrectInputError: no metal is ordered.
        """
        if not self.orders:
            raise CorrectInputError(
                tr("no fret is to be levelled"),
                tr("a fret map that orders metal"),
                tr("read what it asks for first"),
            )
        off = np.where(self.plan.off_mm >= FINEST_MM, np.round(self.plan.off_mm, 3), 0.0)
        frets = [LevelledFret(fret=one, off_mm=tuple(off[:, one - 1].tolist())) for one in self.plan.frets]
        return FretLevel(frets=tuple(frets))

    @property
    def sure(self) -> bool:
        """Return whether the chance of a touch after the work is as small as it should be."""
        return self.plan.chance.any_touch <= MOST_CHANCE

    def to_json(self) -> dict[str, Any]:
        """Return the whole answer as plain data (breakangle/frets/1); arrays by string, then fret."""
        plan = self.plan
        rounded = {
            "off_mm": plan.off_mm, "crown_left_mm": plan.left_mm, "flat_mm": plan.flat_mm, "flat_cents": plan.cents
        }  # fmt: skip
        return {
            "format": "breakangle/frets/1",
            "instrument": self.service.instrument.name,
            "strength": self.strength,
            "verdict": "verify" if self.unverified else "read-first" if self.open else plan.verdict,
            "action_at_most_mm": _list(self.asked_mm),
            "frets": list(plan.frets),
            "sides_mm": _list(plan.sides_mm),
            **{name: _list(values) for name, values in rounded.items()},
            "relief_mm": round(plan.relief_mm, 3),
            "action_mm": _list(plan.action_mm),
            "nut_clearance_mm": _list(plan.nut_mm),
            "over_mm": round(plan.over_mm, 3),
            "sure_over_mm": round(plan.sure_over_mm, 3),
            "touch_before": round(plan.touch_before, 4),
            "touch_after": round(plan.chance.any_touch, 4),
            "touch_unlevelled": round(self.bought.touch_unlevelled, 4),
            "lowest_action_mm": {
                "before": round(self.bought.lowest_before_mm, 3),
                "after": round(self.bought.lowest_after_mm, 3),
            },
            "check_after": [
                {"string": one.string, "fret": one.fret, "over_neighbours_mm": round(one.mm, 3)}
                for one in self.bought.checks
            ],
            "times_left": plan.times_left,
            "too_low": list(plan.too_low),
            "read_first": {
                "figures": list(self.missing),
                "frets": list(self.unread),
                "height": not self.height_read,
            },
            "read_next": list(plan.read_next) if plan.read_next else None,
        }


def fret_work(
    service: Service,
    strength: str | None = None,
    action_mm: tuple[float, float] | None = None,
    now: Estimate | None = None,
) -> FretWork:
    """Return what levelling comes to on the service's instrument; nothing is stored.

    Args:
        service: instrument, readings and the work so far.
        strength: of play; None: what the service asks for.
        action_mm: action asked for at the lowest and at the highest string, straight between; None: its targets.
        now: the solved state where it is known already.

    Raises:
        CorrectInputError: a strength that is not known, or an action that cannot be.
        ReadAgainError: readings that no instrument fits.
    """
    now = estimate_service(service) if now is None else now
    wanted = targets_of(service, now.board)
    strength = strength or wanted.strength
    if strength not in STRENGTHS:
        raise CorrectInputError(
            tr('"{strength}" is no strength of play', strength=strength),
            tr("one of {strengths}", strengths=", ".join(STRENGTHS)),
            "",
        )
    asked = _asked(service, now, action_mm)
    done = len(service.work)
    with some_instrument_fits():
        heights = heights_of(now, service.readings, service.work)
    crowns, height_read = crowns_there(service, now)
    swing = swings_mm(now.board, playing_of(service, None), strength)
    plan = levelling_plan(heights, swing, asked, crowns)
    filed = metal_since_mm(now.board, service.work, 0)
    return FretWork(
        service, strength, asked.action_mm, plan, bought(heights, swing, asked, plan, filed),
        heights.action_mm(), crowns_told(service, now),
        figures_missing(service.readings, done), height_read, crowns.least_mm,
    )  # fmt: skip


def _asked(service: Service, now: Estimate, action_mm: tuple[float, float] | None) -> Asked:
    """Return the set-up asked for: a person's action as it is, else the targets with what they tolerate."""
    board, instrument = now.board, now.board.instrument
    gaps = [one for one in targets_of(service, board).wanted if isinstance(one, GapTarget)]
    action, nut = np.full(board.string_count, 2.0), np.full(board.string_count, 0.1)
    relief = [
        (one.mm - one.tolerance_mm, one.mm + one.tolerance_mm) for one in gaps if trade_name(one) == "relief"
    ]
    for one in gaps:
        if trade_name(one) == "action":
            action[one.string - 1] = one.mm + one.tolerance_mm
        if trade_name(one) == "nut clearance":
            nut[one.string - 1] = one.mm + one.tolerance_mm
    if action_mm is not None:
        for mm in action_mm:
            if not LOWEST_ASKED_MM <= mm <= HIGHEST_ASKED_MM:
                allowed = tr(
                    "from {lowest_asked_mm:.1f} to {highest_asked_mm:.1f} mm",
                    lowest_asked_mm=LOWEST_ASKED_MM,
                    highest_asked_mm=HIGHEST_ASKED_MM,
                )
                raise CorrectInputError(tr("an action of {mm:.2f} mm", mm=mm), allowed)
        share = np.clip((1.0 - board.side_ratio) / 2.0, 0.0, 1.0)
        action = action_mm[1] + (action_mm[0] - action_mm[1]) * share
    within = (
        (max(min(low for low, _ in relief), 0.0), max(high for _, high in relief)) if relief else (0.0, 0.5)
    )
    return Asked(action, nut, within, instrument.nut.kind == "zero-fret")


def _list(values: Array) -> Any:
    return np.round(values, 3).tolist()
