"""What other strings, or another tuning, do to the state of an instrument: with what is then still uncertain.

More than the `restring` adjustment, which is what a file records: this also counts how well the pulls are known,
that the pull bends a neck more at its thin end, that a string of another size sits otherwise in its slot, and that
a string which stays on keeps what was learned of it.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument, String
from breakangle.physics.nut_slot import perched_mm, wedged_mm
from breakangle.planning.adjustments.restring import NEW_STRING_SPREAD_CENTS, SEATING_SPREAD_MM
from breakangle.planning.board import Board, board_of
from breakangle.planning.estimate import Estimate
from breakangle.planning.known import Known
from breakangle.planning.layout import Belief
from breakangle.planning.prior import NUT_END_RATIO

Array = NDArray[np.float64]

# Common practice, no source, where nothing else is said.
SLOT_WIDER_MM = Known(0.06, 0.03)  # a slot than the string it was cut for
SLOT_DEEP_RATIO = Known(0.65, 0.1)  # depth of a slot, of the diameter of the string it was cut for
LOOSE_MM = 0.15  # more play than this, and a string can rattle in its slot
BREAK_SPREAD_MM = 0.1  # where a new string breaks over its saddle, and how freely it slides there
WEDGE_SHARE = (
    0.3  # of slots are a V of 60 degrees; and so far are saddle grooves like one, one standard deviation
)
WEDGE_DEGREES = 60.0
LOAD_SHAPE_SPREAD_RATIO = 0.3  # how unlike the assumed shape a neck bends under more pull
SAME_AGAIN_RATIO = (
    0.45  # spread of a fresh string of the same kind and size, of the spread of any such string
)
KEPT_RATIO = 0.7  # how much of what was learned of a string holds for a fresh one of the same kind and size
LEVEL_SPREAD_MM = 0.08  # how well a floating bridge is brought level again, at the saddles


@dataclass(frozen=True)
class Swapped:
    """The estimate before and after, and the map between: after = rows · before + noise of `variance` (N,)."""

    before: Estimate
    after: Estimate
    rows: Array
    variance: Array
    pull_change_n: Known
    sitting_mm: tuple[Known, ...]

    def change_covariance(self, rows_before: Array, rows_after: Array) -> Array:
        """Return the covariance of what changes in figures of rows (R, N) before and after, shape (R, R)."""
        both = rows_after @ self.rows - rows_before
        return np.asarray(
            both @ self.before.belief.covariance @ both.T + (rows_after * self.variance) @ rows_after.T
        )

    def change_spread(self, rows_before: Array, rows_after: Array) -> Array:
        """Return the standard uncertainty of what changes: (rows_after · after) - (rows_before · before)."""
        both = rows_after @ self.rows - rows_before
        variance = np.sum((both @ self.before.belief.covariance) * both, axis=-1)
        variance += np.sum(rows_after**2 * self.variance, axis=-1)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))


def strung_with(
    instrument: Instrument, strings: Sequence[String], notes: Mapping[int, str] | None = None
) -> Instrument:
    """Return the instrument with `strings` in their places, and other open notes by string number."""
    fresh = {one.string: one for one in strings}
    strung = []
    for one in instrument.strings:
        now = fresh.get(one.string, one)
        note = (notes or {}).get(one.string)
        strung.append(now if note is None else now.model_copy(update={"note": note}))
    return instrument.model_copy(update={"strings": tuple(strung)})


def slot_widths(board: Board, told: Mapping[int, Known] | None = None) -> tuple[Known, ...]:
    """Return each nut slot's width in mm: as told, else a little wider than the string now in it."""
    found = []
    for one in board.instrument.in_order():
        usual = Known(one.diameter_mm + SLOT_WIDER_MM.value, SLOT_WIDER_MM.uncertainty)
        found.append((told or {}).get(one.string, usual))
    return tuple(found)


