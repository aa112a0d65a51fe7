"""What is believed of an instrument before anything is read: its family's figures, on its own geometry."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from breakangle.model.instrument import Instrument
from breakangle.planning.board import Board
from breakangle.planning.layout import Belief, Layout
from breakangle.planning.picture import Picture, picture_of
from breakangle.planning.readings.gap import Gap, predict
from breakangle.tables.families import Family, Prior, family

Array = NDArray[np.float64]

# Standard deviations without a published source: common practice at the bench, kept wide.
NECK_SHAPE_SPREAD_RATIO = 0.5  # of the relief's own spread and mean
# A neck thickens by about 18 % from nut to heel: 1/thickness³ leaves a quarter more bend at the nut end than
# even bending has, as much less at the heel. [derived]
NUT_END_RATIO = 0.25
TWIST_SPREAD_MM = 0.15
FALL_MEAN, FALL_SPREAD = -0.0003, 0.0006
CROWN_SPREAD_MM, CROWN_TILT_SPREAD_MM = 0.012, 0.006
SADDLE_STEP_SPREAD_MM = 0.22  # one saddle against its neighbours
NUT_SETBACK_SPREAD_MM = 0.15
TUNED_SPREAD_CENTS = 8.0
FINGER_MEAN, FINGER_SPREAD = 0.5, 0.6
ROD_SHAPE_SPREAD_RATIO = 0.3
SADDLE_RESPONSE_SPREAD_RATIO = 0.03
ZERO_FRET_SPREAD_MM = 0.015
LEARNED_BLOCKS = ("rod", "saddle_response", "load")


@dataclass(frozen=True)
class Responses:
    """How a neck answers: mean and covariance over the blocks of LEARNED_BLOCKS, in that order."""

    mean: Array
    covariance: Array


def learned_places(layout: Layout) -> NDArray[np.intp]:
    """Return where the responses stand in the state."""
    return np.concatenate([layout[block] for block in LEARNED_BLOCKS])


def _relief_rows(board: Board, kin: Family) -> Array:
    """Return d relief / d neck amplitudes, averaged over the strings that start at the nut, (3,)."""
    layout = Layout(board.string_count, board.fret_count)
    bowed = np.zeros(layout.size)
    bowed[layout["neck"][0]] = 1.0
    joint = board.instrument.joint_fret
    middle = min(max(round(kin.relief_fret * joint / kin.joint_fret), 2), joint - 1)
    readings = [
        Gap(string=one.string, fret=middle, held=(1, joint), mm=0.0)
        for one in board.instrument.in_order()
        if one.nut_at_fret == 0
    ]
    rows = predict(readings, picture_of(board, bowed)).rows
    return np.asarray(rows[:, layout["neck"]].mean(axis=0))


def _between(board: Board, low: Prior, high: Prior) -> tuple[Array, Array]:
    """Return mean and spread per string, in a straight progression from bass to treble edge, (S,) each."""
    share = np.clip((1.0 - board.side_ratio) / 2.0, 0.0, 1.0)
    return high.mean + (low.mean - high.mean) * share, high.sd + (low.sd - high.sd) * share


def _fitting_readings(board: Board, place: str) -> list[Gap]:
    """Return the routine gap of each string that speaks of its nut or its saddle."""
    found = []
    for one in board.instrument.in_order():
        first, last = one.nut_at_fret, board.fret_count
        held: tuple[int, ...]
        if place == "nut_height":
            held, fret = (min(first + 3, last),), first + 1
        else:
            held, fret = ((first + 1,) if first == 0 else ()), min(first + 12, last)
        found.append(Gap(string=one.string, fret=fret, held=held, mm=0.0))
    return found


class _PriorMaker:
    """Fills one prior; a class only because mean and variance are filled side by side."""

    def __init__(self, board: Board, kin: Family) -> None:
        self.board, self.kin = board, kin
        self.layout = Layout(board.string_count, board.fret_count)
        self.mean = np.zeros(self.layout.size)
        self.covariance = np.zeros((self.layout.size, self.layout.size))

    def independent(self, block: str, mean: ArrayLike, spread: ArrayLike) -> None:
        """Set a block whose members know nothing of each other."""
        places = self.layout[block]
        self.mean[places] = mean
        variance = np.asarray(spread, dtype=np.float64) ** 2
        self.covariance[places, places] = np.broadcast_to(variance, places.shape)

    def neck_and_rod(self) -> None:
        """Set what bends, from the family's relief and rod."""
        even = float(_relief_rows(self.board, self.kin) @ [1.0, NUT_END_RATIO, 0.0])
        relief = self.kin.priors.relief_mm
        shape = NECK_SHAPE_SPREAD_RATIO * np.hypot(relief.sd, relief.mean) / even
        self.independent(
            "neck",
            [relief.mean / even, NUT_END_RATIO * relief.mean / even, 0.0],
            [relief.sd / even, shape, shape],
        )
        self.independent("twist", 0.0, TWIST_SPREAD_MM / even)
        self.independent("fall", FALL_MEAN, FALL_SPREAD)
        rod = self.kin.rod
        turn = rod.relief_mm_per_turn if rod is not None else Prior(0.0, 0.0)
        bend = turn.mean / even
        odd = ROD_SHAPE_SPREAD_RATIO * abs(bend)
        self.independent("rod", [bend, NUT_END_RATIO * bend, 0.0], [turn.sd / even, odd, odd])
        load = self.kin.priors.relief_mm_per_n
        self.independent("load", load.mean / even, load.sd / even)
        self.independent("saddle_response", 1.0, SADDLE_RESPONSE_SPREAD_RATIO)

    def string_ends(self) -> None:
        """Set nut and saddle heights so that the routine gaps come out as the family's."""
        priors = self.kin.priors
        self.independent("crown", 0.0, CROWN_SPREAD_MM)
        self.independent("crown_tilt", 0.0, CROWN_TILT_SPREAD_MM)
        if self.board.instrument.nut.kind == "zero-fret":
            self.independent("nut_height", 0.0, ZERO_FRET_SPREAD_MM)
        else:
            self._end("nut_height", priors.nut_low_mm, priors.nut_high_mm, step_spread_mm=None)
        self._end("saddle_height", priors.action_low_mm, priors.action_high_mm, SADDLE_STEP_SPREAD_MM)

    def _end(self, block: str, low: Prior, high: Prior, step_spread_mm: float | None) -> None:
        """Set one end: a level and a slope shared by all strings, and a step of each string's own."""
        wanted, spread = _between(self.board, low, high)
        found = predict(_fitting_readings(self.board, block), picture_of(self.board, self.mean))
        places = self.layout[block]
        # A string that rests on a crown at both ends of its reading tells nothing of this end.
        weight = np.maximum(found.rows[np.arange(len(places)), places], 0.05)
        self.mean[places] += (wanted - found.values) / weight
        sd = spread / weight
        step = 0.7 * sd if step_spread_mm is None else np.full_like(sd, step_spread_mm)
        shared = np.sqrt(np.maximum(sd**2 - step**2, 0.0))
        side = self.board.side_ratio
        together = 0.8 + 0.2 * np.outer(side, side)
        block_covariance = np.outer(shared, shared) * together
        block_covariance[np.diag_indices(len(places))] += step**2
        self.covariance[np.ix_(places, places)] = block_covariance

    def sound(self) -> None:
        """Set what only the ear tells."""
        kin, strings = self.kin, self.board.strings
        usual = {one.string: one.saddle_setback_mm for one in kin.strings}
        same = len(kin.strings) == len(strings)
        numbers = [one.string for one in self.board.instrument.in_order()]
        typical = float(np.mean(list(usual.values())))
        setback = [usual[number] if same else typical for number in numbers]
        self.independent("saddle_setback", setback, kin.priors.saddle_setback_sd_mm)
        self.independent("nut_setback", 0.0, NUT_SETBACK_SPREAD_MM)
        self.independent("log_axial", 0.0, [one.axial_sd_ratio for one in strings])
        self.independent("log_stiffness", 0.0, [one.bending_sd_ratio / 2.0 for one in strings])
        self.independent("pitch", 0.0, TUNED_SPREAD_CENTS)
        self.independent("finger", FINGER_MEAN, FINGER_SPREAD)


def family_of(instrument: Instrument) -> Family:
    """Return the family the instrument's kind names.

    Raises:
        CorrectInputError: an unknown kind, with the known ones.
    """
    return family(instrument.kind)


def prior_of(board: Board, responses: Responses | None = None) -> Belief:
    """Return what is believed of the instrument before anything is read.

    `responses`, where given, replaces the family's: what the shop, or this neck, has taught.
    """
    maker = _PriorMaker(board, family_of(board.instrument))
    maker.neck_and_rod()
    maker.string_ends()
    maker.sound()
    if responses is not None:
        places = learned_places(maker.layout)
        maker.mean[places] = responses.mean
        maker.covariance[np.ix_(places, places)] = responses.covariance
    return Belief(maker.mean, maker.covariance)


def picture_before(board: Board) -> Picture:
    """Return the picture of the instrument as its family would lead one to expect."""
    return picture_of(board, prior_of(board).mean)
