"""How often a figure typed in inches where mm are expected is asked about, and how often an honest one is.

    python -m bench.inches [COUNT]

Sheets come from `bench/_typed_sheets.py`, in all families. COUNT is of sheets wholly in inches (300); honest mm sheets
are counted more than three times that (1,000).
"""

import json
import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from bench._typed_sheets import (
    Rng,
    inches,
    instrument_drawn,
    millimetres,
    service_of,
    sheet_drawn,
    sixty_fourths,
    with_figures,
)
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.planning.estimate.slips import slip_questions
from breakangle.planning.estimate.units_doubted import doubted_figures
from breakangle.planning.kinds.prior import prior_of
from breakangle.planning.state.board import board_of
from breakangle.services.service_files.service import service_from

CASES = ("", "low", "back-bowed", "straight", "low-nut")
INCH_MM = 25.4


@dataclass(frozen=True)
class Asked:
    """Of `count` trials, in how many something was asked, and which were not (or were, of honest ones)."""

    name: str
    count: int
    asked: int
    others: tuple[str, ...] = ()

    @property
    def share(self) -> float:
        return self.asked / max(self.count, 1)


def doubts(service: Service) -> list[str]:
    """Return the paths of the figures that are doubted, with the unit."""
    prior = prior_of(board_of(service.instrument, service.reference_hz))
    return [f"{one.figure.path} {one.unit} {one.figure.number:g}" for one in doubted_figures(service, prior)]


def wholly_in_inches(rng: Rng) -> Service:
    sheet, written = sheet_drawn(rng, str(rng.choice(CASES[:2]))), inches(rng)
    return service_of(sheet, lambda at, one: written(one))


def one_action(rng: Rng) -> Service:
    """A single action in inches, all by itself or beside the rest of a sheet in mm."""
    sheet, mm, inch = sheet_drawn(rng, str(rng.choice(CASES))), millimetres(rng), inches(rng)
    actions = [at for at, one in enumerate(sheet.figures) if one.role == "action"]
    chosen = int(rng.choice(actions))
    if rng.random() < 0.5:
        alone = with_figures(sheet, (sheet.figures[chosen],))
        return service_of(alone, lambda at, one: inch(one))
    return service_of(sheet, lambda at, one: inch(one) if at == chosen else mm(one))


def two_or_more(rng: Rng) -> Service:
    """A sheet in mm with two or more figures in inches, whichever."""
    sheet, mm, inch = sheet_drawn(rng, str(rng.choice(CASES[:2]))), millimetres(rng), inches(rng)
    count = min(int(rng.integers(2, 5)), len(sheet.figures))
    chosen = set(rng.choice(len(sheet.figures), size=count, replace=False).tolist())
    return service_of(sheet, lambda at, one: inch(one) if at in chosen else mm(one))


def counted_on_a_ruler(rng: Rng) -> Service:
    """Actions typed as bare 64ths, the rest in mm or not read."""
    sheet, mm = sheet_drawn(rng), millimetres(rng)
    return service_of(sheet, lambda at, one: sixty_fourths(one) if one.role == "action" else mm(one))


def honest(rng: Rng, at: int) -> Service:
    sheet, mm = sheet_drawn(rng, CASES[at % len(CASES)]), millimetres(rng)
    return service_of(sheet, lambda _, one: mm(one))


def gauge_or_scale_asked(rng: Rng) -> bool:
    """Return whether one gauge, or the scale, typed in inches into a file is asked about, or refused with inches."""
    data = Service(instrument=sheet_drawn(rng).instrument)
    body = json.loads(service_text(data))
    if rng.random() < 0.3:
        body["instrument"]["scale_mm"] = round(body["instrument"]["scale_mm"] / INCH_MM, 2)
    else:
        one = body["instrument"]["strings"][int(rng.integers(0, len(body["instrument"]["strings"])))]
        one["diameter_mm"] = round(one["diameter_mm"] / INCH_MM, 3)
        one.pop("core_mm", None)
    try:
        return bool(doubts(service_from(json.dumps(body).encode(), "a file")))
    except CorrectInputError as cause:
        return "inch" in str(cause)


