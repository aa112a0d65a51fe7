"""One workshop instrument serviced in every way, and what came of it."""

import copy
from dataclasses import dataclass

import numpy as np

from bench.workshop import figures
from bench.workshop.arrivals import arrival, months_later
from bench.workshop.maker import Standing, by_plan
from bench.workshop.reach import why_not
from bench.workshop.thumb import by_rule_of_thumb
from breakangle.model.service import Service
from breakangle.planning.estimate.learning import recall


@dataclass(frozen=True)
class Group:
    """Instruments told of in one line: their kinds in turn, on which bridge and nut, read by which feelers."""

    name: str
    kinds: tuple[str, ...]
    bridge_kind: str | None = None
    zero_fret: bool = False
    coarse_nut: bool = False
    wide: bool = False  # counted a second time at 5 cents


GROUPS = (
    Group("electric six", ("electric-guitar",)),
    Group("electric seven", ("electric-guitar-seven",)),
    Group("bass four", ("bass-four",)),
    Group("steel acoustic", ("steel-acoustic-guitar",), wide=True),
    Group("nylon acoustic", ("nylon-acoustic-guitar",), wide=True),
    Group("twelve-string", ("twelve-string-guitar",), wide=True),
    Group("ukulele", ("ukulele-soprano", "ukulele-concert", "ukulele-tenor"), wide=True),
    Group("five-string banjo", ("banjo-five",), wide=True),
    Group("mandolin", ("mandolin",)),
    Group("eight, bass five, six", ("electric-guitar-eight", "bass-five", "bass-six")),
    Group("tenor banjo", ("banjo-tenor",), wide=True),
    Group("two posts, floating", ("electric-guitar", "electric-guitar"), bridge_kind="floating"),
    Group("zero fret", ("electric-guitar", "bass-four"), zero_fret=True),
    Group("coarse nut feelers", ("electric-guitar", "steel-acoustic-guitar"), coarse_nut=True),
)


@dataclass(frozen=True)
class Inside:
    """Whether everything is truly inside: after one full set, after two, and on a later visit (None: no hand could)."""

    one: bool
    two: bool
    later: bool | None


@dataclass(frozen=True)
class Served:
    """One instrument's outcome. `reason`: why no hand could put it right; `wide`: the same at 5 cents."""

    reason: str | None
    wide_reason: str | None
    strict: Inside | None
    wide: Inside | None
    worst_one: float  # the worst figure after one full set, as a share of its tolerance
    first: Standing | None
    second: Standing | None
    thumb: Standing | None
    thumb_rounds: int = 0


# What took too much processor time: counted, and outside.
LATE = Served(None, None, Inside(False, False, None), Inside(False, False, None), np.inf, None, None, None)


def _bridge_kind(group: Group, seed: int) -> str | None:
    return ("two-post" if seed % 2 else "floating") if group.bridge_kind else None


def serve(group: Group, seed: int, later: bool = True, thumb: bool = True) -> Served:
    """Return what comes of the instrument `seed` of the group, by the plan and by rules of thumb."""
    kind = group.kinds[seed % len(group.kinds)]
    one = arrival(kind, seed, _bridge_kind(group, seed), group.zero_fret)
    reason = why_not(one)
    wide_reason = why_not(one, wide=True) if group.wide else reason
    if wide_reason is not None:
        return Served(reason, wide_reason, None, None, np.nan, None, None, None)
    twin = copy.deepcopy(one)
    by_thumb, rounds = by_rule_of_thumb(twin, seed, group.coarse_nut) if thumb else (None, 0)
    stands, visit = by_plan(one, seed, coarse_nut=group.coarse_nut)
    on_time = _later(one, seed, visit, group) if later else (None, None)
    strict = [bool(stand.out.max() <= 1.0) for stand in stands]
    wide = [bool(stand.out_wide.max() <= 1.0) for stand in stands]
    return Served(
        reason=reason,
        wide_reason=wide_reason,
        strict=Inside(strict[0], strict[1], on_time[0]) if reason is None else None,
        wide=Inside(wide[0], wide[1], on_time[1]),
        worst_one=float(stands[0].out.max()),
        first=stands[0],
        second=stands[1],
        thumb=by_thumb,
        thumb_rounds=rounds,
    )


def _later(one, seed: int, visit: Service, group: Group) -> tuple[bool | None, bool | None]:  # type: ignore[no-untyped-def]
    """Return whether a visit half a year later comes right after one full set, strictly and at 5 cents."""
    months_later(one, seed)
    mendable = why_not(one) is None
    mendable_wide = why_not(one, wide=True) is None
    if not mendable_wide:
        return None, None
    blank = Service(instrument=one.instrument)
    stand = by_plan(
        one, seed + figures.SEASON_SEED, prior=recall([visit], blank), sets=1, coarse_nut=group.coarse_nut
    )[0][0]
    return (bool(stand.out.max() <= 1.0) if mendable else None), bool(stand.out_wide.max() <= 1.0)
