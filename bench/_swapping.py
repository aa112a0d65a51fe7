"""A simulated instrument is strung anew: what truly happens to it, told by nothing the planner knows.

The neck bends in its own shape by its own compliance under the true change of pull; strings have their own true
mass and stiffness; slots are U-shaped and of their own width and depth, or V-shaped; saddle grooves take a string
their own way; a floating bridge is brought level by eye after its true balance, solved with its tilt, is upset.
"""

from dataclasses import dataclass, field

import numpy as np

from bench._instruments import SimulatedInstrument
from breakangle.model.instrument import String
from breakangle.planning.state.board import board_of
from breakangle.planning.swap.forecast import strung_with
from breakangle.reference.families import family
from breakangle.reference.floating import usual_floating
from breakangle.reference.gauges import usual_diameters_mm


def another_set(one: SimulatedInstrument, rng: np.random.Generator) -> tuple[String, ...]:
    """Return a set of other sizes from the trade's: all heavier or all lighter, each its own way; or the same."""
    factor = float(rng.choice([0.9, 0.95, 1.0, 1.06, 1.12]))
    found = []
    for string in one.instrument.in_order():
        wanted = string.diameter_mm * factor * np.exp(rng.normal(0, 0.015) if factor != 1.0 else 0.0)
        sizes = np.array(usual_diameters_mm(string.make))
        size = string.diameter_mm if factor == 1.0 else float(sizes[np.abs(np.log(sizes / wanted)).argmin()])
        core = None if string.core_mm is None or size != string.diameter_mm else string.core_mm
        found.append(string.model_copy(update={"diameter_mm": size, "core_mm": core}))
    return tuple(found)


