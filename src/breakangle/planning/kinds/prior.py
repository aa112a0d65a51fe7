"""What is believed of an instrument before anything is read: its family's figures, on its own geometry."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Reading
from breakangle.physics.bridge.shared_crown import common_setback_mm
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap, predict
from breakangle.planning.state.board import Board
from breakangle.planning.state.bridge_support import stands_loose
from breakangle.planning.state.crowns import OWN_SHARE, SHARED_SHARE, TILT_SHARE, own_crown_frets, scatter_of
from breakangle.planning.state.effects.rod_play import play_belief
from breakangle.planning.state.layout import Belief, Layout
from breakangle.planning.state.picture import Picture, picture_of
from breakangle.reference.families import Family, Prior, family_of

Array = NDArray[np.float64]

# Where nothing else is said below: common practice, no source; standard deviations are kept wide.
NECK_SHAPE_SPREAD_RATIO = 0.5  # of the relief's own spread and mean
# How a neck's three shapes stand to each other. It thickens by about 18 % from nut to heel, and over its last tenth the
# heel makes it some three times as stiff (common practice, no source): so curvature goes as 1/stiffness. [derived]
SHAPE_RATIO = np.array([1.0, 0.29, -0.37])
TWIST_SPREAD_MM = 0.05  # of relief, edge against edge; necks that twist more are a pattern of their own
FALL_MEAN, FALL_SPREAD = -0.0003, 0.0006
SADDLE_STEP_SPREAD_MM = 0.22  # one saddle against its neighbours
NUT_SETBACK_SPREAD_MM, ZERO_FRET_SPREAD_MM = 0.15, 0.015
TUNED_SPREAD_CENTS = 8.0
# The hand, just behind its frets: how far behind the crown, and how far below it the string is pressed.
FINGER_BEHIND_MM, FINGER_BEHIND_SPREAD_MM = 9.0, 2.5
FINGER_PRESS_MM, FINGER_PRESS_SPREAD_MM = 0.20, 0.10
# Those who set saddles press more alike than those who play: by half of it; common practice, no source.
SETTER_PRESS_SPREAD_MM = 0.5 * FINGER_PRESS_SPREAD_MM
# What puts all saddles off at once (the bridge's place, other gauges, the season), over what each is off by itself: so
# octaves do not tell how the hand presses. Common practice, no source; with the press calibrated by `bench.intervals`.
TOGETHER_RATIO = 0.3
# A saddle stands where its octave is in tune; exact: an octave has twelve frets. Chosen: two steps of Newton's method.
OCTAVE_FRETS, SETBACK_STEPS = 12, 2
ROD_SHAPE_SPREAD_RATIO, SADDLE_RESPONSE_SPREAD_RATIO = 0.2, 0.05
# A crown that is read by itself may be as far out as it reads, up to what any fret is left in a board; common practice,
# no source. With that a reading moves by less than half of its gauge's spread for what is usual.
CROWN_READ_SPREAD_MM, TILT_READ_SPREAD_MM = 0.3, 0.04
# Relief at one edge against the other, where both are read and where not: necks twist; common practice, no source.
TWIST_READ_SPREAD_MM, TWIST_UNREAD_SPREAD_MM = 0.35, 0.15
# The last fret against the line of the body end, where gaps past the joint are read, at least so many of them.
END_READ_SPREAD_MM, FEWEST_PAST_JOINT = 0.4, 2
LEARNED_BLOCKS = ("rod", "saddle_response", "load")


@dataclass(frozen=True)
class Responses:
    """How a neck answers: mean and covariance over the blocks of LEARNED_BLOCKS, in that order."""

    mean: Array
    covariance: Array


def learned_places(layout: Layout) -> NDArray[np.intp]:
    """Return where the responses stand in the state."""
    return np.concatenate([layout[block] for block in LEARNED_BLOCKS])


def relief_rows(board: Board, kin: Family) -> Array:
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
            held, fret = (first + 1,), min(first + 12, last)
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
        even = float(relief_rows(self.board, self.kin) @ SHAPE_RATIO)
        relief = self.kin.priors.relief_mm
        shape = NECK_SHAPE_SPREAD_RATIO * np.hypot(relief.sd, relief.mean) / even
        self.independent("neck", SHAPE_RATIO * relief.mean / even, [0.0, shape, shape])
        neck = np.ix_(self.layout["neck"], self.layout["neck"])
        self.covariance[neck] += (relief.sd / even) ** 2 * np.outer(SHAPE_RATIO, SHAPE_RATIO)
        self.independent("twist", 0.0, TWIST_SPREAD_MM / even)
        self.independent("fall", FALL_MEAN, FALL_SPREAD)
        rod = self.kin.rod
        turn = rod.relief_mm_per_turn if rod is not None else Prior(0.0, 0.0)
        bend = turn.mean / even
        odd = ROD_SHAPE_SPREAD_RATIO * abs(bend)
        self.independent("rod", SHAPE_RATIO * bend, [0.0, odd, odd])
        turned = np.ix_(self.layout["rod"], self.layout["rod"])
        self.covariance[turned] += (turn.sd / even) ** 2 * np.outer(SHAPE_RATIO, SHAPE_RATIO)
        if rod is not None:
            play = self.layout["rod_play"]
            self.mean[play], self.covariance[np.ix_(play, play)] = play_belief()
        load = self.kin.priors.relief_mm_per_n
        self.independent("load", load.mean / even, load.sd / even)
        self.independent("saddle_response", 1.0, SADDLE_RESPONSE_SPREAD_RATIO)

    def string_ends(self) -> None:
        """Set nut and saddle heights so that the routine gaps come out as the family's."""
        priors = self.kin.priors
        scatter = scatter_of(self.board)
        crown_mm = np.sqrt(scatter.variance_mm2(scatter.rough_share))
        self.independent("crown", 0.0, np.sqrt(SHARED_SHARE) * crown_mm)
        self.independent("crown_tilt", 0.0, np.sqrt(TILT_SHARE) * crown_mm)
        has_own = own_crown_frets(self.board).ravel() > 0
        self.independent("crown_own", 0.0, np.sqrt(OWN_SHARE) * crown_mm * has_own)
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
        self.independent("nut_setback", 0.0, NUT_SETBACK_SPREAD_MM)
        self.independent("log_axial", 0.0, [one.axial_sd_ratio for one in strings])
        self.independent("log_stiffness", 0.0, [one.bending_sd_ratio / 2.0 for one in strings])
        self.independent("pitch", 0.0, TUNED_SPREAD_CENTS)
        near, near_spread = 1.0 / FINGER_BEHIND_MM, FINGER_BEHIND_SPREAD_MM / FINGER_BEHIND_MM**2
        self.independent("finger", [near, FINGER_PRESS_MM], [near_spread, FINGER_PRESS_SPREAD_MM])
        self._saddles(kin.priors.saddle_setback_sd_mm)

    def _saddles(self, spread_mm: float) -> None:
        """Set every saddle where its octave is in tune for the usual hand, and how far from there it may be.

        Whoever set it may have pressed otherwise than the usual hand: what that asks of all saddles is common to them.
        """
        board, places = self.board, self.layout["saddle_setback"]
        string = np.arange(board.string_count)
        octave = np.minimum(board.first + OCTAVE_FRETS, board.fret_count) - 1
        for _ in range(SETBACK_STEPS):
            cents, rows = picture_of(board, self.mean).cents_at(string, octave)
            per_mm = rows[string, places]
            self.mean[places] -= cents / per_mm
        for strings in shared_crowns(board.instrument):
            crown = places[np.array(strings) - 1]
            self.mean[crown] = common_setback_mm(self.mean[crown])
        asked = SETTER_PRESS_SPREAD_MM * rows[:, self.layout["finger"][1]] / per_mm
        alike = TOGETHER_RATIO**2 + np.eye(len(places))
        self.covariance[np.ix_(places, places)] = np.outer(asked, asked) + spread_mm**2 * alike


