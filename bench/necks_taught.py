"""What a fleet's files teach of a neck not seen before, from service file to file of priors, against true necks.

    python -m bench necks_taught                                   # two fleets of each kind
    python -m bench.necks_taught --count 12 --specimens 100        # the table of docs/fleet.md

Electrics of `bench/_instruments.py`, a full set of readings, a quarter turn of the rod by a hand that scatters (tighter
where relief is over 0.2 mm, looser elsewhere: nobody turns a flat neck tighter), and the full set once more. How much a
turn does is drawn here: each make's mean about the family's and each neck about its make's, from Student's t of 6
degrees in the logarithm, together as wide as `bench/_instruments.py` has it. The files go through the job `learn` and a
file of priors, as from the command line. Error is the mean of |expected - true| of what such a quarter turn does to the
relief of new necks, as mm a turn, before anything of them is read; its interval is the planner's own, with how much two
like turns of one rod differ. `--count` fleets of six makes of eight; `--specimens` of one make of three.
"""

import argparse
import tempfile
from functools import cache
from pathlib import Path

import numpy as np

from bench._instruments import SimulatedInstrument, arrival
from bench._maker import Bench
from breakangle.fleet.items import Item
from breakangle.fleet.jobs.learn import rows
from breakangle.fleet.learned import populations_of
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.prior import prior_of, relief_rows
from breakangle.planning.kinds.registry import adjustment_kind
from breakangle.planning.kinds.taught import prior_taught
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.layout import Belief, Layout
from breakangle.planning.state.picture import picture_of
from breakangle.reference.families import family
from breakangle.services.history.makes_table import Whose
from breakangle.services.history.population import expected_of, write_population

KIND, TURNS, NEW_NECKS = "electric-guitar", 0.25, 20
LOOSER_MM = 0.2
USUAL = 200  # necks whose mean answer stands for what a turn usually does
SPREAD, DEGREES = 0.3, 6  # of the logarithm of what a turn does, as bench/_instruments.py draws it
FLEETS = {  # name: makes, specimens of each, spread within and between as shares of the variance
    "six makes of eight, 1 : 2": (6, 8, 0.2, 0.8),
    "six makes of eight, 1 : 0": (6, 8, 1.0, 0.0),
    "one make of three, 1 : 0": (1, 3, 1.0, 0.0),
    "one make of three, 1 : 2": (1, 3, 0.2, 0.8),
}


def _log_ratio(rng: np.random.Generator, share: float) -> float:
    scale = SPREAD * np.sqrt(share * (DEGREES - 2) / DEGREES)
    return float(scale * rng.standard_t(DEGREES))


def electric(seed: int, ratio: float) -> tuple[SimulatedInstrument, RodTurn]:
    """Return an electric whose rod does `ratio` times what is usual, and the turn that it is given."""
    one = arrival(KIND, seed)
    one.rod_per_turn_mm *= ratio * _usual_mm() / -one._relief_of(one.rod_per_turn_mm)
    return one, RodTurn(turns=TURNS if _relief_mm(one) > LOOSER_MM else -TURNS)


def _relief_mm(one: SimulatedInstrument) -> float:
    held = (1, one.instrument.joint_fret)
    return float(np.mean([one.gap_mm(string, one.relief_fret, held) for string in (1, one.count)]))


def answer_mm(seed: int, ratio: float) -> float:
    """Return what its turn, by a hand that scatters, truly does to the relief of such an electric, mm a turn."""
    one, turn = electric(seed, ratio)
    before = _relief_mm(one)
    Bench(one, np.random.default_rng(seed)).do(turn)
    return (_relief_mm(one) - before) / turn.turns


def specimen(seed: int, ratio: float) -> Service:
    """Return the service of such an electric: read, turned, read again."""
    one, turn = electric(seed, ratio)
    bench = Bench(one, np.random.default_rng(seed))
    bench.do(Tune())
    before = bench.full_set()
    bench.do(turn)
    after = [each.model_copy(update={"after": 1}) for each in bench.full_set()]
    return Service(instrument=one.instrument, readings=(*before, *after), work=(turn,))


def _usual_mm() -> float:
    rod = family(KIND).rod
    assert rod is not None
    return abs(rod.relief_mm_per_turn.mean)


@cache
def usual_answer_mm() -> float:
    """Return what a turn does to the relief of a neck whose rod does what is usual, mm: the mean of many."""
    return float(np.mean([answer_mm(seed, 1.0) for seed in range(USUAL)]))


