"""One instrument with a hidden truth: any gap, any stopped note, any crown can be asked of it.

Heights are in mm in the body's frame, up is positive; the board's line where it enters the body is height zero. A
string is a taut thread over nut, crowns and saddle; a stopped one goes down to the finger behind its fret as well.
Its stretch is the growth of that whole line, its pull follows by Hooke's law, and its ends are stiff.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bench.workshop.neck import Neck, U, made_neck, relief_of
from bench.workshop.sizes import relief_fret, sides
from bench.workshop.strings import Strung, strung
from breakangle.model.instrument import ConicalRadius, Instrument
from breakangle.model.pitch import note_hz
from breakangle.reference.families import family

Array = NDArray[np.float64]
Line = list[tuple[float, float]]
HUMP_REACH_MM = 38.0  # to either side of the joint
CENTS_PER_OCTAVE = 1200.0


def taut(points: Line) -> Line:
    """Return the corners of a taut string laid over `points` from the first to the last."""
    line: Line = []
    for x, y in points:
        while len(line) > 1:
            (ax, ay), (bx, by) = line[-2], line[-1]
            if (bx - ax) * (y - ay) - (by - ay) * (x - ax) < 0.0:
                break
            line.pop()
        line.append((x, y))
    return line


def length_of(line: Line) -> float:
    """Return the length of a line in mm."""
    return float(sum(np.hypot(bx - ax, by - ay) for (ax, ay), (bx, by) in pairwise(line)))


@dataclass
class WorkshopInstrument:
    """An instrument and its truth. Strings are numbered from 1, frets from 1; arrays run over strings in order."""

    instrument: Instrument
    rng: np.random.Generator
    bow_mm: float = 0.0
    twist_mm: float = 0.0  # relief at the bass edge less relief at the treble edge
    neck_degrees: float = 0.0  # positive: the head has come forward, so that strings stand higher
    hump_mm: float = 0.0
    tongue_mm: float = 0.0  # rise of the last fret above the line of the body end
    planted: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        one, rng = self.instrument, self.rng
        strings = one.in_order()
        self.count, self.frets, self.joint = len(strings), one.frets, one.joint_fret
        self.first = [string.nut_at_fret for string in strings]
        scale = np.array([string.scale_mm or one.scale_mm for string in strings])
        fret = scale[:, None] * (1.0 - 2.0 ** (-np.arange(one.frets + 1) / 12.0))
        fret[:, 1:] += rng.normal(0.0, 0.015, one.frets)
        self.scale_mm, self.fret_x = scale, fret
        self.sides = sides(one)
        self.relief_at = relief_fret(one)
        middle = fret[0, self.relief_at] / fret[0, self.joint]
        self.neck: Neck = made_neck(family(one.kind), fret[0, 1] / fret[0, self.joint], middle, rng)
        self.fall_ratio = rng.normal(-0.0003, 0.0003)
        self.crown_mm = np.zeros((self.count, one.frets))
        self.nut_mm = np.zeros(self.count)  # the slot's floor above the board
        self.saddle_mm = np.zeros(self.count)
        self.setback_mm = np.zeros(self.count)
        self.open_cents = np.zeros(self.count)
        self.hz = [note_hz(string.note) for string in strings]
        self.string(rng)
        self.finger_mm = rng.uniform(7.0, 11.0)  # behind the fret
        self.press_mm = rng.uniform(0.05, 0.35)  # below the crown
        self.ends_ratio = rng.uniform(
            1.0, 1.6
        )  # 1: hinged as far as pitch goes at one end, 2: clamped at both
        self.beyond_ratio = rng.uniform(0.02, 0.15)  # string past nut and saddle that stretches along
        self.screw_ratio = np.ones(self.count)
        self.post_ratio = np.ones(2)

    def string(self, rng: np.random.Generator) -> None:
        """Put a new set of the same make on."""
        lengths = self.scale_mm - self.fret_x[range(self.count), self.first]
        self.strung: list[Strung] = [
            strung(one, float(length), hz, rng)
            for one, length, hz in zip(self.instrument.in_order(), lengths, self.hz, strict=True)
        ]

    # -- heights ------------------------------------------------------------------------------------------------

    def board_mm(self, string: int) -> Array:
        """Return the board's heights under `string` at fret 0 and every fret, without crowns."""
        s = string - 1
        x, side = self.fret_x[s], self.sides[s]
        joint_x = x[self.joint]
        u = np.clip(x / joint_x, 0.0, 1.0)
        bent = np.interp(u, U, self.neck.heights_mm(self.bow_mm))
        bent -= 0.5 * side * self.twist_mm * np.interp(u, U, self.neck.torsion)
        bent += np.tan(np.radians(self.neck_degrees)) * np.maximum(joint_x - x, 0.0)
        past = np.maximum(x - joint_x, 0.0)
        body = self.fall_ratio * past + self.tongue_mm * (past / max(past[-1], 1e-9)) ** 1.5
        near = np.clip(np.abs(x - joint_x) / HUMP_REACH_MM, 0.0, 1.0)
        hump = self.hump_mm * 0.5 * (1.0 + np.cos(np.pi * near))
        return np.asarray(bent + body + hump - self._round_mm(s, x))

    def _round_mm(self, s: int, x: Array) -> Array:
        """Return how far a rounded board lies below its middle under string `s` (from 0)."""
        one, scale = self.instrument, self.scale_mm[s]
        if one.board_radius_mm is None:
            return np.zeros_like(x)
        along = x / scale
        spread = one.spread_nut_mm + (one.spread_bridge_mm - one.spread_nut_mm) * along
        across = 0.5 * spread * self.sides[s]
        radius: Array | float
        if isinstance(one.board_radius_mm, ConicalRadius):
            cone = one.board_radius_mm
            last = self.fret_x[s, -1] / scale
            radius = cone.at_nut + (cone.at_last_fret - cone.at_nut) * along / last
        else:
            radius = one.board_radius_mm
        return np.asarray(radius - np.sqrt(np.asarray(radius) ** 2 - across**2))

    def points(self, string: int) -> Line:
        """Return the string's own nut, the crowns after it and its saddle, as (place, height) in mm."""
        s, first = string - 1, self.first[string - 1]
        y = self.board_mm(string)
        crowns = y[1:] + self.crown_mm[s]
        nut = (float(self.fret_x[s, first]), float(y[first] + self.nut_mm[s]))
        line = [(float(self.fret_x[s, f]), float(crowns[f - 1])) for f in range(first + 1, self.frets + 1)]
        saddle = (float(self.scale_mm[s] + self.setback_mm[s]), float(self.saddle_mm[s]))
        return [nut, *line, saddle]

    def gap_mm(self, string: int, fret: int, held: tuple[int, ...] = ()) -> float:
        """Return the true gap in mm from the crown of `fret` up to the string, with the frets in `held` pressed."""
        points, first = self.points(string), self.first[string - 1]
        left = max([one for one in held if one < fret], default=first) - first
        right = min([one - first for one in held if one > fret], default=len(points) - 1)
        line = taut(points[left : right + 1])
        x, y = points[fret - first]
        return float(np.interp(x, [a for a, _ in line], [b for _, b in line]) - y)

    def clearance_mm(self, string: int, fret: int, held: tuple[int, ...] = ()) -> float:
        """Return the gap that a straight string from support to support would have: below nothing if it would not."""
        points, first = self.points(string), self.first[string - 1]
        left = points[max([one for one in held if one < fret], default=first) - first]
        right = points[min([one - first for one in held if one > fret], default=len(points) - 1)]
        x, y = points[fret - first]
        return left[1] + (right[1] - left[1]) * (x - left[0]) / (right[0] - left[0]) - y

    def relief_mm(self, string: int) -> float:
        """Return the true relief of the neck at this string, first and joint fret held."""
        return self.gap_mm(string, self.relief_at, (self.first[string - 1] + 1, self.joint))

    # -- pitch --------------------------------------------------------------------------------------------------

    def stopped_cents(self, string: int, fret: int) -> float:
        """Return how far the stopped note lies from its tempered note in cents, the open string in tune."""
        first = self.first[string - 1]
        points, wire = self.points(string), self.strung[string - 1]
        crown, at = points[fret - first], fret - first
        before = points[at - 1]
        behind = min(self.finger_mm, 0.6 * (crown[0] - before[0]))
        finger = (crown[0] - behind, crown[1] - self.press_mm)
        open_mm = length_of(taut(points))
        sounding = length_of(taut(points[at:]))
        stopped = length_of(taut([*points[:at], finger])) + length_of([finger, crown]) + sounding
        strain = (stopped - open_mm) / (open_mm * (1.0 + self.beyond_ratio))
        pull = wire.pull_n + wire.stretch_n * strain
        stiff = np.sqrt(wire.bending_n_mm2 / wire.pull_n)
        octaves = np.log2(open_mm / sounding) + 0.5 * np.log2(pull / wire.pull_n * (1.0 + strain))
        octaves += np.log2(1.0 + self.ends_ratio * stiff / sounding)
        octaves -= np.log2(1.0 + self.ends_ratio * stiff / open_mm)
        return float(CENTS_PER_OCTAVE * octaves - 100.0 * (fret - first))

    # -- making it read so --------------------------------------------------------------------------------------

    def octave_fret(self, string: int) -> int:
        """Return the fret an octave above the string's own nut, or the last."""
        return min(self.first[string - 1] + 12, self.frets)

    def action_held(self, string: int) -> tuple[int, ...]:
        """Return what is held while action is read: the first fret, nothing on a string that begins past it."""
        return (1,) if self.first[string - 1] == 0 else ()

    def set_relief(self, relief_mm: float) -> None:
        """Bow the neck so that the mean of both edges reads `relief_mm`, crowns as they are."""
        full = [n for n in range(1, self.count + 1) if self.first[n - 1] == 0]
        for _ in range(4):
            held = (1, self.joint)
            now = np.mean([self.clearance_mm(n, self.relief_at, held) for n in (full[0], full[-1])])
            self.bow_mm += relief_mm - float(now)

    def set_ends(self, nut_mm: Array, action_mm: Array) -> None:
        """Cut nut and saddle so that clearance and action read as given, crowns as they are."""
        for string in range(1, self.count + 1):
            s, first, octave = string - 1, self.first[string - 1], self.octave_fret(string)
            held = self.action_held(string)
            for _ in range(6):
                wrong = nut_mm[s] - self.clearance_mm(string, first + 1, (first + 3,))
                self.nut_mm[s] += wrong / (1.0 - _share(self.fret_x[s], first, first + 1, first + 3))
                off = action_mm[s] - self.clearance_mm(string, octave, held)
                self.saddle_mm[s] += 2.0 * off

    def set_intonation(self, cents: Array) -> None:
        """Place every saddle so that its octave is off by `cents`."""
        for string in range(1, self.count + 1):
            s, octave = string - 1, self.octave_fret(string)
            for _ in range(5):
                wrong = cents[s] - self.stopped_cents(string, octave)
                length = self.scale_mm[s] - self.fret_x[s, self.first[s]]
                self.setback_mm[s] -= wrong * length * np.log(2.0) / CENTS_PER_OCTAVE


def _share(x: Array, left: int, at: int, right: int) -> float:
    return float((x[at] - x[left]) / (x[right] - x[left]))


def bend_mm(one: WorkshopInstrument) -> float:
    """Return the neck's own relief in mm at the middle of the board, twist and crowns left out."""
    first = one.fret_x[0, 1] / one.fret_x[0, one.joint]
    middle = one.fret_x[0, one.relief_at] / one.fret_x[0, one.joint]
    return relief_of(one.neck.heights_mm(one.bow_mm), first, middle)
