"""How hard takes were played, in millimetres, and a player's light, medium and heavy from a dozen plucks."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from breakangle.listening.naming.naming import Name
from breakangle.listening.pitch.measure import Pitch
from breakangle.listening.stroke.height import SURE_SPREADS, StringFacts, Stroke, stroke_of
from breakangle.model.errors import CorrectInputError, ReadAgainError
from breakangle.model.playing import PlayedStrengths
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.state.board import Board, board_of
from breakangle.reference.strength import STRENGTHS, Way, played, ways
from breakangle.services.listening.notes import Note

FEWEST_OF_EACH = 3  # chosen: fewer have no middle
OTHERWISE = "plectrum"  # chosen: the way of playing where a shop's own strengths name none


@dataclass(frozen=True)
class PlayedStroke:
    """One pluck: the whole displacement as heard, and what part of it was toward the board, for all that sound tells.

    Attributes:
        stroke: displacement and place of the pluck.
        toward_mm: likely height toward the board, in mm.
        toward_low_mm: lower end of its 95 % interval: sound hardly tells which way a string was let go.
        toward_high_mm: upper end.
    """

    stroke: Stroke
    toward_mm: float
    toward_low_mm: float
    toward_high_mm: float

    @property
    def point_mm(self) -> float:
        """Where it was plucked, from the saddle, in mm."""
        return self.stroke.point.middle * self.stroke.length_mm

    @property
    def point_spread_mm(self) -> float:
        """Standard uncertainty of that, in mm."""
        return self.stroke.point.spread * self.stroke.length_mm

    def to_json(self) -> dict[str, Any]:
        """Plain data, no finer than it is known."""
        stroke = self.stroke
        return {
            "height_mm": round(stroke.height_mm, 2) if stroke.sure else None,
            "height_mm_95": [round(stroke.low_mm, 2), round(stroke.high_mm, 2)],
            "toward_board_mm": round(self.toward_mm, 2) if stroke.sure else None,
            "toward_board_mm_95": [round(self.toward_low_mm, 2), round(self.toward_high_mm, 2)],
            "point_from_saddle_mm": round(self.point_mm),
            "point_uncertainty_mm": max(round(self.point_spread_mm), 1),
            "fall_cents": round(stroke.fall_cents, 2),
            "fall_uncertainty_cents": round(stroke.fall_spread_cents, 2),
        }


def way_of(service: Service) -> Way:
    """How the instrument is played, for the share of a swing that is toward the board."""
    return ways().get(played(service.instrument_now()).strengths.way or OTHERWISE, ways()[OTHERWISE])


def facts_of(service: Service, board: Board, string: int, fret: int) -> StringFacts:
    """What height needs to know of a string stopped at a fret (0: open)."""
    at = string - 1
    stop = max(fret, int(board.first[at]))
    length_mm = float(board.along_mm[at, -1] - board.along_mm[at, stop])
    constants = board.strings[at]
    spread = float(np.hypot(constants.axial_sd_ratio, constants.unit_mass_sd_ratio))
    usual_mm = played(service.instrument_now()).strengths.pluck_from_saddle_mm
    return StringFacts(
        length_mm, constants.axial_stiffness_n / constants.tension_n, spread, min(usual_mm / length_mm, 0.45)
    )


def board_for(service: Service) -> Board | None:
    """The instrument's geometry and strings as they are now; None where a string's make is in no table."""
    try:
        return board_of(service.instrument_now(), service.reference_hz)
    except CorrectInputError:
        return None


def played_stroke(
    pitch: Pitch | None, name: Name | Note | None, service: Service, board: Board | None
) -> PlayedStroke | None:
    """How a take was played; None where it has no name, is a harmonic, or is too poor to tell."""
    if pitch is None or name is None or board is None or name.harmonic is not None:
        return None
    stroke = stroke_of(pitch, facts_of(service, board, name.string, name.fret))
    if stroke is None:
        return None
    way = way_of(service)
    apart = float(np.exp(SURE_SPREADS * way.toward_board_spread_ratio))
    share = way.toward_board_ratio
    return PlayedStroke(
        stroke,
        share * stroke.height_mm,
        share / apart * stroke.low_mm,
        min(share * apart, 1.0) * stroke.high_mm,
    )


def strengths_of(
    strokes: Sequence[PlayedStroke | None], service: Service, who: str, day: str
) -> PlayedStrengths:
    """A player's strengths from plucks: the first third light, the second medium, the last heavy.

    Args:
        strokes: of every take, in the order played; those that tell no height are left out of their third.
        service: whose instrument was played.
        who: who played.
        day: when, such as 2027-03-01.

    Raises:
        ReadAgainError: too few plucks that tell their height, or light, medium and heavy do not rise.
    """
    heard = _by_thirds(strokes)
    whole = [float(np.median([one.stroke.height_mm for one in found])) for found in heard]
    if not whole[0] < whole[1] < whole[2]:
        told = ", ".join(f"{tr(name)} {mm:.2f} mm" for name, mm in zip(STRENGTHS, whole, strict=True))
        raise ReadAgainError(
            tr("the plucks come out as {told}", told=told),
            tr("light below medium below heavy"),
            tr("play them again"),
        )
    way = way_of(service)
    every = [one for found in heard for one in found]
    scatter = [
        np.std(np.log([one.stroke.height_mm for one in found])) / np.sqrt(len(found)) for found in heard
    ]
    spread = float(np.hypot(way.toward_board_spread_ratio, max(scatter)))
    light, medium, heavy = (round(way.toward_board_ratio * mm, 3) for mm in whole)
    return PlayedStrengths(
        light_mm=light,
        medium_mm=medium,
        heavy_mm=heavy,
        spread_ratio=round(spread, 2),
        pluck_from_saddle_mm=round(float(np.median([one.point_mm for one in every]))),
        who=who,
        day=day,
        source=tr(
            "heard in {every_count} plucks: {whole:.2f}, {whole_2:.2f} and {whole_3:.2f} mm in "
            "all, of which {toward_board_ratio:g} is taken to be toward the board",
            every_count=len(every),
            whole=whole[0],
            whole_2=whole[1],
            whole_3=whole[2],
            toward_board_ratio=way.toward_board_ratio,
        ),
    )


def _by_thirds(strokes: Sequence[PlayedStroke | None]) -> list[list[PlayedStroke]]:
    """Return the plucks that tell their height, of each third; ReadAgainError where they are too few."""
    thirds = np.array_split(np.arange(len(strokes)), len(STRENGTHS))
    heard = [
        [found for at in third if (found := strokes[at]) is not None and found.stroke.sure]
        for third in thirds
    ]
    for name, found in zip(STRENGTHS, heard, strict=True):
        if len(found) < FEWEST_OF_EACH:
            raise ReadAgainError(
                tr(
                    "{found_count} {name} plucks of {strokes_count} in all tell how hard they were played",
                    found_count=len(found),
                    name=tr(name),
                    strokes_count=len(strokes),
                ),
                tr(
                    "at least {fewest_of_each} of each: four light, four medium, four heavy, on one string",
                    fewest_of_each=FEWEST_OF_EACH,
                ),
                tr("play them again on a plain string, each left to ring for two seconds"),
            )
    return heard


def with_strengths(service: Service, strengths: PlayedStrengths) -> Service:
    """The service with its instrument played so, from now on."""
    return service.model_copy(
        update={"instrument": service.instrument.model_copy(update={"playing": strengths})}
    )
