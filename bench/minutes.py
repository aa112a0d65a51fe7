"""Where the minutes of a first service go, by what is done in them: one full set and what the plan then asks and does.

    python -m bench.minutes [--kind electric-guitar] [--first 0] [--count 24]

The same instruments, maker and minutes as in `bench.closed_loop`; means over those that a perfect hand could mend.
"""

import argparse
import sys
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from bench.workshop import figures
from bench.workshop.arrivals import arrival
from bench.workshop.hands import Hands
from bench.workshop.maker import Maker
from bench.workshop.reach import why_not
from bench.workshop.readings import Reader
from bench.workshop.wanted import out_by_truth, targets_of, wanted_of
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service

QUICK_COUNT = 4


@dataclass
class CountedHands(Hands):
    """Hands that write down what their minutes go into."""

    spent: dict[str, float] = field(default_factory=lambda: defaultdict(float))

    def settle(self) -> None:
        """Wait, and write down how long."""
        before = self.minutes
        super().settle()
        self.spent["settling"] += self.minutes - before

    def take(self, trip: Sequence[Adjustment]) -> None:
        """Make the adjustments of one trip, and write down how long they took without settling."""
        before, settled = self.minutes, self.spent["settling"]
        super().take(trip)
        name = " and ".join(sorted({step.adjust for step in trip}))
        self.spent[name] += self.minutes - before - (self.spent["settling"] - settled)


@dataclass
class CountedMaker(Maker):
    """A maker whose readings are written down too."""

    spent: dict[str, float] = field(default_factory=lambda: defaultdict(float))

    def _keep(self, readings: Sequence[Reading], minutes: float = figures.READING_MIN) -> None:
        self.spent["readings"] += minutes * len(readings)
        super()._keep(readings, minutes)


def spent(kind: str, seed: int) -> tuple[float, bool, dict[str, float]] | None:
    """Return one service's minutes, whether all is truly inside after it, and what they went into; None: left out."""
    one = arrival(kind, seed)
    if why_not(one) is not None:
        return None
    rng = np.random.default_rng(figures.MAKER_SEED + seed)
    hands, reader = CountedHands(one, rng), Reader(one, rng)
    maker = CountedMaker(one, hands, reader, Service(instrument=one.instrument, targets=targets_of(one)))
    maker.full_set()
    full_set = maker.spent.pop("readings")
    maker.follow()
    inside = bool(out_by_truth(one, wanted_of(one)).max() <= 1.0)
    return hands.minutes, inside, {"full set": full_set, **maker.spent, **hands.spent}


def report(quick: bool = False, kind: str = "electric-guitar", first: int = 0, count: int = 24) -> str:
    """Return a line for each thing that minutes go into; `quick` counts four instruments at most."""
    count = min(count, QUICK_COUNT) if quick else count
    rows = [row for seed in range(first, first + count) if (row := spent(kind, seed)) is not None]
    if not rows:
        return f"{kind}: none that a perfect hand could mend"
    names = {name for row in rows for name in row[2]}
    total = {name: sum(row[2].get(name, 0.0) for row in rows) / len(rows) for name in names}
    minutes = [row[0] for row in rows]
    head = (
        f"{kind}, seeds {first} to {first + count - 1}: {len(rows)} counted, {sum(row[1] for row in rows)} inside; "
        f"minutes: median {np.median(minutes):.1f}, mean {np.mean(minutes):.1f}, of these"
    )
    return "\n".join(
        [
            head,
            *(
                f"{total[name]:6.1f} {name}"
                for name in sorted(names, key=lambda one: -total[one])
                if total[name]
            ),
        ]
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kind", default="electric-guitar")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=24)
    asked = parser.parse_args(sys.argv[1:])
    print(report(kind=asked.kind, first=asked.first, count=asked.count))
