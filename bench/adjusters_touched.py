"""Adjusters touched: simulated instruments serviced by the plan, beside the fewest that could have done it.

Counted by the hidden truth, not by what the maker reads. `needed` is the fewest adjusters an integer programme
with the truth in hand would touch: it knows that what truly stands at 99 hundredths of its tolerance may stay. `sure`
is the same within SERVICEABLE_SHARE of every tolerance: what a hand has to touch that reads with gauges, not the truth.

A service by the plan: a full set of readings, the rod with a relief reading after each turn, heights and slots, tuning,
saddle positions. Before the first step, after the rod and after tuning the maker reads what the plan asks for, each at
most three times over, and plans again; these single readings are counted as `asked`.
"""

import copy
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from bench._bound import reader_bound
from bench._instruments import arrival
from bench._later import months_later
from bench._maker import by_plan, outside
from bench._needed import needed_count
from bench._thumb import by_rule_of_thumb
from breakangle.model.service import Service
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.estimate.learning import recall
from breakangle.planning.state.board import board_of

FAMILIES = (
    ("electric-guitar", None),
    ("electric-guitar-seven", None),
    ("bass-four", None),
    ("steel-acoustic-guitar", None),
)
# An instrument counts if a perfect hand with the truth could leave every target inside this share of its tolerance.
SERVICEABLE_SHARE = 0.65


@dataclass(frozen=True)
class Row:
    """One instrument's outcome; None where it was not serviceable."""

    after_one: bool
    after_two: bool
    later: bool | None
    planned_extra: int
    extra: int
    beyond_sure: int
    extra_by_the_end: int
    beyond_sure_by_the_end: int
    asked: int
    thumb_rounds: int | None
    thumb_out: bool | None


def service_one(kind: str, bridge_kind: str | None, seed: int, thumb: bool = True) -> Row | None:
    """Service one simulated instrument in every way; None where no hand could put it right with room to spare."""
    one = arrival(kind, seed, bridge_kind)
    targets = house_targets(board_of(one.instrument), "medium")
    sure = needed_count(one, targets, SERVICEABLE_SHARE)
    if sure is None:
        return None
    needed = needed_count(one, targets) or 0
    twin = copy.deepcopy(one)
    # The rules know a screw for every string: they have no answer for a saddle that is cut by hand.
    rounds, out = (
        by_rule_of_thumb(twin, seed) if thumb and one.instrument.bridge.kind == "individual" else (None, None)
    )
    first = by_plan(one, seed)
    return Row(
        after_one=not first.out_after[0].any(),
        after_two=not first.out_after[1].any(),
        later=_later_visit(one, seed, [first.service]),
        planned_extra=first.planned_first - needed,
        extra=len(first.touched_first) - needed,
        beyond_sure=len(first.touched_first) - sure,
        extra_by_the_end=len(first.touched) - needed,
        beyond_sure_by_the_end=len(first.touched) - sure,
        asked=first.asked,
        thumb_rounds=rounds,
        thumb_out=out,
    )


def _later_visit(one, seed: int, visits: list[Service]) -> bool | None:  # type: ignore[no-untyped-def]
    """Return whether a third visit comes right after one full set; None where it could not."""
    months_later(one, seed)
    blank = Service(instrument=one.instrument)
    visits = [*visits, by_plan(one, seed + 300, prior=recall(visits, blank)).service]
    months_later(one, seed + 9000)
    targets = house_targets(board_of(one.instrument), "medium")
    if needed_count(one, targets, SERVICEABLE_SHARE) is None:
        return None
    last = by_plan(one, seed + 500, prior=recall(visits, blank), sets=1)
    return not outside(last.out_after[-1])


def _task(arguments: tuple[str, str | None, int]) -> Row | None:
    return service_one(*arguments)


def family_rows(kind: str, bridge_kind: str | None, count: int, workers: int = 2) -> tuple[list[Row], int]:
    """Return the outcomes of `count` instruments and how many of them no hand could put right."""
    tasks = [(kind, bridge_kind, seed) for seed in range(count)]
    if workers == 1:
        found = [_task(task) for task in tasks]
    else:
        with ProcessPoolExecutor(workers) as pool:
            found = list(pool.map(_task, tasks, chunksize=4))
    return [row for row in found if row is not None], sum(row is None for row in found)


def _line(name: str, rows: list[Row], unserviceable: int) -> str:
    later = [row.later for row in rows if row.later is not None]
    planned, *touched = (
        np.array(some)
        for some in (
            [row.planned_extra for row in rows],
            [row.extra for row in rows],
            [row.beyond_sure for row in rows],
            [row.extra_by_the_end for row in rows],
            [row.beyond_sure_by_the_end for row in rows],
        )
    )
    rounds = [row.thumb_rounds for row in rows if row.thumb_rounds is not None]
    out = [row.thumb_out for row in rows if row.thumb_out is not None]
    thumb = f"{np.median(rounds):6.0f} {100 * np.mean(out):8.0f} %" if rounds else "     -          -"
    figures = [
        f"{name:24s} {len(rows):4d} {unserviceable:4d} ",
        f"{100 * np.mean([r.after_one for r in rows]):5.1f} %",
        f"{100 * np.mean([r.after_two for r in rows]):5.1f} %",
        f"{100 * np.mean(later):6.1f} % ",
        f"{np.median(planned):+4.0f} {100 * np.mean(planned <= 1):5.0f} % ",
        *(f"{np.median(beyond):+4.0f} {100 * np.mean(beyond <= 1):5.0f} %" for beyond in touched),
        f"{np.mean([r.asked for r in rows]):6.1f} ",
        thumb,
    ]
    return " ".join(figures)


def _bounds(count: int) -> list[str]:
    """Return what a perfect planner with gauges for eyes could do at best, for comparison."""
    lines = [
        "A reader who knows everything but what gauges blur, every adjuster moving one thing exactly, one reading of",
        "each: the largest share within the truth's fewest plus one, where 95 of 100 come right at all.",
    ]
    for kind, _ in FAMILIES:
        few, right = reader_bound(kind, count).best()
        lines.append(f"{kind:24s} {100 * few:5.0f} % within +1, {100 * right:5.1f} % right")
    return lines


def report(quick: bool = False) -> str:
    """Return the table, 200 instruments a family (20 when quick)."""
    lines = [
        "By the plan: every target truly inside after one and after two full sets of readings on a first visit, and",
        "after one on a later visit; adjusters beyond the fewest that could do it with the truth known, in the first",
        "plan and touched by the end of the first set (median, share with at most one more), and by then beyond what",
        f"brings every target inside {SERVICEABLE_SHARE:.0%} of its tolerance, as who reads with gauges must (sure);",
        "both by the end of the second set, which brings figures nearer the middle; single readings the plan asked",
        "for. By rules of thumb: rounds of full readings, and share left out.",
        f"{'family':24s} {'n':>4s} {'not':>4s}  {'one':>7s} {'two':>7s} {'later':>8s}  {'plan':>4s} {'<=+1':>7s}  "
        f"{'set1':>4s} {'<=+1':>7s} {'sure':>4s} {'<=+1':>7s} {'set2':>4s} {'<=+1':>7s} {'sure':>4s} {'<=+1':>7s} "
        f"{'asked':>6s}  {'rounds':>6s} {'left out':>10s}",
    ]
    for kind, bridge_kind in FAMILIES:
        rows, unserviceable = family_rows(kind, bridge_kind, 20 if quick else 200)
        lines.append(_line(kind, rows, unserviceable))
    lines += _bounds(20 if quick else 200)
    return "\n".join(lines)
