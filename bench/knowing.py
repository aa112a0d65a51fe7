"""What nobody with these gauges, hands and half eighths of a turn can better: a bound of the world, not of a planner.

    python -m bench.knowing [--count 24] [--group "bass four"] [--first 0] [--quick]

Two makers service the instruments of the closed loop. Both know the instrument to the micrometre, what every adjuster
does to every figure, and which figure was written down wrong; they see what their hands have done, and act on it until
nothing is left to better. The *seeing* one knows every figure truly, and is told, instrument by instrument, the share
of its tolerance from which a figure is best worked on: what stays outside with him, hands, half eighths of the rod and
what no file puts back leave, and nobody who has to read takes fewer minutes. The *reading* one knows every figure but
for what its gauge, finger and rounding blur: by one reading at the beginning, one more of what he has moved, and as
many again in a second set. He works on what reads farther off than a share of its tolerance; of the shares tried the
one that brings most inside is told, and the minutes that takes. He does not weigh figures together as a planner does:
he shows what gauges cost, not a limit. The seeing maker pays for the one full set that every service begins with.
"""

import copy
import sys
from dataclasses import dataclass

import numpy as np

from bench._groups import print_asked, report_of
from bench._served import Group
from bench.workshop import figures
from bench.workshop.arrivals import arrival, months_later
from bench.workshop.hands import Hands
from bench.workshop.instrument import CENTS_PER_OCTAVE, WorkshopInstrument
from bench.workshop.reach import _ends_not, _pitches_not, _raised, why_not
from bench.workshop.readings import ROUNDING_SPREAD, Reader
from bench.workshop.wanted import (
    Array,
    asked_for,
    figure_of,
    out_by_truth,
    tolerance_of,
    true_figure,
    wanted_of,
)
from breakangle.cli.stdout import keep_stdout_clean
from breakangle.model.reading import Adjustment, Target
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.tune import Tune

AIMS, AIMED_SHARE = (0.0, -0.75, 0.75), 0.15  # of the tolerance: where heights are aimed, and how near
SHARES = (0.35, 0.65, 1.0)
ROUNDS, NEARER = 4, 6
MOST_SIXTEENTHS = round(figures.MOST_ROD_TURNS * 16)  # half eighths, as a plan turns it
FINEST = {"nut": 0.01, "action": 0.03, "intonation": 0.05}  # of his own adjuster, in mm: less no hand can set