@dataclass
class Strung:
    """The hidden truth of one instrument's strings, slots and springs, and what a swap does to it."""

    one: SimulatedInstrument
    rng: np.random.Generator
    mass_g_per_m: np.ndarray = field(init=False)
    pull_n: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        rng, kin = self.rng, family(self.one.instrument.kind)
        count = self.one.count
        load = kin.priors.relief_mm_per_n
        shape = (load.mean / load.sd) ** 2
        self.relief_mm_per_n = rng.gamma(shape, load.mean / shape)
        self.mass_g_per_m, self.pull_n = self._masses_and_pulls()
        self.v_shaped = rng.uniform() < 0.3
        self.v_degrees = rng.uniform(45.0, 80.0)
        diameters = np.array([s.diameter_mm for s in self.one.instrument.in_order()])
        self.width_mm = diameters + rng.uniform(0.02, 0.10, count)
        self.depth_ratio = rng.uniform(0.5, 0.8)
        self.groove = rng.uniform(0.0, 0.3)
        usual = usual_floating()
        self.string_arm_mm = self._about(usual.string_arm_mm)
        self.spring_arm_mm = self._about(usual.spring_arm_mm)
        self.saddle_back_mm = self._about(usual.saddle_back_mm)
        self.rate_n_per_mm = usual.spring_count * self._about(usual.rate_n_per_mm)

    def _about(self, prior) -> float:  # type: ignore[no-untyped-def]
        """Return a true figure spread evenly over the prior's width."""
        return float(prior.mean + prior.sd * self.rng.uniform(-1.7, 1.7))

    def _masses_and_pulls(self) -> tuple[np.ndarray, np.ndarray]:
        constants = board_of(self.one.instrument).strings
        masses = np.array([c.unit_mass_g_per_m for c in constants])
        spread = np.array([c.unit_mass_sd_ratio for c in constants])
        true = masses * np.exp(self.rng.normal(0, 1, len(masses)) * spread)
        length = board_of(self.one.instrument).open_length_mm
        return true, 4e-9 * true * (length * self.one.hz) ** 2

    def swap(self, new: tuple[String, ...]) -> dict[str, float]:
        """String it anew; return the true change of pull in N and, on a floating bridge, the claw's true travel."""
        one, rng = self.one, self.rng
        old = one.instrument.in_order()
        before = self.pull_n
        one.instrument = strung_with(one.instrument, new)
        self._restring(old, new)
        fresh_mass, fresh_pull = self._masses_and_pulls()
        same = np.array([a.diameter_mm == b.diameter_mm for a, b in zip(old, new, strict=True)])
        # A fresh string of the same size is nearly its forerunner's twin.
        fresh_pull = np.where(same, before * np.exp(rng.normal(0, 0.008, len(before))), fresh_pull)
        change = float((fresh_pull - before).sum())
        one.bow_mm = one.bow_mm + one.load_mm * self.relief_mm_per_n * change
        one.twist_mm = one.twist_mm + one.load_mm * self.relief_mm_per_n * change * rng.normal(0, 0.04)
        for index, (was, now) in enumerate(zip(old, new, strict=True)):
            one.nut_mm[index] += self._slot_mm(index, was, now) + rng.normal(0, 0.008)
            wedge = self._wedge_mm(was, now, 60.0)
            one.saddle_mm[index] += self.groove * wedge + rng.normal(0, 0.008)
        told = {"pull_n": change}
        if one.instrument.bridge.kind == "floating":
            told |= self._level(float(before.sum()), change)
        self.mass_g_per_m, self.pull_n = fresh_mass, fresh_pull
        one.open_cents = rng.normal(0, 1.0, one.count)
        return told

    def _restring(self, old: tuple[String, ...], new: tuple[String, ...]) -> None:
        """Give each place its new string's stiffness and friction; hand and screws stay as they were."""
        one, rng = self.one, self.rng
        kept = {name: getattr(one, name) for name in ("finger_mm", "screw_ratio", "friction")}
        axial, stiff = one.axial_ratio, one.stiffness_ratio
        one._make_strings(one.instrument.in_order())
        for index, (was, now) in enumerate(zip(old, new, strict=True)):
            if was == now:
                one.axial_ratio[index] = axial[index] * np.exp(rng.normal(0, 0.02))
                one.stiffness_ratio[index] = stiff[index] * np.exp(rng.normal(0, 0.03))
        one.finger_mm, one.screw_ratio = kept["finger_mm"], kept["screw_ratio"]
        one.friction = np.clip(kept["friction"] + rng.normal(0, 0.02, one.count), 0.85, 1.0)

    def _wedge_mm(self, was: String, now: String, degrees: float) -> float:
        lift = 1.0 / np.sin(np.radians(degrees) / 2.0) - 1.0
        return float((now.diameter_mm - was.diameter_mm) / 2.0 * lift)

    def _slot_mm(self, index: int, was: String, now: String) -> float:
        """Return how much higher the new string's underside lies in the nut."""
        if self.v_shaped:
            return 0.5 * self._wedge_mm(was, now, self.v_degrees)
        width, thick = self.width_mm[index], now.diameter_mm / 2.0
        if 2.0 * thick <= width:
            return 0.0
        depth = max(self.depth_ratio * was.diameter_mm, width / 2.0)
        return float(depth + np.sqrt(thick**2 - (width / 2.0) ** 2) - thick)

    def _level(self, before_n: float, change_n: float) -> dict[str, float]:
        """Return the claw's true travel and the rise if it is left: the tilt solved with its own arms."""
        a, b, c, k = self.string_arm_mm, self.spring_arm_mm, self.saddle_back_mm, self.rate_n_per_mm
        force = before_n * a / b
        travel = change_n * a / b / k
        angles = np.linspace(-0.2, 0.2, 40001)
        springs = (force + k * b * np.sin(angles)) * b * np.cos(angles)
        strings = (before_n + change_n) * (a * np.cos(angles) - c * np.sin(angles))
        tilt = float(angles[np.abs(springs - strings).argmin()])
        error = self.rng.normal(0, 0.05)
        self.one.saddle_mm = self.one.saddle_mm + error
        return {"claw_mm": travel, "rise_mm": float(c * np.sin(tilt) - a * (1.0 - np.cos(tilt)))}
