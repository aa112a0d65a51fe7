"""The instrument as arrays: where every nut, crown and saddle is, and what every string is made of."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import ConicalRadius, Instrument
from breakangle.model.pitch import note_hz
from breakangle.physics.neck.bend import board_drop_mm
from breakangle.physics.neck.gaps import fret_positions_mm
from breakangle.planning.state.string_constants import StringConstants, string_constants

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
FINGER_ROOM_SHARE = (
    0.5  # of the space before its fret: a finger's middle lies in the nearer half; common practice
)
COURSE_SPREAD_MM = 2.2  # between the strings of one course; common practice, no source


@dataclass(frozen=True, eq=False)
class Board:
    """One instrument's geometry; strings in order 1 to S, points 0 (nut) to F + 1 (saddle).

    `along_mm` (S, F + 2): distance of each point from where fret 0 is. `place_ratio`: that over the joint
    fret's. `side_ratio` (S,): sideways place, -1 bass edge to +1 treble edge. `surface_mm` (S, F + 2): the
    board's surface under each point, from the board's crest. `first` (S,): the point that is the string's nut.
    `fret_ratio` (S, F): frequency ratio of each fret to the open string. `hz` (S,): open notes.

    A board is made once per instrument, so two are the same when they are one object; that makes it a key for
    what is worked out once per board.
    """

    instrument: Instrument
    reference_hz: float
    along_mm: Array
    place_ratio: Array
    side_ratio: Array
    sideways_mm: Array
    surface_mm: Array
    first: Indices
    fret_ratio: Array
    hz: Array
    strings: tuple[StringConstants, ...]

    @property
    def string_count(self) -> int:
        """Return how many strings there are."""
        return len(self.first)

    @property
    def fret_count(self) -> int:
        """Return how many frets there are."""
        return int(self.along_mm.shape[1]) - 2

    @cached_property
    def open_length_mm(self) -> Array:
        """Return each open string's length in mm, shape (S,)."""
        return np.asarray(self.along_mm[:, -1] - self.along_mm[np.arange(self.string_count), self.first])

    @cached_property
    def along_behind_mm(self) -> Array:
        """Return how far each crown lies from its string's own nut in mm, shape (S, F); NaN at the nut and before."""
        own = self.along_mm[np.arange(self.string_count), self.first][:, None]
        behind = self.along_mm[:, 1:-1] - own
        return np.where(behind > 0.0, behind, np.nan)

    @cached_property
    def finger_room_mm(self) -> Array:
        """Return how far behind each crown there is room for a finger, mm, shape (S, F)."""
        return np.asarray(FINGER_ROOM_SHARE * np.diff(self.along_mm[:, :-1], axis=1))

    @cached_property
    def tension_n(self) -> Array:
        """Return each string's tension at pitch in N, shape (S,)."""
        return np.array([one.tension_n for one in self.strings])

    @cached_property
    def stiffness_ratio(self) -> Array:
        """Return each open string's √(EI/T)/L as the tables have it, shape (S,)."""
        bending = np.array([one.bending_stiffness_n_mm2 for one in self.strings])
        return np.asarray(np.sqrt(bending / self.tension_n) / self.open_length_mm)

    @cached_property
    def axial_ratio(self) -> Array:
        """Return each string's EA/T as the tables have it, shape (S,)."""
        return np.array([one.axial_stiffness_n for one in self.strings]) / self.tension_n


def _sideways_mm(instrument: Instrument) -> Array:
    """Return each string's place at nut and bridge in mm from the middle, treble positive, shape (S, 2)."""
    strings = instrument.in_order()
    courses = [one.course or one.string for one in strings]
    order = {course: rank for rank, course in enumerate(sorted(set(courses)))}
    last = max(len(order) - 1, 1)
    ratio = np.array([0.5 - order[course] / last if len(order) > 1 else 0.0 for course in courses])
    offset = np.zeros(len(strings))
    for course in order:
        members = [index for index, one in enumerate(courses) if one == course]
        middle = (len(members) - 1) / 2
        for rank, index in enumerate(members):
            offset[index] = (middle - rank) * COURSE_SPREAD_MM
    spread = np.array([instrument.spread_nut_mm, instrument.spread_bridge_mm])
    return np.asarray(ratio[:, None] * spread + offset[:, None])


def _radius_mm(instrument: Instrument, along_ratio: Array) -> Array:
    """Return the board's radius in mm at each place; infinite where it is flat."""
    radius = instrument.board_radius_mm
    if radius is None:
        return np.full_like(along_ratio, np.inf)
    if isinstance(radius, ConicalRadius):
        last_fret_ratio = 1.0 - 2.0 ** (-instrument.frets / 12.0)
        return np.asarray(
            radius.at_nut + (radius.at_last_fret - radius.at_nut) * along_ratio / last_fret_ratio
        )
    return np.full_like(along_ratio, radius)


def _constants(instrument: Instrument, hz: Array, length_mm: Array) -> tuple[StringConstants, ...]:
    return tuple(
        string_constants(
            make=one.make,
            diameter_mm=one.diameter_mm,
            core_mm=one.core_mm,
            wrap=one.wrap,
            unit_mass_g_per_m=one.unit_mass_g_per_m,
            axial_stiffness_n=one.axial_stiffness_n,
            bending_stiffness_n_mm2=one.bending_stiffness_n_mm2,
            open_length_mm=float(length_mm[index]),
            pitch_hz=float(hz[index]),
        )
        for index, one in enumerate(instrument.in_order())
    )


@lru_cache(maxsize=64)
def board_of(instrument: Instrument, reference_hz: float = 440.0) -> Board:
    """Return the arrays of `instrument`, tuned to A4 = `reference_hz`.

    Raises:
        CorrectInputError: a string whose make or wrap the tables do not know.
    """
    strings = instrument.in_order()
    scale = np.array([one.scale_mm or instrument.scale_mm for one in strings])
    frets = fret_positions_mm(scale, instrument.frets)
    along = np.concatenate([frets, scale[:, None]], axis=1)
    ends = _sideways_mm(instrument)
    along_ratio = along / scale[:, None]
    sideways = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * along_ratio
    first = np.array([one.nut_at_fret for one in strings], dtype=np.intp)
    half_spread = max(instrument.spread_bridge_mm / 2.0, 1e-9)
    hz = np.array([note_hz(one.note, reference_hz) for one in strings])
    length = along[:, -1] - along[np.arange(len(strings)), first]
    return Board(
        instrument=instrument,
        reference_hz=reference_hz,
        along_mm=along,
        place_ratio=along / along[:, instrument.joint_fret][:, None],
        side_ratio=np.clip(ends[:, 1] / half_spread, -1.2, 1.2),
        sideways_mm=sideways,
        surface_mm=-board_drop_mm(sideways, _radius_mm(instrument, along_ratio)),
        first=first,
        fret_ratio=2.0 ** ((np.arange(1, instrument.frets + 1) - first[:, None]) / 12.0),
        hz=hz,
        strings=_constants(instrument, hz, length),
    )