def shared_crowns(instrument: Instrument) -> tuple[tuple[int, ...], ...]:
    """Return the strings of each course of two and more that one crown carries; none with saddles of their own."""
    if instrument.bridge.kind != "one-piece" and not stands_loose(instrument):
        return ()
    found: dict[int, list[int]] = {}
    for string in instrument.in_order():
        found.setdefault(string.course or string.string, []).append(string.string)
    return tuple(tuple(strings) for strings in found.values() if len(strings) > 1)


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


def open_to_what_is_read(
    belief: Belief, readings: Sequence[Reading], board: Board, seen_before: bool = False
) -> Belief:
    """Return the belief with what is read by itself left to its readings, the rest as it is.

    What is usual says nothing against a crown that a gauge has touched, or a board's end over which gaps were read. A
    crown read at one string only is taken to be as high there as in the middle; read at several, its slope across the
    board is left to them too. Of an instrument `seen_before`, what that taught of twist and board's end stands.
    """
    layout = Layout(board.string_count, board.fret_count)
    added = _crowns_read(readings, board, layout)
    if not seen_before and read_past_joint(readings, board):
        past = float(np.max(board.along_mm[:, -2] - board.along_mm[:, board.instrument.joint_fret]))
        added[int(layout["fall"][0])] = (END_READ_SPREAD_MM / max(past, 1.0)) ** 2
    bowed = {one.string for one in readings if isinstance(one, Gap) and one.held and _is_between(one)}
    if not seen_before:
        apart = TWIST_READ_SPREAD_MM if len(bowed) > 1 else TWIST_UNREAD_SPREAD_MM
        added[int(layout["twist"][0])] = (apart / _even(board)) ** 2
    if not added:
        return belief
    covariance = belief.covariance.copy()
    covariance[list(added), list(added)] += list(added.values())
    return replace(belief, covariance=covariance)


