"""A maker who services workshop instruments by the plan: reads a full set, follows it trip by trip, counts minutes.

Rules, the same for every plan this bench is run with:

- Before the first step the strings are tuned and one full set is read: every figure that is wanted.
- A trip is what the plan says it is; where a plan has no trips, a turn of the rod, all heights that follow each other,
  all slots, a tuning, and all saddle positions are a trip each.
- After every turn of the rod relief is read at both edges; that is in the minute an eighth of a turn takes. After every
  trip the maker reads what the plan says is read at its end (`checks`), and plans again.
- At a stop the maker takes the readings asked for, at most three times over (`asked`), planning again after each. A
  stop is the beginning, the end of the rod's turns, and the end of a trip; without trips the ends of those after
  which strings are at pitch.
- A question about a figure already written down is answered by reading that figure again and writing it down right,
  in its place.
- What a trip costs goes by what is done in it: all strings slack and back where a saddle cut by hand comes out, those
  whose slots are filed, half of that for sliding a loose bridge; the saddle out once, however many cuts.
- Strings that have been slackened, and heights that have moved, settle once before the next reading or tuning.
- The maker stops when the plan has no steps.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from bench.workshop import figures
from bench.workshop.hands import Hands
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.readings import Reader, same_place
from bench.workshop.wanted import Array, out_by_truth, targets_of, wanted_of
from breakangle.model.plan import Plan, Step
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.plan import plan
from breakangle.planning.state.layout import Belief

MOST_TRIPS = 30  # between two full sets; a plan that goes on longer has lost its way
MOST_ROUNDS = 3  # of readings asked for at one stop
AT_PITCH = ("tune", "saddle-position")  # where a plan without trips has the strings at pitch again


@dataclass
class Standing:
    """Where a service stands after a full set and all that followed it."""

    out: Array
    out_wide: Array
    minutes: float
    asked: int
    checks: int
    eighths: int
    trips: int
    verdict: str


@dataclass
class Maker:
    """One maker with one instrument on one visit."""

    one: WorkshopInstrument
    hands: Hands
    reader: Reader
    service: Service
    prior: Belief | None = None
    asked: int = 0
    checks: int = 0
    trips: int = 0
    touched: set[str] = field(default_factory=set)

    def planned(self) -> Plan:
        """Return the plan as things stand."""
        return plan(self.service, estimate(self.service, self.prior))

    # -- reading ------------------------------------------------------------------------------------------------

    def _keep(self, readings: Sequence[Reading], minutes: float = figures.READING_MIN) -> None:
        self.hands.minutes += minutes * len(readings)
        stamped = tuple(one.model_copy(update={"after": len(self.service.work)}) for one in readings)
        self.service = self.service.model_copy(update={"readings": self.service.readings + stamped})

    def full_set(self) -> None:
        """Tune, and read one full set."""
        self.do([Tune()])
        self.hands.settle()
        self._keep(self.reader.full_set())

    def answered(self) -> Plan:
        """Return the plan once what it asks for has been read, three times over at most."""
        made = self.planned()
        for _ in range(MOST_ROUNDS):
            questions = getattr(made, "questions", ())
            if not questions and not made.read_again:
                break
            self.hands.settle()
            if questions:
                for one in questions:
                    self._answer(one.ask, one.readings)
            else:
                self._answer("reading", made.read_again)
            made = self.planned()
        return made

    def _answer(self, ask: str, readings: Sequence[Reading]) -> None:
        self.asked += len(readings)
        if ask == "reading":
            self._keep(self.reader.read(readings))
            return
        for doubted in readings:
            right = self.reader.true_to(doubted)
            rest = list(self.service.readings)
            wrong = next((one for one in reversed(rest) if same_place(one, doubted)), None)
            if wrong is not None:
                rest.remove(wrong)
                self.service = self.service.model_copy(update={"readings": tuple(rest)})
            self._keep([one for one in right if same_place(one, doubted)])

    # -- doing --------------------------------------------------------------------------------------------------

    def do(self, trip: Sequence[Adjustment]) -> None:
        """Make one trip's adjustments and write them down."""
        self.hands.take(trip)
        self.service = self.service.model_copy(update={"work": (*self.service.work, *trip)})
        self.touched |= {_adjuster(one) for one in trip if one.adjust != "tune"}

    def follow(self) -> str:
        """Follow the plan until it has no more steps; return its last verdict."""
        made = self.answered()
        for _ in range(MOST_TRIPS):
            if not made.steps:
                break
            trip, reads = next_trip(made)
            self.trips += 1
            self.do([step.adjustment for step in trip])
            turned = trip[0].adjustment.adjust == "rod"
            if turned:
                self._keep(self.reader.relief(), 0.0)
            self._check(reads, turned)
            made = self.planned()
            if self._at_a_stop(trip, made):
                made = self.answered()
        self.hands.settle()
        return made.verdict

    def _check(self, reads: Sequence[Reading], relief_read: bool) -> None:
        """Read what the plan says is read at a trip's end; after the rod, relief has been read already."""
        own = [one for one in reads if not (relief_read and _is_relief(one))]
        if own:
            self.hands.settle()
            self.checks += len(own)
            self._keep(self.reader.read(own))

    def _at_a_stop(self, trip: Sequence[Step], made: Plan) -> bool:
        what = trip[-1].adjustment.adjust
        if what == "rod":
            return not made.steps or made.steps[0].adjustment.adjust != "rod"
        return bool(getattr(made, "trips", ())) or what in AT_PITCH or not made.steps


def next_trip(made: Plan) -> tuple[list[Step], tuple[Reading, ...]]:
    """Return the steps of the plan's next trip (one turn, if it is the rod's), and what is read at its end."""
    first = made.steps[0]
    trips = getattr(made, "trips", ())
    if trips:
        own = [step for step in made.steps if step.trip == first.trip]
        reads = next((one.reads for one in trips if one.trip == first.trip), ())
        if first.adjustment.adjust == "rod":
            return [first], () if len(own) > 1 and own[1].adjustment.adjust == "rod" else reads
        return own, reads
    if first.adjustment.adjust == "rod":
        return [first], ()
    group = []
    for step in made.steps:
        if step.adjustment.adjust != first.adjustment.adjust:
            break
        group.append(step)
    return group, ()


def _is_relief(one: Reading) -> bool:
    held = getattr(one, "held", ())
    return any(fret < one.fret for fret in held) and any(fret > one.fret for fret in held)


def _adjuster(one: Adjustment) -> str:
    place = getattr(one, "string", None) or getattr(one, "post", None) or ""
    return f"{one.adjust} {place}".strip()


def by_plan(
    one: WorkshopInstrument,
    seed: int,
    prior: Belief | None = None,
    sets: int = 2,
    coarse_nut: bool = False,
) -> tuple[list[Standing], Service]:
    """Service the instrument by the plan; return where it stands after each full set, and the service as written."""
    rng = np.random.default_rng(figures.MAKER_SEED + seed)
    blank = Service(instrument=one.instrument, targets=targets_of(one))
    maker = Maker(one, Hands(one, rng), Reader(one, rng, coarse_nut), blank, prior)
    targets, found = wanted_of(one), []
    for _ in range(sets):
        maker.full_set()
        verdict = maker.follow()
        found.append(
            Standing(
                out=out_by_truth(one, targets),
                out_wide=out_by_truth(one, targets, wide=True),
                minutes=maker.hands.minutes,
                asked=maker.asked,
                checks=maker.checks,
                eighths=maker.hands.eighths,
                trips=maker.trips,
                verdict=verdict,
            )
        )
    return found, maker.service
