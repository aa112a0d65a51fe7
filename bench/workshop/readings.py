"""What a maker reads of a workshop instrument: by gauges that scatter and round, some of it mistyped."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bench.workshop import figures
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.mistyped import mistyped
from bench.workshop.wanted import figure_of, wanted_of
from breakangle.model.reading import Reading, Target
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch

CROWN_GAUGE_MM, CROWN_ROUNDED_MM = (
    0.015,
    0.01,
)  # a short straight-edge and feelers; common practice, no source
ROUNDING_SPREAD = 12.0**-0.5  # of a figure rounded to 1: a uniform spread


def _stated(spread: float, step: float, digits: int) -> float:
    """Return the uncertainty that a shop knows of a gauge: its spread with that of rounding."""
    return round(float(np.hypot(spread, step * ROUNDING_SPREAD)), digits)


@dataclass
class Reader:
    """One maker's eyes and gauges at one instrument. `slips` counts the figures written down wrong."""

    one: WorkshopInstrument
    rng: np.random.Generator
    coarse_nut: bool = False
    mistyped_share: float = figures.MISTYPED_SHARE
    slips: int = 0
    figures_read: int = 0

    def gauge(self, reading: Gap | Target) -> tuple[float, float]:
        """Return the spread and the rounding in mm of the gauge that goes to this gap."""
        what = figure_of(reading) if isinstance(reading, Target) else _which(reading)
        if what == "nut":
            return (
                figures.COARSE_FEELERS_MM if self.coarse_nut else figures.FEELERS_MM,
                figures.NUT_ROUNDED_MM,
            )
        step = figures.RELIEF_ROUNDED_MM if what == "relief" else figures.ACTION_ROUNDED_MM
        return figures.HEIGHT_GAUGE_MM, step

    def gap(self, string: int, fret: int, held: tuple[int, ...]) -> Gap:
        """Return a gap as read and written down, without slips."""
        asked = Gap(string=string, fret=fret, held=held, mm=0.0)
        spread, step = self.gauge(asked)
        true = self.one.gap_mm(string, fret, held)
        mm = max(round((true + self.rng.normal(0.0, spread)) / step) * step, 0.0)
        return asked.model_copy(update={"mm": round(mm, 3), "uncertainty_mm": _stated(spread, step, 3)})

    def pitch(self, string: int, fret: int, harmonic: int | None = None) -> Pitch:
        """Return a pitch as read and written down, without slips."""
        cents, spread = float(self.one.open_cents[string - 1]), figures.EAR_CENTS
        if fret and harmonic is None:
            finger = figures.FINGER_LOW_CENTS if 1 <= fret <= 3 else figures.FINGER_CENTS
            cents += self.one.stopped_cents(string, fret)
            spread = float(np.hypot(spread, finger))
        step = figures.PITCH_ROUNDED_CENTS
        read = round((cents + self.rng.normal(0.0, spread)) / step) * step
        return Pitch(
            string=string,
            fret=fret,
            harmonic=harmonic,
            cents=round(float(np.clip(read, -250.0, 250.0)), 1),
            uncertainty_cents=_stated(spread, step, 2),
        )

    def crown(self, string: int, fret: int) -> Crown:
        """Return a crown as read with a short straight-edge over three frets."""
        mm = float(self.one.crown_mm[string - 1, fret - 1]) + self.rng.normal(0.0, CROWN_GAUGE_MM)
        step = CROWN_ROUNDED_MM
        return Crown(
            string=string, fret=fret, mm=round(round(mm / step) * step, 2),
            uncertainty_mm=_stated(CROWN_GAUGE_MM, step, 3),
        )  # fmt: skip

    def true_to(self, asked: Reading) -> list[Reading]:
        """Return a reading (a stopped pitch with its open string's) taken where `asked` says, written down right."""
        if isinstance(asked, Gap):
            return [self.gap(asked.string, asked.fret, asked.held)]
        if isinstance(asked, Crown):
            return [self.crown(asked.string, asked.fret)]
        assert isinstance(asked, Pitch)
        if asked.fret == 0 or asked.harmonic is not None:
            return [self.pitch(asked.string, asked.fret, asked.harmonic)]
        return [self.pitch(asked.string, 0), self.pitch(asked.string, asked.fret)]

    def read(self, asked: Sequence[Reading]) -> list[Reading]:
        """Return readings taken where `asked` says, as written down: a few of them wrong."""
        found = [taken for one in asked for taken in self.true_to(one)]
        return self.written(found)

    def written(self, readings: list[Reading]) -> list[Reading]:
        """Return the readings as written down: each with the chance of a slip."""
        found = []
        for reading in readings:
            self.figures_read += 1
            slip = None
            if self.rng.random() < self.mistyped_share:
                slip = mistyped(reading, readings, self.rng)
            self.slips += slip is not None
            found.append(reading if slip is None else slip)
        return found

    def full_set(self) -> list[Reading]:
        """Return one full set: every figure that is wanted, the open strings with it."""
        return self.written([taken for target in wanted_of(self.one) for taken in self._of(target)])

    def _of(self, target: Target) -> list[Reading]:
        if figure_of(target) == "intonation":
            return [self.pitch(target.string, 0), self.pitch(target.string, target.fret)]
        return [self.gap(target.string, target.fret, target.held)]  # type: ignore[attr-defined]

    def relief(self) -> list[Reading]:
        """Return relief at both edges, as written down."""
        edges = [target for target in wanted_of(self.one) if figure_of(target) == "relief"]
        return self.written([taken for target in edges for taken in self._of(target)])


def _which(reading: Gap) -> str:
    after = any(held > reading.fret for held in reading.held)
    before = any(held < reading.fret for held in reading.held)
    return "relief" if after and before else "nut" if after else "action"


def same_place(one: Reading, other: Reading) -> bool:
    """Return whether two readings are of one figure."""
    keys = ("quantity", "string", "fret", "held", "harmonic")
    return all(getattr(one, key, None) == getattr(other, key, None) for key in keys)
