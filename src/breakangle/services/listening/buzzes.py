"""Buzz as heard in takes: which note, which crown, how bad, at what height it stops, and the readings that it makes."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from breakangle.listening.buzz.heard import Buzz
from breakangle.listening.buzz.place import Place, place_of
from breakangle.listening.naming.naming import Name
from breakangle.listening.stream import Take
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.planning.state.board import Board
from breakangle.services.listening.notes import Note
from breakangle.services.listening.strokes import PlayedStroke, way_of

# Calibrated by `python -m bench listening_buzz`: how sure a crown must be to be named, and how much is slight or bad.
LEAST_CHANCE = 0.4
SLIGHT_DB, BAD_DB = -16.0, -10.0  # calibrated by the same bench
# Of the logarithm of a gap: the swing's shape late in a note, and its decay. Common practice, no source.
SHAPE_SPREAD = 0.25
How = Literal["slight", "plain", "bad"]


@dataclass(frozen=True)
class HeardBuzz:
    """One note that buzzes.

    Attributes:
        string: which, from 1.
        stop: the fret that stops it; 0 when open.
        buzz: as heard.
        place: which crown, with chances; None where nothing tells.
        height_mm: whole swing at the pluck's place when it stops, in mm; None where the pluck was too soft to tell.
        gap_mm: how high the string stands over the likeliest crown, in mm; None with that.
        gap_spread_ratio: standard deviation of the logarithm of `gap_mm`.
    """

    string: int
    stop: int
    buzz: Buzz
    place: Place | None
    height_mm: float | None
    gap_mm: float | None
    gap_spread_ratio: float

    @property
    def how(self) -> How:
        """How bad it is."""
        db = self.buzz.share_db
        return "slight" if db < SLIGHT_DB else "bad" if db > BAD_DB else "plain"

    @property
    def crown(self) -> int | None:
        """The crown that is struck, where one is likely enough; else it is a loose part, or behind the stop."""
        found = self.place
        return found.fret if found is not None and found.chances[0] >= LEAST_CHANCE else None

    def words(self) -> str:
        """What was heard, as a sentence."""
        note = tr(
            "String {string}, {stop}",
            string=self.string,
            stop=tr("fret {stop}", stop=self.stop) if self.stop else tr("open"),
        )
        told = tr(
            "{note}: a {how} buzz for {stops_s:.1f} s", note=note, how=self.how, stops_s=self.buzz.stops_s
        )
        if self.crown is None:
            return tr(
                "{told}; which crown cannot be told: it may be behind the stop, or a loose part", told=told
            )
        assert self.place is not None
        told += tr(
            ", on the crown of fret {crown} ({chances:.0f} in 100)",
            crown=self.crown,
            chances=100 * self.place.chances[0],
        )
        if self.gap_mm is None:
            return told
        return tr(
            "{told}; it stops where the string stands {gap_mm:.2f} mm ({gap_mm_2:.3f} in) over it",
            told=told,
            gap_mm=self.gap_mm,
            gap_mm_2=self.gap_mm / 25.4,
        )

    def to_json(self) -> dict[str, Any]:
        """Plain data."""
        reach = float(np.exp(1.96 * self.gap_spread_ratio))
        gap = self.gap_mm
        return {
            "how": self.how,
            "share_db": round(self.buzz.share_db, 1),
            "stops_s": round(self.buzz.stops_s, 2),
            "crown": self.crown,
            "chances": {
                str(fret): round(chance, 2)
                for fret, chance in zip(self.place.frets[:5], self.place.chances[:5], strict=True)
            }
            if self.place
            else {},
            "stops_at_height_mm": None if self.height_mm is None else round(self.height_mm, 2),
            "gap_mm": None if gap is None else round(gap, 2),
            "gap_mm_95": None if gap is None else [round(gap / reach, 2), round(gap * reach, 2)],
        }


def heard_buzz(
    take: Take, name: Name | Note | None, stroke: PlayedStroke | None, service: Service, board: Board | None
) -> HeardBuzz | None:
    """The buzz of a take; None where there is none, or nobody knows what was played."""
    buzz = take.judged.buzz
    if buzz is None or not buzz.heard or name is None or board is None or name.harmonic is not None:
        return None
    row, stop = name.string - 1, max(name.fret, int(board.first[name.string - 1]))
    along = board.along_mm[row]
    length = along[-1] - along[stop]
    frets = list(range(stop + 1, board.fret_count + 1))
    share = (along[stop + 1 : -1] - along[stop]) / length
    place = place_of(buzz, frets, share)
    spread = float(np.hypot(way_of(service).toward_board_spread_ratio, SHAPE_SPREAD))
    if stroke is None or not stroke.stroke.sure or take.pitch is None or place is None:
        return HeardBuzz(name.string, name.fret, buzz, place, None, None, spread)
    left = float(np.exp(-0.5 * take.pitch.energy_fall_per_s * buzz.stops_s))
    at, point = float(share[frets.index(place.fret)]), stroke.stroke.point.middle
    # A plucked string swings as low as the pluck's triangle mirrored about its middle (docs/contact.md).
    reach = min(at / (1.0 - point), (1.0 - at) / point, 1.0)
    gap = stroke.toward_mm * left * reach
    return HeardBuzz(name.string, name.fret, buzz, place, stroke.stroke.height_mm * left, gap, spread)


def buzz_readings(heard: Iterable[HeardBuzz | None], after: int) -> list[Reading]:
    """Readings for a service file: of every note whose crown is named and whose gap is told, the last heard.

    Args:
        heard: what was heard, in order.
        after: how many adjustments were done before.
    """
    kind = reading_kinds()["buzz-heard"].model
    found: dict[tuple[int, int, int], Reading] = {}
    for one in heard:
        if one is None or one.crown is None or one.gap_mm is None or one.place is None:
            continue
        value: dict[str, Any] = {
            "string": one.string,
            "fret": one.crown,
            "mm": round(one.gap_mm, 3),
            "uncertainty_mm": round(max(one.gap_spread_ratio * one.gap_mm, 0.05), 3),
            "chance": round(one.place.chances[0], 2),
        }
        value |= {"held": (one.stop,)} if one.stop else {}
        value |= {"after": after} if after else {}
        found[one.string, one.stop, one.crown] = kind(**value)
    return list(found.values())
