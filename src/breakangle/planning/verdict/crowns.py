"""Crowns out of line: those that were read so, and those that all other readings together point at."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.said import figured
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.state.picture import Picture, picture_of
from breakangle.planning.verdict.moved import Worked, last_readings

# Where nothing else is said below: chosen: how the computation goes, nothing of an instrument.
OUT_OF_LINE_MM = 0.05  # a crown this far from its line wants levelling; common practice, no source
SURE_SPREADS = 2.5  # of a crown that nobody read: so surely it must stand out; common practice, no source
ROUNDING_MM = 1e-6


@dataclass(frozen=True)
class CrownOut:
    """A crown out of line: how far at least and at most, mm, positive up; `read` at `strings`, or reckoned."""

    fret: int
    low_mm: float
    high_mm: float
    read: bool
    strings: tuple[int, ...] = ()

    @property
    def proud(self) -> bool:
        """Return whether it stands above its line."""
        return self.high_mm > 0.0

    def message(self) -> Message:
        """Return what is to be said of it."""
        way = "above" if self.proud else "below"
        low, high = sorted((abs(self.low_mm), abs(self.high_mm)))
        about, values = (tr("fret {fret}", fret=self.fret),), {"fret": self.fret, "way": way}
        if not self.read:
            return Message(
                key="verdict.crown_reckoned", values=values | {"mm": high}, about=about, severity="care"
            )
        span = figured(low, 2) != figured(high, 2)
        key = "verdict.crown_read_from_to" if span else "verdict.crown_read"
        return Message(
            key=key, values=values | {"low_mm": low, "high_mm": high}, about=about, severity="care"
        )


def crowns_out(
    service: Service,
    now: Estimate,
    worked: Worked,
    told: Collection[int] = (),
    told_unread: Collection[int] = (),
) -> tuple[CrownOut, ...]:
    """Return the crowns that are out of line, those that were read first.

    Frets that a pattern has `told` of are left out; those in `told_unread` only where nobody read them.

    A reading counts until the crown is read again, or work has surely taken away more than it stood out by.
    """
    read: dict[int, list[Crown]] = defaultdict(list)
    for one in last_readings(service.readings):
        if isinstance(one, Crown):
            read[one.fret].append(one)
    found = []
    for fret, taken in sorted(read.items()):
        out = [one for one in taken if _stands(one, worked)]
        if out:
            way = np.sign(max(out, key=lambda one: abs(one.mm)).mm)
            mm = [one.mm for one in out if np.sign(one.mm) == way]
            strings = tuple(sorted({one.string for one in out}))
            found.append(CrownOut(fret, min(mm), max(mm), read=True, strings=strings))
    found += [one for one in _reckoned(now) if one.fret not in read and one.fret not in told_unread]
    return tuple(one for one in found if one.fret not in told)


def _stands(reading: Crown, worked: Worked) -> bool:
    if abs(reading.mm) < OUT_OF_LINE_MM - ROUNDING_MM:
        return False
    moved = worked.since(reading)
    size = abs(reading.mm) - OUT_OF_LINE_MM
    return not (moved.surely_down(size) if reading.mm > 0.0 else moved.surely_up(size))


def _reckoned(now: Estimate) -> list[CrownOut]:
    """Return the crowns that no one read and that the other readings nevertheless surely put out of line."""
    places = now.picture.layout["crown"]
    height, spread = now.belief.mean[places], np.sqrt(np.diag(now.belief.covariance)[places])
    out = (np.abs(height) > OUT_OF_LINE_MM) & (np.abs(height) > SURE_SPREADS * spread)
    return [
        CrownOut(int(index) + 1, float(height[index]), float(height[index]), read=False)
        for index in np.flatnonzero(out)
    ]


def with_crowns_as_read(service: Service, now: Estimate) -> Picture:
    """Return the instrument with every crown that was read no nearer its line than it was read.

    What is worked out of notes that touch must not rest on a crown that was smoothed toward its neighbours.
    """
    picture, layout = now.picture, now.picture.layout
    mean, worked = now.belief.mean.copy(), Worked(service, now)
    changed = False
    for one in last_readings(service.readings):
        if not isinstance(one, Crown) or not _stands(one, worked):
            continue
        crown, tilt = layout["crown"][one.fret - 1], layout["crown_tilt"][one.fret - 1]
        stands = mean[crown] + picture.board.side_ratio[one.string - 1] * mean[tilt]
        if abs(one.mm) > abs(stands) + ROUNDING_MM:
            mean[crown] += one.mm - stands
            changed = True
    return picture_of(picture.board, mean) if changed else picture