def asked_of(name: str, count: int, make: Callable[[Rng], Service], seed: int, want: bool = True) -> Asked:
    """Return in how many of `count` services something is asked."""
    rng, asked, others = np.random.default_rng(seed), 0, []
    for _ in range(count):
        service = make(rng)
        found = doubts(service)
        asked += bool(found)
        if bool(found) is not want:
            shown = ", ".join(f"{one.fret}/{len(one.held)}:{one.mm:g}" for one in service.readings)  # type: ignore[attr-defined]
            others.append(f"{service.instrument.kind}: {'; '.join(found[:3]) or shown}")
    return Asked(name, count, asked, tuple(others))


def results(count: int = 300) -> list[Asked]:
    """Return every count that this bench tells."""
    number = iter(range(10_000))
    many = round(count * 10 / 3)
    rng = np.random.default_rng(5)
    sizes = sum(gauge_or_scale_asked(rng) for _ in range(count))
    return [
        asked_of("sheets wholly in inches", count, wholly_in_inches, 1),
        asked_of("sheets with one action in inches", count, one_action, 2),
        Asked("one gauge or the scale in inches", count, sizes),
        asked_of("sheets with two or more figures in inches", count, two_or_more, 3),
        asked_of("sheets with actions in bare 64ths", count, counted_on_a_ruler, 6),
        asked_of("honest sheets in mm", many, lambda rng: honest(rng, next(number)), 4, want=False),
    ]


def named(rng: Rng, count: int) -> tuple[int, int]:
    """Return how many figures of sheets wholly in inches are asked about, and how many there are that are not zero."""
    asked = there = 0
    for _ in range(count):
        service = wholly_in_inches(rng)
        asked += len(doubts(service))
        there += sum(one.mm > 0.0 for one in service.readings)  # type: ignore[attr-defined]
    return asked, there


def pulls(count: int) -> list[Asked]:
    """Return the counts of notes an octave off, of thin gauges, and of sets as they are."""
    rng = np.random.default_rng(8)
    notes = gauges = honest_sets = 0
    for _ in range(count):
        instrument = instrument_drawn(rng)
        honest_sets += bool(slip_questions(Service(instrument=instrument)))
        one = instrument.strings[int(rng.integers(len(instrument.strings)))]
        number = int(one.note[-1])
        up = number < 2 or rng.random() < 0.5
        octave = one.model_copy(update={"note": f"{one.note[:-1]}{number + (1 if up else -1)}"})
        notes += _asked_of_string(instrument, one, octave, ("note",))
        share = float(rng.uniform(0.45, 0.66))  # of the diameter: a fifth to under a half of the pull
        core = None if one.core_mm is None else one.core_mm * share
        thin = one.model_copy(update={"diameter_mm": one.diameter_mm * share, "core_mm": core})
        gauges += _asked_of_string(instrument, one, thin, ("gauge", "note"))
    return [
        Asked("a string's note an octave off", count, notes),
        Asked("a gauge that pulls under half of its set", count, gauges),
        Asked("sets as they are", count, honest_sets),
    ]


def _asked_of_string(instrument: Instrument, one: String, other: String, asks: tuple[str, ...]) -> bool:
    strings = tuple(other if each is one else each for each in instrument.strings)
    found = slip_questions(Service(instrument=instrument.model_copy(update={"strings": strings})))
    return any(each.ask in asks and each.message.about[0] == f"string {one.string}" for each in found)


def report(quick: bool = False) -> str:
    """Return the counts as text."""
    count = 60 if quick else 300
    lines = [
        f"{one.name}: asked in {one.asked} of {one.count} ({100 * one.share:.1f} %)"
        for one in [*results(count), *pulls(count)]
    ]
    asked, there = named(np.random.default_rng(9), count)
    return "\n".join([*lines, f"figures of sheets wholly in inches that are named: {asked} of {there}"])


def main(count: int) -> None:
    """Print the counts, and what was asked or not that should have been the other way."""
    for one in [*results(count), *pulls(count)]:
        sys.stdout.write(f"{one.name}: asked in {one.asked} of {one.count} ({100 * one.share:.1f} %)\n")
        for other in one.others[:12]:
            sys.stdout.write(f"    {other}\n")
    asked, there = named(np.random.default_rng(9), count)
    sys.stdout.write(f"figures of sheets wholly in inches that are named: {asked} of {there}\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
