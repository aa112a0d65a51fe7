"""What a side elevation shows of one string in one state: crowns, board, string, band, and gaps as read."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Target
from breakangle.model.words.speech import tr, tr_n
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.readings.gap import Gap, HeldFrets, predict
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name

Array = NDArray[np.float64]
NUT_HELD, ACTION_FRET = 3, 12
BAND_SPREADS = 2.0
"""Half width of the band, and of every figure after ±, in standard uncertainties: 19 times in 20."""


@dataclass(frozen=True)
class Level:
    """The straight line that a drawing is levelled on: height `start_mm` at nut, rising `slope` mm per mm."""

    start_mm: float
    slope: float

    def above(self, along_mm: Array, height_mm: Array) -> Array:
        """Return heights above the line, in mm."""
        return np.asarray(height_mm - self.start_mm - self.slope * along_mm)


@dataclass(frozen=True)
class Profile:
    """One string in one state; heights in mm above the level, points 0 (nut) to F + 1 (saddle).

    `string_mm` (F + 2): underside of the open string over each point, NaN before its own nut. `board_mm`
    (F + 2): the line of the crowns without what single ones are out of it, and without the nut. `band_mm`
    (F + 2): half width of the band. `resting`: frets whose crown the open string lies on. `setback_mm`:
    how far beyond its nominal place the saddle stands.
    """

    along_mm: Array
    crown_mm: Array
    board_mm: Array
    string_mm: Array
    band_mm: Array
    first: int
    resting: tuple[int, ...]
    setback_mm: float

    @property
    def saddle_along_mm(self) -> float:
        """Return where the saddle stands, in mm from the nut, with its setback."""
        return float(self.along_mm[-1] + self.setback_mm)

    def point_mm(self, point: int) -> float:
        """Return the height of what carries the string at `point`: nut, crown or saddle."""
        return float(self.crown_mm[point])


def level_of(now: Estimate, string: int) -> Level:
    """Return the line over the crowns of the first and the joint fret of `string`, as they stand now."""
    index, joint = string - 1, now.board.instrument.joint_fret
    along, height = now.board.along_mm[index], now.picture.height_mm[index]
    first = int(now.board.first[index])
    left = min(first + 1, joint - 1)
    slope = float((height[joint] - height[left]) / (along[joint] - along[left]))
    return Level(float(height[left] - slope * along[left]), slope)


def profile_of(state: Estimate, string: int, level: Level) -> Profile:
    """Return what the elevation of `string` shows of `state`, over `level`."""
    index, picture = string - 1, state.picture
    board, frets = state.board, state.board.fret_count
    along, height, first = board.along_mm[index], picture.height_mm[index], int(board.first[index])
    over = np.arange(first + 1, frets + 1)
    found = picture.gaps_at(
        np.full(len(over), index), over, np.full(len(over), first), np.full(len(over), frets + 1)
    )
    string_mm = np.full(frets + 2, np.nan)
    string_mm[first], string_mm[-1] = height[first], height[-1]
    string_mm[over] = height[over] + found.gap_mm
    spread = state.stated.belief.spread(picture.clearance_rows[index])
    band = np.concatenate([spread[:1], spread, spread[-1:]])
    blocks = ("crown", "crown_tilt", "crown_own", "nut_height")
    errors = np.concatenate([picture.layout[block] for block in blocks])
    errors_mm = picture.height_rows[index][:, errors] @ picture.mean[errors]
    setback = float(picture.mean[picture.layout["saddle_setback"]][index])
    return Profile(
        along_mm=along,
        crown_mm=level.above(along, height),
        board_mm=level.above(along, height - errors_mm),
        string_mm=level.above(along, string_mm),
        band_mm=BAND_SPREADS * band,
        first=first,
        resting=tuple(int(one) for one in over[found.resting]),
        setback_mm=setback,
    )


@dataclass(frozen=True)
class Measure:
    """A gap as the trade reads it: its name, where, what is held, and what is wanted (None: no wish)."""

    words: str
    string: int
    fret: int
    held: tuple[int, ...]
    wanted_mm: float | None = None
    tolerance_mm: float | None = None

    def taken(self) -> str:
        """Return in words what is held: `frets 1 and 17 held`, `open`."""
        if not self.held:
            return tr("open")
        held = tr(" and ").join(str(one) for one in self.held)
        return tr_n("fret {held} held", "frets {held} held", len(self.held), held=held)


@dataclass(frozen=True)
class Figure:
    """One measure with what it reads in a state, in mm, and its standard uncertainty."""

    mm: float
    spread_mm: float


def measures_of(state: Estimate, string: int, targets: Sequence[Target], relief_fret: int) -> list[Measure]:
    """Return the gaps to write on the elevation of `string`, from the nut on: what targets ask for.

    Without a target for it: nut clearance at the first fret, relief at `relief_fret`, action at the 12th.
    """
    own = [target for target in targets if isinstance(target, GapTarget) and target.string == string]
    found = [
        Measure(tr(trade_name(one)), string, one.fret, tuple(one.held), one.mm, one.tolerance_mm)
        for one in own
    ]
    named = {one.words for one in found}
    found += [one for one in _usual(state, string, relief_fret) if one.words not in named]
    return sorted(found, key=lambda one: (one.fret, one.words))


def _usual(state: Estimate, string: int, relief_fret: int) -> list[Measure]:
    instrument, frets = state.board.instrument, state.board.fret_count
    first, joint = int(state.board.first[string - 1]), instrument.joint_fret
    action = min(first + ACTION_FRET, frets)
    found = [Measure(tr("action"), string, action, (1,) if first == 0 and action > 1 else ())]
    if first == 0 and instrument.nut.kind == "nut" and frets >= NUT_HELD:
        found.append(Measure(tr("nut clearance"), string, 1, (NUT_HELD,)))
    elif first + 1 != action:
        found.append(Measure("clearance", string, first + 1, ()))
    if first == 0 and 1 < relief_fret < joint:
        found.append(Measure(tr("relief"), string, relief_fret, (1, joint)))
    return found


def figures_of(state: Estimate, measures: Sequence[Measure]) -> list[Figure]:
    """Return what every measure reads in `state`; a string that lies on the crown reads zero."""
    if not measures:
        return []
    state = state.stated
    asked: list[HeldFrets] = [
        Gap(string=measure.string, fret=measure.fret, held=measure.held, mm=0.0) for measure in measures
    ]
    found = predict(asked, state.picture)
    spreads = state.belief.spread(found.rows)
    return [
        Figure(max(float(value), 0.0), float(spread))
        for value, spread in zip(found.values, spreads, strict=True)
    ]
