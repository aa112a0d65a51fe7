"""How low a visit's instrument can go, as a page tells it: at each strength of play, what holds it up, and why."""

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from breakangle.drawings.look import SCREEN, Drawing, Look
from breakangle.model.errors import CorrectInputError
from breakangle.planning.buzz.set_up import Limit, present
from breakangle.planning.buzz.try_out import Wish, as_it_is, would_read
from breakangle.planning.verdict.said import verdict_message
from breakangle.reference.messages import words
from breakangle.reference.strength import STRENGTHS
from breakangle.services.plans.charts import trade_chart
from breakangle.services.plans.solved_visits import Solved, solved_visit
from breakangle.services.service_files.bowed import lower_later
from breakangle.services.service_files.lowest import LowestReport, lowest_setup
from breakangle.services.service_files.service import some_instrument_fits
from breakangle.storage.records.store import Shop

MOST_KEPT = 8
ROUNDED_MM = 0.002  # a tenth of what is left everywhere to spare; chosen
WORTH_MM = 0.02  # what hands and gauges tell apart; common practice, no source


@dataclass(frozen=True)
class Holding:
    """A crown that holds strings up: its fret, and the notes that touch it next, each as string and fret (0: open).

    `high`: whether it stands above its neighbours, so that levelling would take it down.
    """

    crown: int
    notes: tuple[tuple[int, int], ...]
    high: bool


@dataclass(frozen=True)
class LowestAt:
    """How low it is to be set at one strength: per string, and as a straight progression that can be made the target.

    `action_mm`: string 1 first, as `action_now_mm`. `gain_mm`: how much lower than now on average; negative: it is
    lower than is free of buzz, or than anybody sets this kind. `usual_mm`: the lowest usual action of the lowest
    string that begins at the nut and of string 1, where nothing is heard below it: no string is set lower. `at_usual`:
    the strings that this holds up, and no note; `at_end` those whose saddle goes no lower. `nut_too_low`: the strings
    whose slots are too deep for it, by `nut_short_mm` at most; `saddle_too_low`: those whose saddle does not rise so
    far. `trouble`: why nothing is free of buzz; then there are no figures.
    """

    strength: str
    wish: Wish | None = None
    action_mm: tuple[float, ...] = ()
    gain_mm: float = 0.0
    nut_short_mm: float = 0.0
    holding: tuple[Holding, ...] = ()
    levelling_gain_mm: float = 0.0
    trouble: str = ""
    usual_mm: tuple[float, float] | None = None
    at_usual: tuple[int, ...] = ()
    at_end: tuple[int, ...] = ()
    saddle_too_low: tuple[int, ...] = ()
    nut_too_low: tuple[int, ...] = ()


@dataclass(frozen=True)
class HowLow:
    """How low the instrument can go: now, at each strength, and action against relief where there is a rod.

    `crowns_read`: whether any crown's height was read; if not, nothing is known of whether they are level. `verdict` is
    the plan's, in words; `strength` what the visit is judged at; `in_the_way` what is to be answered before the strings
    go lower; `rod_least_mm` the least relief that the rod gives, where that stops it.
    """

    now: Wish
    action_now_mm: tuple[float, ...]
    at: tuple[LowestAt, ...]
    high_frets: tuple[int, ...]
    chart: Drawing | None
    strength: str = "medium"
    crowns_read: bool = False
    verdict: str = ""
    in_the_way: tuple[str, ...] = ()
    rod_least_mm: float | None = None


@dataclass(frozen=True)
class _Reckoned:
    solved: Solved
    at: tuple[LowestAt, ...]
    reports: tuple[LowestReport, ...]
    bends: tuple[LowestReport, ...]
    """Those of a neck whose rod changes its relief."""


_KEPT: OrderedDict[str, _Reckoned] = OrderedDict()
_LOCK = threading.Lock()


def how_low(shop: Shop, visit_id: str, look: Look = SCREEN) -> HowLow:
    """Return how low the visit's instrument can go without a touch being heard; nothing is stored.

    Raises:
        NoSuchRecordError: no such visit.
        CorrectInputError: a kind or make that is not known.
        ReadAgainError: readings that no instrument fits.
    """
    solved = solved_visit(shop, visit_id)
    found = _reckoned(visit_id, solved)
    reach = found.reports[0].relief_reach if found.reports else None
    return HowLow(
        now=as_it_is(solved.estimate),
        action_now_mm=_plain(present(solved.estimate.picture).action_mm),
        at=found.at,
        high_frets=found.reports[0].levelled_frets if found.reports else (),
        chart=trade_chart(found.bends, look=look) if found.bends else None,
        strength=solved.targets.strength,
        crowns_read=any(one.quantity == "crown" for one in solved.service.readings),
        verdict=words(verdict_message(solved.judgement)),
        in_the_way=tuple(words(one) for one in lower_later(solved.judgement, reach)),
        rod_least_mm=_rod_least_mm(found),
    )