def chance_above(value: Known, limit: float) -> float:
    """Return the probability that a figure lies above `limit`, taken as normal."""
    if value.uncertainty <= 0.0:
        return float(value.value > limit)
    return 0.5 * (1.0 + erf((value.value - limit) / (value.uncertainty * sqrt(2.0))))


def sits_higher(diameter_mm: float, width: Known, former_diameter_mm: float, measured: bool) -> Known:
    """Return how much higher than its forerunner's, in mm, a string's underside lies in its slot.

    Most slots have a round bottom and straight walls: a string that goes in lies where the old one lay, one that
    is too thick rests on the edges. Width and depth as far as they are known, by Gauss-Hermite with seven points
    each; a slot that was not measured let its old string in. Some slots are a V: there it wedges.
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(7)
    widths = np.maximum(width.value + width.uncertainty * nodes, 0.02 if measured else former_diameter_mm)
    depths = former_diameter_mm * (SLOT_DEEP_RATIO.value + SLOT_DEEP_RATIO.uncertainty * nodes)
    slot = {"slot_width_mm": widths[:, None], "slot_depth_mm": depths[None, :]}
    values = perched_mm(string_diameter_mm=diameter_mm, **slot)
    values = values - perched_mm(string_diameter_mm=former_diameter_mm, **slot)
    share = (1.0 - WEDGE_SHARE) * np.outer(weights, weights) / weights.sum() ** 2
    wedged = _wedged(diameter_mm, former_diameter_mm)
    mean = float(np.sum(share * values)) + WEDGE_SHARE * wedged
    square = float(np.sum(share * values**2)) + WEDGE_SHARE * wedged**2
    return Known(mean, sqrt(max(square - mean**2, 0.0)))


def _wedged(diameter_mm: float, former_diameter_mm: float) -> float:
    moved = wedged_mm(
        string_diameter_mm=diameter_mm,
        former_diameter_mm=former_diameter_mm,
        slot_angle_degrees=WEDGE_DEGREES,
    )
    return float(moved)


def swapped(
    now: Estimate,
    instrument: Instrument,
    reference_hz: float | None = None,
    slots: Mapping[int, Known] | None = None,
    replaced: Collection[int] | None = None,
) -> Swapped:
    """Return the state once the instrument is strung and tuned as `instrument` has it.

    Args:
        now: the solved state with the strings that are on it.
        instrument: the same instrument, other strings or notes (`strung_with`).
        reference_hz: A4 of the new tuning; None: as before.
        slots: widths of nut slots in mm by string, where they were measured.
        replaced: numbers of the strings that are new, even where they are of the same kind and size; None:
            those that differ.

    Raises:
        CorrectInputError: a make or wrap that the tables do not know.
    """
    old = now.board
    new = board_of(instrument, reference_hz or old.reference_hz)
    pairs = zip(old.instrument.in_order(), new.instrument.in_order(), strict=True)
    fresh = {b.string for a, b in pairs if not same_string(a, b)} | set(replaced or ())
    pull = _pull_change(old, new, fresh)
    rows, variance, shift = _pull(now, pull)
    sitting = _ends(now, new, slots or {}, fresh, variance, shift)
    _sound(now, new, fresh, rows, variance)
    mean = rows @ now.belief.mean + shift
    covariance = rows @ now.belief.covariance @ rows.T + np.diag(variance)
    after = replace(now, board=new, belief=Belief(mean, 0.5 * (covariance + covariance.T)))
    return Swapped(now, after, rows, variance, pull, sitting)


def same_string(one: String, other: String) -> bool:
    """Return whether two strings are of one kind and size, whatever their note."""
    return one.model_copy(update={"note": other.note}) == other


def _pull_change(old: Board, new: Board, fresh: Collection[int]) -> Known:
    """Return the change of the strings' whole pull in N."""
    change, variance = 0.0, 0.0
    pairs = zip(old.instrument.in_order(), new.instrument.in_order(), strict=True)
    for index, (before, after) in enumerate(pairs):
        was, comes = old.strings[index], new.strings[index]
        moved = comes.tension_n - was.tension_n
        change += moved
        if same_string(before, after):
            variance += (moved * was.unit_mass_sd_ratio) ** 2
            if after.string in fresh:
                variance += (SAME_AGAIN_RATIO * comes.tension_n * comes.unit_mass_sd_ratio) ** 2
            continue
        variance += (comes.tension_n * comes.unit_mass_sd_ratio) ** 2
        variance += (was.tension_n * was.unit_mass_sd_ratio) ** 2
    return Known(change, sqrt(variance))


