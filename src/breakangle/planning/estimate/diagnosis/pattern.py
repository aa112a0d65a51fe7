"""What a pattern must bring, and what it may look at: the state after all readings, and what they say of each cause."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import erf, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Finding, Question, Size, Where
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.message import Figure, Message, Severity
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.evidence import Evidence
from breakangle.planning.estimate.diagnosis.heights import relief_gaps, straight, to_lower_mm
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import Belief
from breakangle.planning.state.picture import Picture
from breakangle.reference.families import Family, family_of

Array = NDArray[np.float64]
# Where nothing else is said below: common practice, no source.
LISTED_FROM = 0.5  # a pattern less likely than not is not told
NEVER_BELOW = 0.05  # what is so unlikely is not sized
# Derived.
INTERVAL_SPREADS = 1.96  # holds 19 in 20 of a normal distribution
# A reading that carries less than this share of what the most telling one carries is not named.
TELLING_SHARE = 0.15


@dataclass(frozen=True)
class Sized:
    """How large something is: value and standard uncertainty; `there`: how probable it is that it is there at all."""

    value: float
    spread: float
    there: float = 1.0

    def beyond(self, tolerance: float, sign: int = 0) -> float:
        """Return the probability that it is larger than `tolerance`, on the side of `sign` (0: on either)."""
        spread = max(self.spread, 1e-9)
        above = 0.5 * (1.0 - erf((tolerance - self.value) / (spread * sqrt(2.0))))
        below = 0.5 * (1.0 - erf((tolerance + self.value) / (spread * sqrt(2.0))))
        return self.there * (above if sign > 0 else below if sign < 0 else above + below)

    def and_by(self, spread: float) -> "Sized":
        """Return it with another, independent uncertainty added."""
        return Sized(self.value, float(np.hypot(self.spread, spread)), self.there)

    def told(self, unit: str) -> Size:
        """Return it with the interval that holds it 19 times in 20."""
        half = INTERVAL_SPREADS * self.spread
        value, low, high = (round(one, 3) for one in (self.value, self.value - half, self.value + half))
        return Size(value=value, low=low, high=high, unit=unit)


@dataclass(frozen=True)
class Seen:
    """The instrument after all readings, as a pattern looks at it."""

    service: Service
    board: Board
    picture: Picture
    belief: Belief
    evidence: Evidence

    @cached_property
    def kin(self) -> Family:
        """Return the instrument's family."""
        return family_of(self.board.instrument)

    @cached_property
    def targets(self) -> tuple[GapTarget, ...]:
        """Return the gaps that are wanted: relief, action and nut clearance of every string."""
        hand = self.service.targets.hand if self.service.targets else "medium"
        found = {(trade_name(one), one.string): one for one in _gaps(house_targets(self.board, hand))}
        wanted = self.service.targets.wanted if self.service.targets else ()
        found |= {(trade_name(one), one.string): one for one in _gaps(wanted)}
        return tuple(found.values())

    def targets_named(self, name: str) -> tuple[GapTarget, ...]:
        """Return the wanted gaps that the trade calls `name`, in order of their strings."""
        found = [one for one in self.targets if trade_name(one) == name]
        return tuple(sorted(found, key=lambda one: one.string))

    @cached_property
    def crowns_read(self) -> frozenset[int]:
        """Return the frets whose crowns have been read by themselves, and not written down wrong."""
        slips = set(self.evidence.slips)
        return frozenset(
            one.fret
            for place, one in enumerate(self.evidence.readings)
            if one.quantity == "crown" and place not in slips
        )

    @cached_property
    def relief(self) -> tuple[Array, Array]:
        """Return relief at the bass and the treble edge in mm, (2,), and rows (2, N); empty where it is not read."""
        gaps = relief_gaps(self.board)
        if not gaps:
            return np.zeros(0), np.zeros((0, self.picture.layout.size))
        return straight(self.picture, gaps)

    @cached_property
    def to_lower(self) -> tuple[Array, Array]:
        """Return how far each string's saddle should come down for its action, in mm (A,), and rows (A, N)."""
        return to_lower_mm(self.picture, self.targets_named("action"))

    def causes(self, pattern: str) -> tuple[tuple[int, Cause], ...]:
        """Return the causes of a pattern with their places."""
        every = self.evidence.causes
        return tuple((place, every.all[place]) for place in every.of_pattern.get(pattern, ()))

    def amplitude(self, cause: int) -> Sized:
        """Return how large a cause is where it is there, and how probable that is."""
        there = self.evidence.probability(cause)
        if there < NEVER_BELOW:
            return Sized(0.0, 1.0, there)
        value, spread = self.evidence.amplitude(cause)
        return Sized(value, spread, there)

    def together(self, pattern: str) -> Sized:
        """Return how large a pattern is over all its causes, each as likely as it is, and that it is there at all."""
        places = [place for place, _ in self.causes(pattern)]
        if sum(self.evidence.probability(place) for place in places) < LISTED_FROM:
            return Sized(0.0, 1.0, 0.0)
        each = [
            Sized(*self.evidence.amplitude(place, places), self.evidence.probability(place))
            for place in places
        ]
        there = sum(one.there for one in each)
        share = [one.there / max(there, 1e-300) for one in each]
        value = sum(part * one.value for part, one in zip(share, each, strict=True))
        variance = sum(
            part * (one.spread**2 + (one.value - value) ** 2) for part, one in zip(share, each, strict=True)
        )
        return Sized(value, sqrt(variance), min(there, 1.0))

    def row(self, value: float, row: Array, there: float = 1.0) -> Sized:
        """Return a figure of the state, its row over the state given, with its uncertainty."""
        return Sized(value, float(self.belief.spread(row)), there)

    def readings_of_cause(self, cause: int) -> tuple[Reading, ...]:
        """Return the readings that tell of a cause, those that tell next to nothing left out."""
        told = np.abs(self.evidence.shown[:, cause] * self.evidence.weighed[:, cause])
        return self._telling(told)

    def readings_of_row(self, row: Array) -> tuple[Reading, ...]:
        """Return the readings that tell of a figure of the state."""
        evidence = self.evidence
        told = np.abs(evidence.rows @ (self.belief.covariance @ row)) / np.sqrt(evidence.noise)
        return self._telling(told)

    def _telling(self, told: Array) -> tuple[Reading, ...]:
        told = told.copy()
        told[list(self.evidence.slips)] = 0.0
        if not len(told) or told.max() <= 0.0:
            return ()
        places = np.flatnonzero(told >= TELLING_SHARE * told.max()).tolist()
        return tuple(self.evidence.readings[place] for place in places)