def _rod_least_mm(found: _Reckoned) -> float | None:
    """Return the least relief that the rod gives, as it reads, where that stops a set-up and is not in the way."""
    stopped = {one.strength for one in found.reports if one.rod_at_end and not one.bowed_past_rod}
    return next((at.wish.relief_mm for at in found.at if at.strength in stopped and at.wish), None)


def _reckoned(visit_id: str, solved: Solved) -> _Reckoned:
    """Return what takes a second, reckoned anew only where the visit has changed."""
    with _LOCK:
        kept = _KEPT.get(visit_id)
        if kept is not None and kept.solved is solved:
            return kept
    at, reports, bends = [], [], []
    with some_instrument_fits():
        for strength in STRENGTHS:
            try:
                report = lowest_setup(
                    solved.service, strength, now=solved.estimate, judgement=solved.judgement
                )
                if report.trade_to_set:
                    bends.append(report)
            except CorrectInputError as cause:
                at.append(LowestAt(strength, trouble=str(cause)))
                continue
            reports.append(report)
            at.append(_told(solved, report))
    made = _Reckoned(solved, tuple(at), tuple(reports), tuple(bends))
    with _LOCK:
        _KEPT[visit_id] = made
        _KEPT.move_to_end(visit_id)
        while len(_KEPT) > MOST_KEPT:
            _KEPT.popitem(last=False)
    return made


def _told(solved: Solved, report: LowestReport) -> LowestAt:
    return LowestAt(
        strength=report.strength,
        wish=_straight(solved, report),
        action_mm=_plain(report.to_set_mm),
        gain_mm=float(np.mean(report.now.action_mm - report.to_set_mm)),
        nut_short_mm=float(np.max(report.nut_short_mm)),
        holding=_holding(report.to_set.limits, report.levelled_frets),
        levelling_gain_mm=report.levelling_gain_mm if report.levelling_gain_mm >= WORTH_MM else 0.0,
        usual_mm=(float(report.least_usual_mm[report.lowest_string - 1]), float(report.least_usual_mm[0]))
        if report.below_usual
        else None,
        at_usual=report.to_set.at_usual,
        at_end=report.to_set.at_end,
        saddle_too_low=report.saddle_too_low,
        nut_too_low=report.nut_too_low,
    )


def _straight(solved: Solved, report: LowestReport) -> Wish:
    """Return the lowest figures in a straight progression that no string lies below, nor below what anybody sets."""
    now = solved.estimate
    wish = as_it_is(replace(now, belief=replace(now.belief, mean=report.to_set.picture.mean)))
    # A nut is not cut for what action gains nothing from.
    wish = replace(wish, nut_low_mm=None, nut_high_mm=None)
    got = present(would_read(now, wish).picture)
    short = max(0.0, float(np.max(report.to_set_mm - got.action_mm)))
    return replace(
        wish,
        relief_mm=None if wish.relief_mm is None else round(wish.relief_mm, 2),
        action_low_mm=_up(wish.action_low_mm, short),
        action_high_mm=_up(wish.action_high_mm, short),
    )


def _up(mm: float | None, by: float) -> float | None:
    """Return the figure raised, to the hundredth above; what no gauge shows is let go."""
    return None if mm is None else float(np.ceil(100.0 * (mm + by - ROUNDED_MM)) / 100.0)


def _holding(limits: Sequence[Limit], high: Sequence[int]) -> tuple[Holding, ...]:
    """Return the crowns that hold strings up: those that stand high first, then those that hold most notes.

    Open strings over the first crown are the nut's affair and left out.
    """
    notes: dict[int, list[tuple[int, int]]] = {}
    for one in limits:
        if one.stop:
            notes.setdefault(one.crown, []).append((one.string, one.stop))
    found = [Holding(crown, tuple(sorted(held)), crown in high) for crown, held in notes.items()]
    return tuple(sorted(found, key=lambda one: (not one.high, -len(one.notes), one.crown)))


def _plain(values: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> tuple[float, ...]:
    return tuple(float(one) for one in values)
