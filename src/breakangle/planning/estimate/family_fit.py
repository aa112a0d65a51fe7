"""What bridge, scale, tuning and strings of one instrument make of its family's figures.

A string plucked with the same force at the same place swings as wide as its length over its pull: y = F·a(L − a)/(T·L),
at a = kL: y = F·k(1 − k)·L/T [derived]. A softer string at a hand's strength so swings as an ordinary one does at a
heavier hand's, and takes that hand's heights: the house's own figures for three hands, at their heights of the pluck
(`reference.strength`), read between and a little beyond them.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.kind.kind_table import KindTable
from breakangle.model.pitch import note_hz
from breakangle.planning.kinds.adjustments.saddle_position import shaped_by_hand
from breakangle.planning.state.board import Board
from breakangle.planning.state.string_constants import string_constants
from breakangle.reference.families import HANDS, Family, family_with
from breakangle.reference.strength import playing_with

Array = NDArray[np.float64]
# About the least difference of pitch that an ear tells, as a general rule, and what a crown shaped by hand, shared by a
# course or by gauges to come, can be held to; common practice, no source.
EAR_CENTS = 5.0
WIDEST_RATIO = (
    1.8  # farther from a family's usual strings its figures say nothing; common practice, no source
)
LEAST_SWING_RATIO = 0.04  # of the ordinary swing: less is a string's own scatter; common practice, no source


def intonation_tolerance_cents(instrument: Instrument, kin: Family) -> float:
    """Return how near to its note the octave is to be, in cents: what the instrument's bridge can give.

    The family's figure is for a saddle that each string has for itself, set by a screw.
    """
    by_screw = kin.tolerances.intonation_cents
    return max(by_screw, EAR_CENTS) if shaped_by_hand(instrument) else by_screw


def swing_ratios(board: Board) -> Array:
    """Return how much wider each string swings at the same strength than its family's usual one there, shape (S,).

    1 where the family has no string in that place.
    """
    usual = _usual_swings_mm_per_n(board.instrument.kind, board.instrument.kind_table)
    found = np.ones(board.string_count)
    if len(usual) != board.string_count:
        return found
    for index, one in enumerate(board.instrument.in_order()):
        if one.string in usual:
            found[index] = board.open_length_mm[index] / board.tension_n[index] / usual[one.string]
    found = np.clip(found, 1.0 / WIDEST_RATIO, WIDEST_RATIO)
    return np.where(np.abs(found - 1.0) < LEAST_SWING_RATIO, 1.0, found)


@lru_cache(maxsize=32)
def _usual_swings_mm_per_n(kind: str, made: KindTable | None) -> dict[int, float]:
    """Return length over pull of each string of the family's usual set at its usual scale, in mm/N, by string."""
    kin, found = family_with(kind, made), {}
    for one in kin.strings:
        length_mm = kin.scale_mm * 2.0 ** (-one.nut_at_fret / 12.0)
        constants = string_constants(
            make=one.make,
            diameter_mm=one.diameter_mm,
            core_mm=one.core_mm,
            wrap=one.wrap,
            open_length_mm=length_mm,
            pitch_hz=note_hz(one.note),
        )
        found[one.string] = length_mm / constants.tension_n
    return found


def for_swing(kin: Family, hand: str, ratio: float, figures_mm: dict[str, float]) -> float:
    """Return the height in mm for strings that swing `ratio` as wide as usual, from the `figures_mm` of three hands."""
    if ratio == 1.0:
        return figures_mm[hand]
    strengths = playing_with(kin.kind, kin.made).strengths
    swings = np.array([strengths.height_mm(one) for one in HANDS])
    heights = np.array([figures_mm[one] for one in HANDS])
    swing = float(strengths.height_mm(hand) * ratio)
    inside = float(np.interp(swing, swings, heights))
    beyond = 0.0
    if swing < swings[0]:
        beyond = float(swing - swings[0]) * _slope(swings[:2], heights[:2])
    if swing > swings[-1]:
        beyond = float(swing - swings[-1]) * _slope(swings[1:], heights[1:])
    return inside + beyond


def _slope(swings: Array, heights: Array) -> float:
    return float((heights[1] - heights[0]) / max(swings[1] - swings[0], 1e-9))