@dataclass
class Knowing:
    """A maker at one instrument. `share` of its tolerance past which a figure is worked on; `sees`: no gauge blurs."""

    one: WorkshopInstrument
    hands: Hands
    rng: np.random.Generator
    share: float
    sees: bool

    def __post_init__(self) -> None:
        self.targets = wanted_of(self.one)
        self.tolerance = np.array([tolerance_of(one) for one in self.targets])
        self.kinds = np.array([figure_of(one) for one in self.targets])
        reader = Reader(self.one, self.rng)
        self.gauge = np.array([self._gauge(reader, one) for one in self.targets])
        self.error, self.times = np.zeros(len(self.targets)), np.zeros(len(self.targets))
        self.aim = np.zeros(len(self.targets))  # how far from what is wanted each figure is aimed

    def _gauge(self, reader: Reader, target: Target) -> float:
        """Return the spread of one reading of a figure, rounding and open string included."""
        if self.sees:
            return 0.0
        if figure_of(target) == "intonation":
            ears = 2.0 * (figures.EAR_CENTS**2 + (figures.PITCH_ROUNDED_CENTS * ROUNDING_SPREAD) ** 2)
            return float(np.sqrt(ears + figures.FINGER_CENTS**2))
        spread, step = reader.gauge(target)
        return float(np.hypot(spread, step * ROUNDING_SPREAD))

    def read(self, places: Array, free: bool = False) -> None:
        """Read these figures once more: what is known of each is the mean of what was read since it was moved."""
        fresh = self.rng.normal(0.0, 1.0, len(self.targets)) * self.gauge
        mean = (self.error * self.times + fresh) / (self.times + 1.0)
        self.error, self.times = np.where(places, mean, self.error), self.times + places
        if not free:
            double = 1.0 + (self.kinds == "intonation")
            self.hands.minutes += figures.READING_MIN * float((double * places).sum())

    def off(self) -> Array:
        """Return how far off every figure is, as far as this maker knows."""
        true = np.array([true_figure(self.one, one) - asked_for(one) for one in self.targets])
        return np.asarray(true + self.error)

    def outside(self, kind: str) -> Array:
        """Return which figures of a kind are to be worked on, (T,)."""
        share = np.where(self.aim != 0.0, min(self.share, AIMED_SHARE), self.share)
        return (np.abs(self.off() - self.aim) > share * self.tolerance) & (self.kinds == kind)

    def service(self) -> None:
        """Read one full set and bring inside what can be."""
        self.hands.take([Tune()])
        self.hands.settle()
        self.read(np.ones(len(self.targets), dtype=bool))
        for _ in range(ROUNDS):
            moved = self._rod()
            self._aim_heights()
            moved |= self._trip("action", "intonation") | self._trip("nut")
            moved |= False if self._by_hand else self._trip("intonation")
            if not moved.any():
                break
            self.hands.take([Tune()])
            if not self.sees:
                self.read(moved)

    @property
    def _by_hand(self) -> bool:
        return self.one.instrument.bridge.position_mm_per_turn is None

    def _rod(self) -> Array:
        """Turn the rod by the fewest sixteenths after which all can be brought inside; return what was moved."""
        none = np.zeros(len(self.targets), dtype=bool)
        if self.one.instrument.rod.kind == "none" or not self.outside("relief").any():
            return none
        relief, best = self.kinds == "relief", (np.inf, 0)
        for sixteenths in sorted(range(-MOST_SIXTEENTHS, MOST_SIXTEENTHS + 1), key=abs):
            turned = copy.deepcopy(self.one)
            turned.neck.turn(sixteenths / 16.0)
            true = np.array([true_figure(turned, one) - asked_for(one) for one in self.targets])
            worst = float((np.abs(true + self.error) / self.tolerance)[relief].max())
            mendable = worst <= 1.0 and _ends_not(turned, self.targets, False) is None
            best = min(
                best,
                (max(worst, self.share) + (0.0 if mendable else 10.0), sixteenths),
                key=lambda two: two[0],
            )
        if best[1]:
            self.hands.take([RodTurn(turns=best[1] / 16.0)])
        return (relief if best[1] else none) & True

    def _aim_heights(self) -> None:
        """Aim all heights low or high where the width of the saddle leaves the octaves no other way, (T,)."""
        if not self._by_hand or self.aim.any():
            return
        actions = [one for one in self.targets if figure_of(one) == "action"]
        pitches = [one for one in self.targets if figure_of(one) == "intonation"]
        for share in AIMS:
            raised = copy.deepcopy(self.one)
            if any(not _raised(raised, one, share) for one in actions):
                continue
            if _pitches_not(raised, [pitches], False) is None:
                self.aim = np.where(self.kinds == "action", share * self.tolerance, 0.0)
                return

    def _trip(self, *kinds: str) -> Array:
        """Move what is outside of these kinds by its own adjuster in one trip; return which figures were moved."""
        worked = np.zeros(len(self.targets), dtype=bool)
        ahead, trip = copy.deepcopy(self.one), list[Adjustment]()
        for kind in kinds:
            if kind == "intonation" and len(kinds) > 1 and not self._by_hand:
                continue
            for place in np.flatnonzero(self.outside(kind)).tolist():
                mm = self._amount(ahead, place)
                if abs(mm) >= FINEST[kind]:
                    trip.append(_made(kind, self.targets[place].string, mm))
                    worked[place] = True
        if trip:
            self.hands.take(trip)
            self.hands.settle()
            self.error, self.times = np.where(worked, 0.0, self.error), np.where(worked, 0.0, self.times)
            if not self.sees:
                self.read(worked, free=True)
        return worked

    def _amount(self, ahead: WorkshopInstrument, place: int) -> float:
        """Return how far to move a figure's own adjuster to bring what is known of it to its middle. Moves `ahead`."""
        target, kind = self.targets[place], self.kinds[place]
        s, aim = target.string - 1, asked_for(target) + self.aim[place] - self.error[place]
        held = {"nut": ahead.nut_mm, "action": ahead.saddle_mm, "intonation": ahead.setback_mm}[kind]
        start = float(held[s])
        length = float(ahead.scale_mm[s] - ahead.fret_x[s, ahead.first[s]])
        gain = {"nut": -1.5, "action": -2.0, "intonation": length * np.log(2) / CENTS_PER_OCTAVE}[kind]
        for _ in range(NEARER):
            held[s] += gain * (true_figure(ahead, target) - aim)
            if kind == "nut" or (kind == "action" and self._by_hand):
                held[s] = min(held[s], start)
        return float(held[s]) - start


