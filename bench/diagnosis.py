"""How well patterns are recognised on instruments of known truth: named, sized, and not seen where there are none.

Each pattern is planted mild (its tolerance), middling (twice) and gross (four times) on sound instruments of the
workshop's own making. A full set of readings is taken, and what a person asked to check that place would read beside
it; figures are written down with the workshop's slips. What the diagnosis asks to be read is read as well.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bench._planted import CASES, Case, high_fret, high_nut, reset
from bench.workshop.arrivals import arrival, months_later, sound
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.readings import Reader, same_place
from bench.workshop.wanted import targets_of
from breakangle.model.plan import Finding
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.planning.estimate.diagnosis.find import findings, readings_that_tell
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.estimate.learning import recall
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.reference.families import families

SEED = 20_000
MOST_ROUNDS = 3  # of reading what is asked for
SIZES = {"mild": 1.0, "middling": 2.0, "gross": 4.0}


def looked_at(
    one: WorkshopInstrument, reader: Reader, beside: Sequence[Reading] = (), former: Service | None = None
) -> tuple[Service, Estimate, tuple[Finding, ...]]:
    """Return the service after a full set and what is read beside it, with what the diagnosis asks for, and says."""
    readings = [*reader.full_set(), *reader.read(beside)]
    service = Service(instrument=one.instrument, readings=tuple(readings), targets=targets_of(one))
    prior = recall([former], service) if former is not None else None
    now = estimate(service, prior)
    for _ in range(MOST_ROUNDS):
        asked = [taken for question in readings_that_tell(service, now) for taken in question.readings]
        asked += [odd.reading for odd in now.surprises if odd.contradicted and _once(odd.reading, service)]
        asked = list(dict.fromkeys(asked))
        if not asked:
            break
        service = service.model_copy(update={"readings": (*service.readings, *reader.read(asked))})
        now = estimate(service, prior)
    return service, now, findings(service, now)


def _once(reading: Reading, service: Service) -> bool:
    """Return whether a figure has been read only once."""
    return sum(same_place(reading, other) for other in service.readings) == 1


def _former(one: WorkshopInstrument, seed: int, share: float) -> Service:
    reader = Reader(one, np.random.default_rng(SEED + 7 * seed + 3), mistyped_share=share)
    return Service(instrument=one.instrument, readings=tuple(reader.full_set()), targets=targets_of(one))


@dataclass
class Count:
    """What came of one pattern in one size."""

    tried: int = 0
    named: int = 0
    held: int = 0
    others: int = 0


def counted(case: Case, times: float, instruments: int, share: float = 0.04, first: int = 0) -> Count:
    """Return how often the pattern was named, its true size inside its interval, and something else seen besides."""
    count = Count()
    for seed in range(first, first + instruments):
        kind = case.kinds[seed % len(case.kinds)]
        one = sound(kind, SEED + seed)
        rng = np.random.default_rng(SEED + seed)
        former = _former(one, seed, share) if case.returning else None
        if case.returning:
            months_later(one, seed)
        true = case.plant(one, times * case.tolerance(one), rng)
        reader = Reader(one, rng, mistyped_share=share)
        found = looked_at(one, reader, case.beside(one, rng), former)[2]
        hits = [item for item in found if item.finding == case.name and _there(item, one)]
        count.tried += 1
        count.others += any(item.finding != case.name for item in found)
        if hits:
            count.named += 1
            size = hits[0].size
            assert size is not None
            count.held += size.low <= true(hits[0]) <= size.high
    return count


def _there(item: Finding, one: WorkshopInstrument) -> bool:
    """Return whether a finding that speaks of one fret or one string speaks of the planted one."""
    if item.finding == "high-nut":
        return ("misplaced-nut" in one.planted) == (item.where.part == "place of the nut")
    if item.finding == "high-fret":
        return int(one.planted["fret"]) in item.where.frets
    if item.finding == "low-slot":
        return int(one.planted["string"]) in item.where.strings
    return True


def false_findings(instruments: int, share: float = 0.04, first: int = 0) -> dict[str, int]:
    """Return what was seen on so many sound instruments of all families, by pattern, and how many had anything."""
    seen: dict[str, int] = {"any": 0}
    kinds = families()
    for seed in range(first, first + instruments):
        one = sound(kinds[seed % len(kinds)], SEED + seed)
        reader = Reader(one, np.random.default_rng(SEED + seed), mistyped_share=share)
        found = looked_at(one, reader)[2]
        seen["any"] += bool(found)
        for name in {item.finding for item in found}:
            seen[name] = seen.get(name, 0) + 1
    return seen


PAIRS = (
    ("twist", "high-nut"),
    ("hump", "high-fret"),
    ("neck-reset", "worn-first-position"),
    ("rising-tongue", "twist"),
)


def two_together(instruments: int, share: float = 0.04) -> tuple[int, int]:
    """Return on how many instruments both of two patterns of twice their tolerance were named, and of how many."""
    cases = {case.name: case for case in CASES}
    named = 0
    for seed in range(instruments):
        pair = [cases[name] for name in PAIRS[seed % len(PAIRS)]]
        kinds = [kind for kind in pair[0].kinds if kind in pair[1].kinds]
        one = sound(kinds[seed // len(PAIRS) % len(kinds)], SEED + 5000 + seed)
        rng = np.random.default_rng(SEED + 5000 + seed)
        # What is set up around first, then what stays as it is planted.
        for case in sorted(pair, key=lambda case: case.plant in (reset, high_nut, high_fret)):
            case.plant(one, SIZES["middling"] * case.tolerance(one), rng)
        beside = [reading for case in pair for reading in case.beside(one, rng)]
        found = looked_at(one, Reader(one, rng, mistyped_share=share), beside)[2]
        named += all(any(item.finding == case.name and _there(item, one) for item in found) for case in pair)
    return named, instruments


GROSS, HONEST = 30.0, 4.5  # so many of a gauge's 0.03 mm or 1 cent


def slips_named(instruments: int) -> dict[str, int]:
    """Return how many figures of full sets on arrival were written down grossly wrong, named, and doubted falsely."""
    count = {
        "gross": 0,
        "gross named": 0,
        "wrong by less": 0,
        "less named": 0,
        "honest": 0,
        "honest doubted": 0,
    }
    kinds = families()
    for seed in range(instruments):
        one = arrival(kinds[seed % len(kinds)], SEED + 10_000 + seed)
        reader = Reader(one, np.random.default_rng(seed))
        readings = tuple(reader.full_set())
        now = estimate(Service(instrument=one.instrument, readings=readings, targets=targets_of(one)))
        doubted = {id(odd.reading) for odd in now.surprises if odd.contradicted}
        for reading in readings:
            off = _off(one, reading)
            if off >= GROSS:
                count["gross"] += 1
                count["gross named"] += id(reading) in doubted
            elif off >= HONEST:
                count["wrong by less"] += 1
                count["less named"] += id(reading) in doubted
            else:
                count["honest"] += 1
                count["honest doubted"] += id(reading) in doubted
    return count


def _off(one: WorkshopInstrument, reading: Reading) -> float:
    """Return how far a figure as written down lies from the truth, in spreads of an ordinary gauge."""
    if isinstance(reading, Gap):
        return abs(reading.mm - one.gap_mm(reading.string, reading.fret, reading.held)) / 0.03
    assert isinstance(reading, Pitch) and reading.cents is not None
    true = float(one.open_cents[reading.string - 1])
    return abs(
        reading.cents - true - (one.stopped_cents(reading.string, reading.fret) if reading.fret else 0.0)
    )


def report(quick: bool = False) -> str:
    """Return the table of all patterns in all sizes, and the false findings on sound instruments."""
    each, sound_ones = (12, 60) if quick else (40, 600)
    lines = [f"{'pattern':22s} {'size':10s} {'named':>9s} {'size held':>10s} {'also':>5s}"]
    for case in CASES:
        for size, times in SIZES.items():
            found = counted(case, times, each)
            lines.append(
                f"{case.told:22s} {size:10s} {found.named:4d}/{found.tried:<4d} {found.held:5d}/{found.named:<4d} "
                f"{found.others:5d}"
            )
    named, tried = two_together(each)
    lines.append(f"two patterns on one instrument, both middling: both named on {named} of {tried}")
    for share in (0.04, 0.0):
        seen = false_findings(sound_ones, share)
        told = ", ".join(f"{name} {count}" for name, count in sorted(seen.items()) if name != "any")
        lines.append(
            f"sound, {100 * share:.0f} % mistyped: {seen['any']} of {sound_ones} with a finding ({told})"
        )
    told = ", ".join(f"{name} {count}" for name, count in slips_named(sound_ones // 2).items())
    lines.append(f"slips in full sets on arrival: {told}")
    return "\n".join(lines)


if __name__ == "__main__":
    import sys

    print(report("quick" in sys.argv))