def _crowns_read(readings: Sequence[Reading], board: Board, layout: Layout) -> dict[int, float]:
    """Return the variance that crowns read by themselves may have, by their places in the state."""
    added: dict[int, float] = {}
    read: dict[int, list[Crown]] = {}
    for one in readings:
        if isinstance(one, Crown) and one.fret <= layout.frets:
            read.setdefault(one.fret, []).append(one)
    for fret, crowns in read.items():
        mm = np.array([one.mm for one in crowns])
        side = board.side_ratio[[one.string - 1 for one in crowns]]
        added[int(layout["crown"][fret - 1])] = min(abs(float(np.median(mm))), CROWN_READ_SPREAD_MM) ** 2
        if np.ptp(side) > 0.0:
            slope = float(np.ptp(mm) / np.ptp(side))
            added[int(layout["crown_tilt"][fret - 1])] = min(slope, TILT_READ_SPREAD_MM) ** 2
    return added


def _is_between(one: Gap) -> bool:
    return min(one.held) < one.fret < max(one.held)


@lru_cache(maxsize=64)
def _even(board: Board) -> float:
    """Return the relief of 1 mm of even bending, as the family reads it."""
    return float(relief_rows(board, family_of(board.instrument))[0])


def read_past_joint(readings: Sequence[Reading], board: Board) -> bool:
    """Return whether gaps were read over the board's end, far enough past the joint to tell its line."""
    joint = board.instrument.joint_fret
    middle = joint + (board.fret_count - joint) // 2
    return sum(isinstance(one, Gap) and one.fret > middle for one in readings) >= FEWEST_PAST_JOINT


def picture_before(board: Board) -> Picture:
    """Return the picture of the instrument as its family would lead one to expect."""
    return picture_of(board, prior_of(board).mean)
