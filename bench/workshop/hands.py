"""What a maker's hands do to a workshop instrument, and how many minutes that takes."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from bench.workshop import figures
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.reach import travel_mm
from bench.workshop.sizes import is_loose
from breakangle.model.reading import Adjustment

SLIDE_HAND_MM = 0.15  # a loose bridge set by eye against a mark; common practice, no source
POSTS_OUTSIDE_RATIO = 1.4  # the posts stand wider than the outer strings; common practice, no source
SLIDES_SLACK_RATIO = 0.5  # strings are let down half of the way to slide a bridge
FLOATING_REST_MM = 0.02  # how unlike a plate comes to rest on its edges, one standard deviation


@dataclass
class Hands:
    """One maker's hands at one instrument on one visit; `minutes` grows with what is done."""

    one: WorkshopInstrument
    rng: np.random.Generator
    minutes: float = 0.0
    eighths: int = 0
    unsettled: bool = False
    positions_mm: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        self.positions_mm = np.zeros(self.one.count)

    def settle(self) -> None:
        """Wait until disturbed strings hold their pitch; what has been waited for once need not be again."""
        if self.unsettled:
            self.minutes += figures.SETTLE_MIN
            self.unsettled = False

    def take(self, trip: Sequence[Adjustment]) -> None:
        """Make the adjustments of one trip: strings slack and the saddle out once, however much is done there."""
        slack, saddle_out = np.zeros(self.one.count, dtype=bool), False
        slid = [step for step in trip if step.adjust == "saddle-position" and is_loose(self.one.instrument)]
        for step in trip:
            if step in slid:
                continue
            by_hand = self._make(step)
            saddle_out = saddle_out or by_hand
            if by_hand:
                slack[:] = True
            elif step.adjust == "nut-slot":
                slack[step.string - 1] = True  # type: ignore[attr-defined]
        slack_ratio = float(slack.sum()) / 6.0
        if slid:
            shaped = self._slide(slid)
            saddle_out = saddle_out or shaped
            whole = self.one.count / 6.0
            slack_ratio = max(slack_ratio, whole * (1.0 if shaped else SLIDES_SLACK_RATIO))
        self.minutes += slack_ratio * figures.SIX_SLACK_AND_BACK_MIN
        self.minutes += figures.SADDLE_OUT_MIN * saddle_out
        if slack_ratio:
            self.unsettled = True
            self.one.open_cents = self.rng.normal(0.0, figures.TUNED_CENTS, self.one.count)

    def _make(self, step: Adjustment) -> bool:
        """Make one adjustment; return whether the saddle had to come out for it."""
        if step.adjust == "tune":
            return self._tune()
        if step.adjust == "rod":
            return self._turn(step.turns)  # type: ignore[attr-defined]
        if step.adjust == "nut-slot":
            return self._file(step.string, step.mm)  # type: ignore[attr-defined]
        if step.adjust == "saddle-height":
            return self._height(step)
        if step.adjust == "saddle-position":
            # Strings of one course on a saddle cut by hand share a crown.
            strings = getattr(step, "strings", (step.string,))  # type: ignore[attr-defined]
            found = [self._position(string, step.mm) for string in strings]  # type: ignore[attr-defined]
            return any(found)
        if hasattr(step, "mm") and getattr(step, "string", None) is None and "bridge" in step.adjust:
            self._slide_whole(step.mm, getattr(step, "post", None))
            return False
        raise TypeError(f"this bench knows no hand for {step.adjust}")

    def _tune(self) -> bool:
        self.settle()
        one = self.one
        one.open_cents = self.rng.normal(0.0, figures.TUNED_CENTS, one.count)
        if one.instrument.bridge.kind == "floating":
            one.saddle_mm = one.saddle_mm + self.rng.normal(0.0, FLOATING_REST_MM)
        return False

    def _turn(self, turns: float) -> bool:
        self.one.neck.turn(turns + self.rng.normal(0.0, figures.ROD_HAND_TURNS))
        self.one.open_cents = self.one.open_cents + self.rng.normal(
            0.0, figures.DETUNED_BY_ROD_CENTS, self.one.count
        )
        eighths = max(round(abs(turns) * 8), 1)
        self.eighths += eighths
        self.minutes += eighths * figures.ROD_EIGHTH_MIN
        return False

    def _file(self, string: int, mm: float) -> bool:
        cut = min(mm + self.rng.normal(0.0, figures.FILE_HAND_MM), 0.0)
        self.one.nut_mm[string - 1] += cut
        self.minutes += figures.SLOT_MIN
        return False

    def _height(self, step: Adjustment) -> bool:
        one, mm = self.one, float(step.mm)  # type: ignore[attr-defined]
        string, post = step.string, step.post  # type: ignore[attr-defined]
        by_hand = one.instrument.bridge.kind == "one-piece"
        moved = mm + self.rng.normal(0.0, figures.SCREW_HAND_MM)
        if by_hand:
            moved = min(moved, 0.0)
        elif string is not None:
            moved += mm * (float(one.screw_ratio[string - 1]) - 1.0)
        else:
            moved += mm * (float(one.post_ratio[1 if post == "treble" else 0]) - 1.0)
        if string is not None:
            one.saddle_mm[string - 1] += moved
        else:
            way = 1.0 if post == "treble" else -1.0
            one.saddle_mm = one.saddle_mm + moved * 0.5 * (1.0 + way * one.sides / POSTS_OUTSIDE_RATIO)
        self.unsettled = True
        self.minutes += 0.0 if by_hand else figures.SCREW_MIN
        return by_hand

    def _position(self, string: int, mm: float) -> bool:
        by_hand = self.one.instrument.bridge.position_mm_per_turn is None
        self._shift(string - 1, mm)
        self.minutes += 0.0 if by_hand else figures.SCREW_MIN
        return by_hand

    def _shift(self, s: int, mm: float) -> None:
        low, high = travel_mm(self.one)
        place = float(np.clip(self.positions_mm[s] + mm, low, high))
        moved, self.positions_mm[s] = place - self.positions_mm[s], place
        self.one.setback_mm[s] += moved + self.rng.normal(0.0, figures.POSITION_HAND_MM)

    def _slide_whole(self, mm: float, post: str | None) -> None:
        """Slide a loose bridge without shaping it, or turn it by one end."""
        way = 1.0 if post == "treble" else -1.0
        share = np.ones(self.one.count) if post is None else 0.5 * (1.0 + way * self.one.sides)
        self.one.setback_mm = self.one.setback_mm + mm * share + self.rng.normal(0.0, SLIDE_HAND_MM)
        self.minutes += self.one.count / 6.0 * SLIDES_SLACK_RATIO * figures.SIX_SLACK_AND_BACK_MIN
        self.unsettled = True

    def _slide(self, steps: Sequence[Adjustment]) -> bool:
        """Slide and turn a loose bridge as its strings ask together, shape what is left; return whether any was."""
        one = self.one
        asked = np.zeros(one.count)
        for step in steps:
            for string in getattr(step, "strings", (step.string,)):  # type: ignore[attr-defined]
                asked[string - 1] += step.mm  # type: ignore[attr-defined]
        slope, middle = np.polyfit(one.sides, asked, 1)
        line = middle + slope * one.sides
        one.setback_mm = one.setback_mm + line + self.rng.normal(0.0, SLIDE_HAND_MM)
        left = asked - line
        # Less than a hand can shape stays as it is.
        shaped = np.flatnonzero(np.abs(left) > figures.POSITION_HAND_MM)
        for s in shaped:
            self._shift(int(s), float(left[s]))
        return len(shaped) > 0
