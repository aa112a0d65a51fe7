"""Simulated instruments with a hidden state, for testing the planner against something it does not share.

Nothing here uses the planner's physics. The neck is a beam whose stiffness varies along it, bent by the
strings and by a rod that works between its own anchors, answers less at first than later and seats itself;
crowns differ under every string; the string is pressed by a finger behind the fret; the sounding string is
solved from its lengths, its tension by Hooke's law, with friction at nut and saddle. Gauges round, hands
scatter.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument, String
from breakangle.model.pitch import note_hz
from breakangle.planning.kinds.adjustments.saddle_position import SCREW_TRAVEL_MM
from breakangle.planning.state.string_constants import string_constants
from breakangle.reference.families import Family, family
from breakangle.services.service_files.example import usual_instrument

Array = NDArray[np.float64]
STATIONS = 241
CENTS = 1200.0 / np.log(2.0)


def instrument_of(kin: Family, name: str, bridge_kind: str | None = None) -> Instrument:
    """Return an ordinary instrument of the family, in its usual sizes, on another kind of bridge if asked."""
    usual = usual_instrument(kin, name)
    if usual.bridge.position_travel_mm is not None:
        # The file says what the simulated saddle screws truly have; a family's usual travel is no measurement.
        bridge = usual.bridge.model_copy(update={"position_travel_mm": SCREW_TRAVEL_MM})
        usual = usual.model_copy(update={"bridge": bridge})
    if bridge_kind is None:
        return usual
    bridge = usual.bridge.model_copy(update={"kind": bridge_kind})
    return usual.model_copy(update={"bridge": bridge})


@dataclass
class SimulatedInstrument:
    """One instrument's hidden truth; heights in mm in the body's frame, strings in order 1 to S."""

    instrument: Instrument
    generator: np.random.Generator
    bow_mm: Array = field(init=False)
    rod_per_turn_mm: Array = field(init=False)
    twist_mm: Array = field(init=False)
    nut_mm: Array = field(init=False)
    saddle_mm: Array = field(init=False)
    setback_mm: Array = field(init=False)
    open_cents: Array = field(init=False)
    rod_turns: float = 0.0
    rod_seat_turns: float = 0.0

    def __post_init__(self) -> None:
        rng, kin = self.generator, family(self.instrument.kind)
        strings = self.instrument.in_order()
        self.count, self.frets = len(strings), self.instrument.frets
        self.length_mm = self.instrument.scale_mm
        self.fret_x = self.length_mm * (1 - 2 ** (-np.arange(self.frets + 1) / 12.0))
        self.fret_x[1:] += rng.normal(0, 0.02, self.frets)
        self.joint_x = self.fret_x[self.instrument.joint_fret]
        self.side = np.linspace(1.0, -1.0, self.count) if self.count > 1 else np.zeros(1)
        self._make_neck(kin)
        self.crown_mm = rng.normal(0, 0.010, (1, self.frets)) + rng.normal(0, 0.006, (self.count, self.frets))
        self._make_strings(strings)

    # -- making -----------------------------------------------------------------------------------------

    def _make_neck(self, kin: Family) -> None:
        """Bend a tapered beam by string load, by the rod, and by what the wood has done by itself."""
        rng = self.generator
        u = np.linspace(0.0, 1.0, STATIONS)
        thickness = 1.0 + rng.uniform(0.05, 0.3) * u
        stiffness = thickness**3 * (1.0 + rng.uniform(0.0, 2.0) / (1 + np.exp(-(u - 0.88) / 0.03)))
        load = self._deflection((1.0 + rng.uniform(0.0, 0.35) * u) / stiffness)
        start, end = rng.uniform(0.0, 0.10), rng.uniform(0.82, 1.0)
        curved = rng.uniform(0.0, 1.0)
        inside = (u > start) & (u < end)
        middle = np.clip((u - start) / (end - start), 0.0, 1.0)
        pull = inside * ((1 - curved) + curved * 6 * middle * (1 - middle))
        rod = self._deflection(pull / stiffness)
        warp = self._deflection(rng.normal(0, 1) * (1 - 2 * u) + rng.normal(0, 1) * np.cos(np.pi * 2 * u))
        mean = kin.rod.relief_mm_per_turn if kin.rod is not None else None
        self.u = u
        if mean is not None:
            per_turn = abs(mean.mean) * np.exp(rng.normal(0.0, 0.3))
            self.rod_per_turn_mm = -rod / self._relief_of(rod) * per_turn
        else:
            self.rod_per_turn_mm = np.zeros(STATIONS)
        self.load_mm = load / self._relief_of(load)
        self.warp_mm = warp / max(np.abs(warp).max(), 1e-9) * rng.uniform(0.0, 0.15)
        self.twist_mm = self.load_mm * rng.normal(0.0, 0.012)
        self.rod_curve_ratio = rng.uniform(-0.08, 0.15)
        self.fall = rng.normal(-0.0003, 0.0004)

    def _deflection(self, curvature: Array) -> Array:
        """Return the shape whose second derivative over u is `curvature`, flat at the joint (u = 1)."""
        step = self_step(STATIONS)
        slope = -np.concatenate([np.cumsum(curvature[::-1])[::-1][1:], [0.0]]) * step
        return np.concatenate([-np.cumsum(slope[::-1])[::-1][1:], [0.0]]) * step

    def _relief_of(self, shape: Array) -> float:
        """Return the relief of a neck shape, frets 1 and joint held, read midway."""
        u = np.linspace(0.0, 1.0, STATIONS)
        first, middle = self.fret_x[1] / self.joint_x, self.fret_x[self.relief_fret] / self.joint_x
        y = np.interp([first, middle, 1.0], u, shape)
        return float(y[0] + (y[2] - y[0]) * (middle - first) / (1.0 - first) - y[1])

    @property
    def relief_fret(self) -> int:
        kin = family(self.instrument.kind)
        joint = self.instrument.joint_fret
        return min(max(round(kin.relief_fret * joint / kin.joint_fret), 2), joint - 1)

    def _make_strings(self, strings: tuple[String, ...]) -> None:
        rng = self.generator
        self.hz = np.array([note_hz(one.note) for one in strings])
        self.constants = []
        for index, one in enumerate(strings):
            self.constants.append(
                string_constants(
                    make=one.make,
                    diameter_mm=one.diameter_mm,
                    core_mm=one.core_mm,
                    wrap=one.wrap,
                    open_length_mm=self.length_mm,
                    pitch_hz=float(self.hz[index]),
                )
            )
        spread = np.array([one.axial_sd_ratio for one in self.constants])
        tension = np.array([one.tension_n for one in self.constants])
        axial = np.array([one.axial_stiffness_n for one in self.constants])
        bending = np.array([one.bending_stiffness_n_mm2 for one in self.constants])
        self.axial_ratio = axial / tension * np.exp(rng.normal(0, 1, self.count) * spread)
        self.stiffness_ratio = np.sqrt(bending / tension) / self.length_mm
        self.stiffness_ratio = self.stiffness_ratio * np.exp(rng.normal(0, 0.08, self.count))
        self.friction = rng.uniform(0.88, 1.0, self.count)
        self.finger_mm = rng.uniform(0.001, 0.006)
        self.open_cents = np.zeros(self.count)
        self.screw_ratio = 1.0 + rng.normal(0, 0.015)

    # -- truth ------------------------------------------------------------------------------------------

    def _board_mm(self, string: int) -> Array:
        """Return the heights of the board line (without its crowns) under `string` (from 0), nut to last fret."""
        x = self.fret_x
        turned = self.rod_turns * (1.0 + self.rod_curve_ratio * self.rod_turns) + self.rod_seat_turns
        shape = self.bow_mm + self.warp_mm + self.twist_mm * self.side[string] + turned * self.rod_per_turn_mm
        bent = np.where(x < self.joint_x, np.interp(x / self.joint_x, self.u, shape), 0.0)
        return bent + self.fall * np.maximum(x - self.joint_x, 0.0) + self._cone_drop_mm(string, x)

    def _cone_drop_mm(self, string: int, x: Array) -> Array:
        """Return how far a rounded board lies below its middle line at places `x`; negative is lower."""
        radius = self.instrument.board_radius_mm
        if not isinstance(radius, float):
            return np.zeros_like(x)
        half = (
            self.instrument.spread_nut_mm
            + (self.instrument.spread_bridge_mm - self.instrument.spread_nut_mm) * x / self.length_mm
        ) / 2.0
        return np.asarray(np.sqrt(radius**2 - (half * self.side[string]) ** 2) - radius)

    def _points(self, string: int) -> tuple[Array, Array]:
        """Return places and heights of nut, crowns and saddle under one string."""
        x = np.append(self.fret_x, self.length_mm)
        y = self._board_mm(string)
        y[1:] += self.crown_mm[string]
        y[0] += self.nut_mm[string]
        saddle = self.saddle_mm[string] + self._cone_drop_mm(string, np.array([self.length_mm]))[0]
        return x, np.append(y, saddle)

    def gap_mm(self, string: int, fret: int, held: tuple[int, ...]) -> float:
        """Return the true gap: a taut string laid over its points, corner by corner (string from 1)."""
        x, y = self._points(string - 1)
        left = max([one for one in held if one < fret], default=0)
        right = min([one for one in held if one > fret], default=self.frets + 1)
        hull = [left]
        for point in range(left + 1, right + 1):
            while len(hull) > 1 and _not_left_turn(x, y, hull[-2], hull[-1], point):
                hull.pop()
            hull.append(point)
        return float(np.interp(x[fret], x[hull], y[hull]) - y[fret])

    def stopped_cents(self, string: int, fret: int, press: float = 1.0) -> float:
        """Return the true pitch of a stopped note from its tempered note, the open string in tune."""
        index = string - 1
        x, y = self._points(index)
        saddle = np.array([self.length_mm + self.setback_mm[index], y[-1]])
        nut, crown = np.array([x[0], y[0]]), np.array([x[fret], y[fret]])
        finger = self.finger_mm * press
        open_mm = np.hypot(*(saddle - nut))
        sounding, behind = np.hypot(*(saddle - crown)), np.hypot(*(crown - nut)) + finger
        stretch = (sounding + behind - open_mm) / open_mm * self.friction[index]
        tension = np.log1p(self.axial_ratio[index] * stretch) + np.log1p(stretch)
        stiff = self.stiffness_ratio[index]
        ends = np.log1p(stiff * open_mm / sounding) - np.log1p(stiff)
        ratio = np.log(open_mm / sounding) + 0.5 * tension + ends
        return float(CENTS * ratio - 100.0 * fret)

    # -- readings ---------------------------------------------------------------------------------------

    def set_relief(self, relief_mm: float) -> None:
        """Bow the neck so that the middle of it reads `relief_mm`."""
        own = self._relief_of(self.warp_mm)
        self.bow_mm = self.load_mm * (relief_mm - own)

    def set_ends(self, nut_clear_mm: Array, action_mm: Array) -> None:
        """Cut nut and saddle so that the routine gaps read as given, crowns as they are."""
        self.nut_mm, self.saddle_mm = np.zeros(self.count), np.full(self.count, 5.0)
        for string in range(1, self.count + 1):
            for _ in range(4):
                self.nut_mm[string - 1] += (nut_clear_mm[string - 1] - self._nut_chord(string)) * 1.55
                wrong = action_mm[string - 1] - self.gap_mm(string, 12, (1,))
                self.saddle_mm[string - 1] += 2.1 * wrong

    def _nut_chord(self, string: int) -> float:
        """Return the straight nut-to-third-fret clearance over fret 1; negative if the crown stands above."""
        x, y = self._points(string - 1)
        return float(y[0] + (y[3] - y[0]) * x[1] / x[3] - y[1])

    def set_intonation(self, cents: Array) -> None:
        """Place every saddle so that the 12th fret is off by `cents`."""
        self.setback_mm = np.zeros(self.count)
        for string in range(1, self.count + 1):
            for _ in range(4):
                wrong = cents[string - 1] - self.stopped_cents(string, 12)
                self.setback_mm[string - 1] -= wrong / (CENTS / self.length_mm)


def self_step(stations: int) -> float:
    """Return the spacing of the stations along the free neck."""
    return 1.0 / (stations - 1)


def _not_left_turn(x: Array, y: Array, a: int, b: int, c: int) -> bool:
    """Return whether point b lies on or below the line from a to c: the taut string does not touch it."""
    return bool((x[b] - x[a]) * (y[c] - y[a]) - (y[b] - y[a]) * (x[c] - x[a]) >= 0.0)


def arrival(
    kind: str, seed: int, bridge_kind: str | None = None, name: str = "Simulated"
) -> SimulatedInstrument:
    """Return an instrument as it comes in: out of adjustment here and there, all of it reachable."""
    rng = np.random.default_rng(seed)
    kin = family(kind)
    one = SimulatedInstrument(instrument_of(kin, name, bridge_kind), rng)
    hand = kin.targets["medium"]
    share = (1.0 - one.side) / 2.0
    action = hand.action_high_mm + (hand.action_low_mm - hand.action_high_mm) * share
    nut = hand.nut_high_mm + (hand.nut_low_mm - hand.nut_high_mm) * share
    by_hand = one.instrument.bridge.kind == "one-piece"
    low_edge = 0.05 if by_hand else -0.3
    tilt = rng.normal(0, 0.12) * one.side
    level = rng.uniform(low_edge, 0.7)
    own = rng.normal(0, 0.05 if by_hand or one.instrument.bridge.kind == "two-post" else 0.10, one.count)
    one.set_relief(max(hand.relief_mm + rng.normal(0.05, 0.15), 0.03))
    one.set_ends(
        nut + np.abs(rng.normal(0, 0.06, one.count)),
        np.maximum(action + level + tilt + own, action + low_edge),
    )
    one.set_intonation(rng.normal(0, 1.0 if by_hand else 5.0, one.count))
    return one
