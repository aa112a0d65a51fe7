"""What is wanted beside what is and what would be: a row for every target of a plan."""

from dataclasses import dataclass

from breakangle.model.plan import Plan, Step
from breakangle.model.plan_form import READ_FIRST
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.said import figured
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.known_enough import known_enough
from breakangle.planning.explain.remarks import NOTHING_YET
from breakangle.planning.kinds.reading_names import reading_named
from breakangle.planning.kinds.registry import adjustment_kind, reading_kind, target_kind


@dataclass(frozen=True)
class Figure:
    """One target in `unit`: wanted ± tolerance, now and then with standard uncertainty.

    `words` is what the trade calls it, `taken` how it is read.
    """

    words: str
    taken: str
    string: int
    unit: str
    decimals: int
    wanted: float
    tolerance: float
    now: float
    now_uncertainty: float
    then: float
    then_uncertainty: float

    @property
    def judged(self) -> bool:
        """Return whether it is known well enough to be called inside or outside its tolerance."""
        return bool(known_enough(self.now - self.wanted, self.tolerance, self.now_uncertainty))

    @property
    def inside_now(self) -> bool:
        """Return whether it is inside its tolerance now."""
        return abs(self.now - self.wanted) <= self.tolerance + 1e-9

    @property
    def inside_then(self) -> bool:
        """Return whether it would be inside its tolerance after the plan."""
        return abs(self.then - self.wanted) <= self.tolerance + 1e-9


def value_of(reading: Reading, unit: str) -> tuple[float, float]:
    """Return a reading's value under the key of its `unit`, and its standard uncertainty."""
    return float(getattr(reading, unit)), float(getattr(reading, f"uncertainty_{unit}"))


def taken_in_words(reading: Reading) -> str:
    """Return how a reading is taken, without its string."""
    return reading_kind(reading).along(reading)


def figures(plan: Plan) -> tuple[Figure, ...]:
    """Return a figure for every target of `plan`, those of one kind together, from the low string to the high one."""
    found = []
    for target, now, then in zip(plan.targets.wanted, plan.now.readings, plan.then.readings, strict=True):
        kind = target_kind(target)
        value, uncertainty = value_of(now, kind.unit)
        later, later_uncertainty = value_of(then, kind.unit)
        found.append(
            Figure(
                words=tr(str(kind.role(target)[0])),
                taken=taken_in_words(now),
                string=target.string,
                unit=kind.unit,
                decimals=kind.decimals,
                wanted=kind.wanted(target),
                tolerance=kind.tolerance(target),
                now=value,
                now_uncertainty=uncertainty,
                then=later,
                then_uncertainty=later_uncertainty,
            )
        )
    order = list(dict.fromkeys((one.words, one.taken) for one in found))
    return tuple(sorted(found, key=lambda one: (order.index((one.words, one.taken)), -one.string)))


@dataclass(frozen=True)
class Told:
    """One step in words: what to do, by the screw, why, with what care, and what should then be read."""

    do: str
    screw: str | None
    why: str
    caution: tuple[str, ...]
    expect: tuple[str, ...]


def told(step: Step, service: Service) -> Told:
    """Return `step` in words."""
    do = adjustment_kind(step.adjustment).told(step.adjustment, service.instrument_now())
    expect = []
    for reading in step.expect:
        kind = reading_kind(reading)
        value, uncertainty = value_of(reading, kind.unit)
        shown = f"{figured(value, kind.decimals)} {tr(kind.unit)} ± {figured(2 * uncertainty, kind.decimals)}"
        expect.append(f"{reading_named(reading)}: {shown}")
    return Told(do, step.screw, step.why, step.caution, tuple(expect))


def undecided(plan: Plan) -> str:
    """Return the note that tells why nothing can be said yet, where that is all there is to say; else empty."""
    if plan.verdict not in ("leave", "read-first"):
        return ""
    return next((note.words for note in plan.notes_of(NOTHING_YET, *READ_FIRST)), "")