def _gaps(targets: Sequence[Any]) -> list[GapTarget]:
    return [one for one in targets if isinstance(one, GapTarget)]


@dataclass(frozen=True)
class Pattern:
    """One pattern: its key, what may cause it on an instrument, what of it is found, and what would tell of it."""

    name: str
    causes: Callable[[Board], Sequence[Cause]]
    found: Callable[[Seen], Iterator[Finding]]
    # Readings that would decide it where those taken cannot; none for what a full set of readings tells.
    tells: Callable[[Seen], Iterator[Question]] = lambda seen: iter(())


def finding(
    name: str,
    where: Where,
    sized: Sized,
    tolerance: float,
    *,
    sign: int = 0,
    holds_cuts: bool = False,
    key: str | None = None,
    values: dict[str, Figure],
    rests_on: Callable[[], tuple[Reading, ...]],
    unit: str = "mm",
    severity: Severity = "care",
) -> Iterator[Finding]:
    """Yield the finding, where it is more likely than not that it matters."""
    probability = sized.beyond(tolerance, sign)
    if probability < LISTED_FROM:
        return
    readings = rests_on()
    if not readings:
        return
    yield Finding(
        finding=name,
        where=where,
        probability=round(min(probability, 1.0), 3),
        size=sized.told(unit),
        tolerance=round(tolerance, 3),
        holds_cuts=holds_cuts,
        message=Message(
            key=f"diagnosis.{key or name.replace('-', '_')}",
            values=values,
            about=(name, *_about(where)),
            severity=severity,
        ),
        rests_on=readings,
    )


def _about(where: Where) -> tuple[str, ...]:
    places = [
        *(tr("string {item}", item=one) for one in where.strings),
        *(tr("fret {item}", item=one) for one in where.frets),
    ]
    return (*places, where.part) if where.part else tuple(places)


def unit_direction(size: int, places: Sequence[int] | NDArray[np.intp], amounts: Any = 1.0) -> Array:
    """Return a direction of the state with `amounts` at `places`, (N,)."""
    found = np.zeros(size)
    found[places] = amounts
    return found