def _made(kind: str, string: int, mm: float) -> Adjustment:
    if kind == "nut":
        return NutSlot(string=string, mm=mm)
    if kind == "action":
        return SaddleHeight(string=string, mm=mm)
    return SaddlePosition(string=string, mm=mm)


@dataclass(frozen=True)
class Best:
    """Whether all is inside after one set, after two, and half a year later; the minutes of the first service."""

    one: bool
    two: bool
    later: bool | None
    minutes: float


def knowing(group: Group, seed: int, share: float, sees: bool) -> Best | None:
    """Return what comes of one instrument with a maker who knows it; None where no perfect hand could mend it."""
    one = arrival(group.kinds[seed % len(group.kinds)], seed, None, group.zero_fret)
    if why_not(one) is not None:
        return None
    rng = np.random.default_rng(figures.MAKER_SEED + seed)
    maker = Knowing(one, Hands(one, rng), rng, share, sees)
    maker.service()
    first, minutes = bool(out_by_truth(one, maker.targets).max() <= 1.0), maker.hands.minutes
    maker.service()
    second, later = bool(out_by_truth(one, maker.targets).max() <= 1.0), None
    months_later(one, seed)
    if why_not(one) is None:
        again = Knowing(one, Hands(one, rng), rng, share, sees)
        again.service()
        later = bool(out_by_truth(one, again.targets).max() <= 1.0)
    return Best(first, second, later, minutes)


def _told(rows: list[Best]) -> tuple[float, str]:
    later = [one.later for one in rows if one.later is not None]
    shares = [float(np.mean(one)) for one in ([r.one for r in rows], [r.two for r in rows], later)]
    told = " ".join(f"{100.0 * share:5.1f}%" for share in shares)
    return sum(shares[:2]), f"{told} {float(np.median([one.minutes for one in rows])):6.1f}"


def _most(tried: tuple[Best, ...]) -> Best:
    """Return the best of what came of one instrument, each figure by itself: no one maker does as well."""
    later = [one.later for one in tried if one.later is not None]
    # Who has all inside after one set does nothing in the second.
    first = any(one.one for one in tried)
    inside = first, first or any(one.two for one in tried), any(later) if later else None
    return Best(*inside, min(one.minutes for one in tried))


def line(group: Group, count: int, first: int = 0) -> str:
    """Return one group's line of the table."""
    seeds = range(first, first + count)

    def rows(share: float, sees: bool) -> list[Best]:
        return [one for seed in seeds if (one := knowing(group, seed, share, sees)) is not None]

    seeing = [_most(each) for each in zip(*(rows(share, True) for share in SHARES), strict=True)]
    reading = [(*_told(rows(share, False)), share) for share in SHARES]
    most = max(reading, key=lambda one: one[0])
    return f"{group.name:22s} {len(seeing):4d} | {_told(seeing)[1]} | {most[1]} {most[2]:6.2f}"


HEAD = (
    f"{'group':22s} {'n':>4s} | {'one':>6s} {'two':>6s} {'later':>6s} {'min':>6s} "
    f"| {'one':>6s} {'two':>6s} {'later':>6s} {'min':>6s} {'share':>6s}"
)


def report(quick: bool = False) -> str:
    """Return the table of the main groups: the seeing maker, then the reading one at his best share."""
    return report_of(HEAD, line, quick)


if __name__ == "__main__":
    keep_stdout_clean()
    sys.exit(print_asked(str(__doc__).splitlines()[0], HEAD, line, sys.argv[1:]))