class Fleet:
    """Makes with their true means, and the necks of them that taught."""

    def __init__(self, seed: int, makes: int, each: int, within: float, between: float) -> None:
        self._rng, self._within = np.random.default_rng(seed), within
        self.means = {f"make {n}": _log_ratio(self._rng, between) for n in range(makes)}
        self.seen, self.whose = [], {}
        for make in self.means:
            for n in range(each):
                service = specimen(int(self._rng.integers(1 << 31)), float(np.exp(self.neck(make))))
                name = f"{make}, {n}"
                self.seen.append(Item(name, "", service_text(service).encode()))
                self.whose[name] = Whose(make, "", name)

    def neck(self, make: str) -> float:
        """Draw a neck of a make: the logarithm of what a turn does, over what is usual."""
        return self.means[make] + _log_ratio(self._rng, self._within)

    def answer_mm(self, make: str) -> float:
        """Return what a turn does to the relief of a new neck of a make, mm."""
        return answer_mm(int(self._rng.integers(1 << 31)), float(np.exp(self.neck(make))))

    def taught(self, path: Path) -> None:
        """Write what all of them teach."""
        found = [{"item": one.name, **row} for one in self.seen for row in rows(one, {})]
        write_population(path, populations_of(found, self.whose))


def errors(fleet: Fleet, path: Path) -> np.ndarray:
    """Return for new necks of every make: error by the family, by the fleet, by true means, inside 95 %, spread."""
    fresh = Service(instrument=arrival(KIND, 0).instrument)
    board = board_of(fresh.instrument)
    family_mm, _ = expected_mm(prior_of(board), board)
    found = []
    for make, mean in fleet.means.items():
        told_mm, spread_mm = expected_mm(prior_taught(board, expected_of(path, fresh, make).taught), board)
        for _ in range(NEW_NECKS):
            true_mm = fleet.answer_mm(make)
            by = [abs(true_mm - one) for one in (family_mm, told_mm, usual_answer_mm() * np.exp(mean))]
            found.append([*by, by[1] <= 1.96 * spread_mm])
    return np.array(found)


def expected_mm(belief: Belief, board: Board) -> tuple[float, float]:
    """Return what the planner expects of such a turn, mm of relief a turn, and its one standard deviation.

    It is asked of the turn itself: how much of it only takes up the rod's play is part of what it does.
    """
    turn, layout = RodTurn(turns=TURNS), Layout(board.string_count, board.fret_count)
    neck, reliefs = layout["neck"], relief_rows(board, family(KIND))
    effect = adjustment_kind(turn).effect(turn, picture_of(board, belief.mean))
    changes = reliefs @ (effect.rows - np.eye(layout.size))[neck]
    variance = changes @ belief.covariance @ changes + reliefs**2 @ effect.variance[neck]
    return float(reliefs @ (effect.mean - belief.mean)[neck]) / TURNS, float(np.sqrt(variance)) / TURNS


def table(count: int, specimens: int) -> str:
    """Return the table: `count` fleets of six makes, `specimens` of one make of three."""
    lines = [f"{'fleet':26s} {'fleets':>6s} {'family, mm':>10s} {'fleet, mm':>10s} {'lower':>7s} "
             f"{'over true means':>15s} {'inside 95 %':>11s}"]  # fmt: skip
    for name, kind in FLEETS.items():
        fleets, found = count if kind[0] > 1 else specimens, []
        for seed in range(fleets):
            with tempfile.TemporaryDirectory() as folder:
                fleet, path = Fleet(seed, *kind), Path(folder) / "taught.json"
                fleet.taught(path)
                found.append(errors(fleet, path))
        by_family, by_fleet, known, inside = np.concatenate(found).mean(axis=0)
        lines.append(
            f"{name:26s} {fleets:6d} {by_family:10.4f} {by_fleet:10.4f} {100 * (1 - by_fleet / by_family):6.1f}% "
            f"{by_fleet / known:15.2f} {100 * inside:10.1f}%"
        )
    return "\n".join(lines)


def report(quick: bool = False) -> str:
    """Return the table for a few fleets."""
    return table(1 if quick else 2, 2 if quick else 8)


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--count", type=int, default=12)
    words.add_argument("--specimens", type=int, default=100)
    given = words.parse_args()
    print(table(given.count, given.specimens), flush=True)
