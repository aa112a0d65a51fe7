"""What strings put on, or tuned otherwise, do to the state: one law for a forecast and for what a file records.

Counted are the change of pull and how well it is known, that a pull bends a neck more at its thin end, how a string of
another size sits in its slot, where it breaks over its saddle, and what was learned of a string that stays on.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument, String
from breakangle.model.words.unit_said import without_marks
from breakangle.physics.string.nut_slot import perched_mm, wedged_mm
from breakangle.planning.kinds.kind import Effect
from breakangle.planning.kinds.prior import SHAPE_RATIO
from breakangle.planning.state.board import Board
from breakangle.planning.state.picture import Picture
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import family_of

Array = NDArray[np.float64]

# Where nothing else is said below: common practice, no source.
# Common practice, no source, where nothing else is said.
SEATING_SPREAD_MM = 0.01  # a new string in its slot and on its saddle
NEW_STRING_SPREAD_CENTS = 20.0
SLOT_WIDER_MM = Known(0.06, 0.03)  # a slot than the string it was cut for
SLOT_DEEP_RATIO = Known(0.65, 0.1)  # depth of a slot, of the diameter of the string it was cut for
LOOSE_MM = 0.15  # more play than this, and a string can rattle in its slot
BREAK_SPREAD_MM = 0.1  # where a new string breaks over its saddle, and how freely it slides there
WEDGE_SHARE = (
    0.3  # of slots are a V of 60 degrees; and so far are saddle grooves like one, one standard deviation
)
# Where nothing else is said below: common practice, no source.
WEDGE_DEGREES = 60.0
LOAD_SHAPE_SPREAD_RATIO = 0.3  # how unlike the assumed shape a neck bends under more pull
SAME_AGAIN_RATIO = (
    0.45  # spread of a fresh string of the same kind and size, of the spread of any such string
)
# Where nothing else is said below: common practice, no source.
KEPT_RATIO = 0.7  # how much of what was learned of a string holds for a fresh one of the same kind and size
LEVEL_SPREAD_MM = 0.08  # how well a floating bridge is brought level again, at the saddles


@dataclass(frozen=True)
class Restrung:
    """What restringing does: its effect on the state, the change of the whole pull, how much higher each string sits.

    `sitting_mm` (S): of each string, for being too thick for its slot.
    """

    effect: Effect
    pull_change_n: Known
    sitting_mm: tuple[Known, ...]


def restrung(
    picture: Picture, new: Board, fresh: Collection[int], slots: Mapping[int, Known] | None = None
) -> Restrung:
    """Return what it does to the state `picture` that the instrument is strung and tuned as `new` has it.

    Args:
        picture: the state with the strings that are on.
        new: the same instrument with other strings or notes.
        fresh: numbers of the strings that are new, also where they are of the same kind and size; what differs in more
            than its note is new by itself.
        slots: widths of nut slots in mm by string, where they were measured.
    """
    old = picture.board
    fresh = {b.string for a, b in _pairs(old, new) if not same_string(a, b)} | set(fresh)
    pull = _pull_change(old, new, fresh)
    rows, variance, shift = _pull(picture, pull)
    sitting = _ends(picture, new, slots or {}, fresh, variance, shift)
    _sound(picture, new, fresh, rows, variance)
    return Restrung(Effect(rows @ picture.mean + shift, rows, variance), pull, sitting)


def put_on(before: Instrument, strings: Sequence[String]) -> frozenset[int]:
    """Return the numbers of the `strings` that are new on the instrument; a mere retuning is none.

    A string equal to the one that is on is a fresh one of the same kind and size; one that differs in its note alone
    is the old one, retuned.
    """
    old = {one.string: one for one in before.strings}
    return frozenset(
        one.string
        for one in strings
        if without_marks(one) == without_marks(old[one.string]) or not same_string(one, old[one.string])
    )


def same_string(one: String, other: String) -> bool:
    """Return whether two strings are of one kind and size, whatever their note, and whatever was said of them."""
    return without_marks(one).model_copy(update={"note": other.note}) == without_marks(other)


def slot_widths(board: Board, told: Mapping[int, Known] | None = None) -> tuple[Known, ...]:
    """Return each nut slot's width in mm: as told, else a little wider than the string now in it."""
    found = []
    for one in board.instrument.in_order():
        usual = Known(one.diameter_mm + SLOT_WIDER_MM.value, SLOT_WIDER_MM.uncertainty)
        found.append((told or {}).get(one.string, usual))
    return tuple(found)


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


def _pairs(old: Board, new: Board) -> list[tuple[String, String]]:
    return list(zip(old.instrument.in_order(), new.instrument.in_order(), strict=True))


def _pull_change(old: Board, new: Board, fresh: Collection[int]) -> Known:
    """Return the change of the strings' whole pull in N."""
    change, variance = 0.0, 0.0
    for index, (before, after) in enumerate(_pairs(old, new)):
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


def _pull(picture: Picture, pull: Known) -> tuple[Array, Array, Array]:
    """Return rows, variance and shift with the bending under the change of pull in them."""
    layout = picture.layout
    rows, variance, shift = np.eye(layout.size), np.zeros(layout.size), np.zeros(layout.size)
    load = int(layout["load"][0])
    per_n = float(picture.mean[load])
    usual = family_of(picture.board.instrument).priors.relief_mm_per_n
    doubt = (per_n * usual.sd / usual.mean) ** 2 if usual.mean else 0.0
    neck = layout["neck"]
    for place, share in zip(neck, SHAPE_RATIO, strict=True):
        rows[place, load] = share * pull.value
        variance[place] += share**2 * pull.uncertainty**2 * (per_n**2 + doubt)
    bent = abs(pull.value * per_n)
    variance[neck[1:]] += (LOAD_SHAPE_SPREAD_RATIO * bent) ** 2
    return rows, variance, shift


def _ends(
    picture: Picture,
    new: Board,
    slots: Mapping[int, Known],
    fresh: Collection[int],
    variance: Array,
    shift: Array,
) -> tuple[Known, ...]:
    """Move nut and saddle heights for new strings; return how much higher each sits for being too thick."""
    widths = slot_widths(picture.board, slots)
    layout, floats = picture.layout, new.instrument.bridge.kind == "floating"
    slotted, sitting = new.instrument.nut.kind == "nut", []
    for index, (before, after) in enumerate(_pairs(picture.board, new)):
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


def _sound(picture: Picture, new: Board, fresh: Collection[int], rows: Array, variance: Array) -> None:
    """Let new strings be as little known as any of their kind; those that stay keep what was learned."""
    layout = picture.layout
    for index, (before, after) in enumerate(_pairs(picture.board, new)):
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
