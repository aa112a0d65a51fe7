"""A made-up instrument with a hidden state: read with a gauge, adjusted by a hand, left to the seasons."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment, Reading
from breakangle.planning.buzz.try_out import Wish, would_read
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.prior import prior_of
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import adjustment_kind, reading_kind
from breakangle.planning.state.board import board_of
from breakangle.planning.state.layout import Belief, Layout
from breakangle.planning.state.picture import Picture, picture_of
from breakangle.reference.families import family_of

# One standard deviation each; common practice, no source.
GAP_NOISE_MM, GAP_STEP_MM, PITCH_NOISE_CENTS = 0.015, 0.01, 0.3
# Where nothing else is said below: chosen, of instruments that are made up.
UNLIKE_OTHERS_RATIO = 0.7  # how far a made-up instrument strays within its family's spread
HAND_RATIO = 0.5  # of the scatter that the planner allows for a hand
MOST_RELIEF_MM_PER_PERCENT = 0.008
LEAST_GAP_MM = 0.01
CREEP_MM, SETBACK_CREEP_MM, UNTUNED_CENTS = (
    0.05,
    0.3,
    4.0,
)  # from one visit to the next; common practice, no source


@dataclass
class MadeUpInstrument:
    """One instrument whose true state nobody is told; `dry_mm_per_percent` is how its neck follows humidity.

    `alike_ratio`: how far it strays within its family's spread with neighbouring strings alike, as a maker would
    leave it. None: every figure strays by itself, as hardly any instrument does.
    """

    instrument: Instrument
    chance: np.random.Generator
    alike_ratio: float | None = None
    truth: NDArray[np.float64] = field(init=False)
    dry_mm_per_percent: float = field(init=False)

    def __post_init__(self) -> None:
        """Draw the true state from the family's spread."""
        board = board_of(self.instrument)
        belief = prior_of(board)
        if self.alike_ratio is None:
            spread = np.sqrt(np.maximum(np.diag(belief.covariance), 0.0))
            self.truth = belief.mean + UNLIKE_OTHERS_RATIO * spread * self.chance.normal(0, 1, len(spread))
        else:
            values, ways = np.linalg.eigh(belief.covariance)
            spread = np.sqrt(np.maximum(values, 0.0))
            self.truth = belief.mean + self.alike_ratio * ways @ (
                spread * self.chance.normal(0, 1, len(spread))
            )
        self.truth[self._places("neck")[0]] = abs(self.truth[self._places("neck")[0]])
        self.dry_mm_per_percent = float(self.chance.uniform(0.2, 1.0)) * MOST_RELIEF_MM_PER_PERCENT

    def _places(self, block: str) -> NDArray[np.intp]:
        return Layout(len(self.instrument.strings), self.instrument.frets)[block]

    def _picture(self) -> Picture:
        return picture_of(board_of(self.instrument), self.truth)

    def read(self, asked: Reading, picture: Picture | None = None) -> dict[str, Any]:
        """Return the reading as a gauge shows it: the truth with noise, rounded."""
        kind = reading_kind(asked)
        true = float(kind.predict([asked], picture or self._picture()).values[0])
        where = asked.model_dump(mode="json", exclude_unset=True)
        if isinstance(asked, Gap):
            shown = round((true + self.chance.normal(0, GAP_NOISE_MM)) / GAP_STEP_MM) * GAP_STEP_MM
            return where | {"mm": round(max(shown, LEAST_GAP_MM), 2), "uncertainty_mm": 0.02}
        return where | {
            "cents": round(true + self.chance.normal(0, PITCH_NOISE_CENTS), 1),
            "uncertainty_cents": 0.4,
        }

    def usual_readings(self) -> list[dict[str, Any]]:
        """Return a routine set: relief, action and first-fret clearance of every string, its octave."""
        asked: list[Reading] = []
        for one in reversed(self.instrument.in_order()):
            first = one.nut_at_fret
            octave = min(first + 12, self.instrument.frets)
            if first == 0:
                asked.append(self._relief(one.string))
            asked.append(Gap(string=one.string, fret=octave, held=(first + 1,), mm=0.0))
            asked.append(Gap(string=one.string, fret=first + 1, held=(first + 3,), mm=0.0))
            asked += [Pitch(string=one.string, fret=fret, cents=0.0) for fret in (0, octave)]
        picture = self._picture()
        return [self.read(one, picture) for one in asked]

    def relief_readings(self) -> list[dict[str, Any]]:
        """Return relief under the outer strings that start at the nut."""
        strings = [one.string for one in self.instrument.in_order() if one.nut_at_fret == 0]
        return [self.read(self._relief(string)) for string in dict.fromkeys((strings[-1], strings[0]))]

    def _relief(self, string: int) -> Gap:
        kin = family_of(self.instrument)
        return Gap(string=string, fret=kin.relief_fret, held=(1, self.instrument.joint_fret), mm=0.0)

    def adjust(self, made: Adjustment) -> None:
        """Change the truth as the adjustment does, with a hand's scatter."""
        effect = adjustment_kind(made).effect(made, self._picture())
        scatter = HAND_RATIO * np.sqrt(effect.variance) * self.chance.normal(0, 1, len(effect.variance))
        self.truth = effect.mean + scatter
        self.instrument = made.changed_instrument(self.instrument)

    def play(self) -> None:
        """Let it be played until it comes in again: the neck gives a little, screws and windings creep."""
        strings = len(self.instrument.strings)
        self.truth[self._places("neck")[0]] += abs(self.chance.normal(0, CREEP_MM))
        self.truth[self._places("saddle_height")] += self.chance.normal(CREEP_MM, CREEP_MM)
        self.truth[self._places("saddle_setback")] += self.chance.normal(0, SETBACK_CREEP_MM, strings)
        self.truth[self._places("pitch")] = self.chance.normal(0, UNTUNED_CENTS, strings)

    def stand_at(self, wish: Wish, chance: np.random.Generator) -> None:
        """Let it have become such that it reads as wished, whatever came before; `chance` goes on from here."""
        board = board_of(self.instrument)
        nothing = np.zeros((len(self.truth), len(self.truth)))
        self.truth = would_read(Estimate(board, Belief(self.truth, nothing)), wish).belief.mean.copy()
        self.chance = chance

    def weather(self, change_percent: float) -> None:
        """Let the room's humidity change by so much: a drier room bows the neck less here, a damper one more."""
        self.truth[self._places("neck")[0]] += self.dry_mm_per_percent * change_percent
