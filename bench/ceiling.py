"""What the closed loop's planner reaches with gauges that hardly scatter: same instruments, hands, rules, minutes.

    python -m bench.ceiling [--count 24] [--group "bass four"] [--first 0] [--quick]

Every figure is read 16 times without slips and its mean is written down, for the price of one reading. What then stays
outside, and the minutes that it then takes, no reading at the bench can better: it is what hands, eighths of a turn and
the planner's own rules leave.
"""

import sys
from dataclasses import dataclass

import numpy as np

from bench._groups import print_asked, report_of
from bench._served import Group
from bench._studied import LOCAL
from bench.workshop import figures
from bench.workshop.arrivals import arrival, months_later
from bench.workshop.hands import Hands
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.maker import Maker
from bench.workshop.reach import why_not
from bench.workshop.readings import Reader
from bench.workshop.wanted import out_by_truth, targets_of, wanted_of
from breakangle.cli.stdout import keep_stdout_clean
from breakangle.model.service import Service
from breakangle.planning.estimate.learning import recall
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.state.layout import Belief

TIMES, WORKERS = 16, 2


class ManyTimes(Reader):
    """A maker who reads every figure many times, writes its mean down, and never writes one down wrong."""

    def gap(self, string: int, fret: int, held: tuple[int, ...]) -> Gap:
        """Return the mean of many readings of a gap."""
        read = [super(ManyTimes, self).gap(string, fret, held) for _ in range(TIMES)]
        spread = float(read[0].uncertainty_mm or 0.0) / TIMES**0.5
        mean = float(np.mean([one.mm for one in read]))
        return read[0].model_copy(update={"mm": round(mean, 4), "uncertainty_mm": round(spread, 4)})

    def pitch(self, string: int, fret: int, harmonic: int | None = None) -> Pitch:
        """Return the mean of many readings of a pitch."""
        read = [super(ManyTimes, self).pitch(string, fret, harmonic) for _ in range(TIMES)]
        spread = float(read[0].uncertainty_cents or 0.0) / TIMES**0.5
        mean = float(np.mean([one.cents for one in read]))
        return read[0].model_copy(update={"cents": round(mean, 3), "uncertainty_cents": round(spread, 3)})


@dataclass(frozen=True)
class Reached:
    """Whether all is truly inside after one full set, after two, and on a later visit (None: no hand could)."""

    one: bool
    two: bool
    later: bool | None
    minutes: float
    asked: int


def _visited(
    one: WorkshopInstrument, seed: int, prior: Belief | None, sets: int
) -> tuple[Maker, list[tuple[bool, float, int]]]:
    """Return the maker after so many full sets; after each whether all is inside, the minutes, what was asked."""
    rng = np.random.default_rng(figures.MAKER_SEED + seed)
    blank = Service(instrument=one.instrument, targets=targets_of(one))
    maker = Maker(one, Hands(one, rng), ManyTimes(one, rng, mistyped_share=0.0), blank, prior)
    found = []
    for _ in range(sets):
        maker.full_set()
        maker.follow()
        inside = bool(out_by_truth(one, wanted_of(one)).max() <= 1.0)
        found.append((inside, maker.hands.minutes, maker.asked))
    return maker, found


def reached(task: tuple[Group, int]) -> Reached | None:
    """Return what comes of one instrument of a group; None where no perfect hand could mend it."""
    group, seed = task
    one = arrival(group.kinds[seed % len(group.kinds)], seed, None, group.zero_fret)
    if why_not(one) is not None:
        return None
    maker, ((first, minutes, asked), (second, _, _)) = _visited(one, seed, None, 2)
    months_later(one, seed)
    later = None
    if why_not(one) is None:
        prior = recall([maker.service], Service(instrument=one.instrument))
        later = _visited(one, seed + figures.SEASON_SEED, prior, 1)[1][0][0]
    return Reached(first, second, later, minutes, asked)


def line(group: Group, count: int, first: int = 0) -> str:
    """Return one group's line of the table."""
    tasks = [(group, seed) for seed in range(first, first + count)]
    rows = [one for one in LOCAL(reached, tasks, WORKERS, figures.MOST_SECONDS) if one is not None]
    later = [one.later for one in rows if one.later is not None]
    shares = [np.mean([one.one for one in rows]), np.mean([one.two for one in rows]), np.mean(later)]
    told = " ".join(f"{100.0 * float(share):5.1f}%" for share in shares)
    minutes = float(np.median([one.minutes for one in rows]))
    asked = float(np.mean([one.asked for one in rows]))
    return f"{group.name:22s} {len(rows):4d} {told} {minutes:6.1f} {asked:6.1f}"


HEAD = f"{'group':22s} {'n':>4s} {'one':>6s} {'two':>6s} {'later':>6s} {'min':>6s} {'asked':>6s}"


def report(quick: bool = False) -> str:
    """Return the table of the main groups."""
    return report_of(HEAD, line, quick)


if __name__ == "__main__":
    keep_stdout_clean()
    sys.exit(print_asked(str(__doc__).splitlines()[0], HEAD, line, sys.argv[1:]))