def _pull(now: Estimate, pull: Known) -> tuple[Array, Array, Array]:
    """Return rows, variance and shift with the bending under the change of pull in them."""
    layout = now.picture.layout
    rows, variance, shift = np.eye(layout.size), np.zeros(layout.size), np.zeros(layout.size)
    load = int(layout["load"][0])
    per_n, doubt = float(now.belief.mean[load]), float(now.belief.covariance[load, load])
    neck = layout["neck"]
    for place, share in ((neck[0], 1.0), (neck[1], NUT_END_RATIO)):
        rows[place, load] = share * pull.value
        variance[place] += share**2 * pull.uncertainty**2 * (per_n**2 + doubt)
    bent = abs(pull.value * per_n)
    variance[neck[1:]] += (LOAD_SHAPE_SPREAD_RATIO * bent) ** 2
    return rows, variance, shift


def _ends(
    now: Estimate,
    new: Board,
    slots: Mapping[int, Known],
    fresh: Collection[int],
    variance: Array,
    shift: Array,
) -> tuple[Known, ...]:
    """Move nut and saddle heights for new strings; return how much higher each sits for being too thick."""
    widths = slot_widths(now.board, slots)
    layout, floats = now.picture.layout, new.instrument.bridge.kind == "floating"
    slotted, sitting = new.instrument.nut.kind == "nut", []
    pairs = zip(now.board.instrument.in_order(), new.instrument.in_order(), strict=True)
    for index, (before, after) in enumerate(pairs):
        higher = Known(0.0, 0.0)
        if after.string in fresh:
            groove = WEDGE_SHARE * _wedged(after.diameter_mm, before.diameter_mm)
            doubt = SEATING_SPREAD_MM**2 + groove**2
            variance[layout["saddle_height"][index]] += doubt
            variance[layout["saddle_setback"][index]] += BREAK_SPREAD_MM**2
            if slotted:
                measured = after.string in slots
                higher = sits_higher(after.diameter_mm, widths[index], before.diameter_mm, measured)
                shift[layout["nut_height"][index]] += higher.value
                variance[layout["nut_height"][index]] += SEATING_SPREAD_MM**2 + higher.uncertainty**2
        if floats:
            variance[layout["saddle_height"][index]] += LEVEL_SPREAD_MM**2
        sitting.append(higher)
    return tuple(sitting)


def _sound(now: Estimate, new: Board, fresh: Collection[int], rows: Array, variance: Array) -> None:
    """Let new strings be as little known as any of their kind; those that stay keep what was learned."""
    layout = now.picture.layout
    pairs = zip(now.board.instrument.in_order(), new.instrument.in_order(), strict=True)
    for index, (before, after) in enumerate(pairs):
        constants, like = new.strings[index], same_string(before, after)
        rows[layout["pitch"][index]] = 0.0
        variance[layout["pitch"][index]] = NEW_STRING_SPREAD_CENTS**2
        if after.string not in fresh:
            continue
        for block, spread in (
            ("log_axial", constants.axial_sd_ratio),
            ("log_stiffness", constants.bending_sd_ratio / 2.0),
        ):
            rows[layout[block][index]] *= KEPT_RATIO if like else 0.0
            variance[layout[block][index]] += (spread * (SAME_AGAIN_RATIO if like else 1.0)) ** 2
