"""How far saddle and nut are set back so that an instrument, set up as wanted, sounds true; and how well that is known.

The instrument is taken as its targets want it: their gaps as if they had been read. What is then left open is what
the tables know of the strings, and that is the uncertainty given.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.physics.string.intonation import error_cents, error_slopes
from breakangle.physics.string.intonation_limits import best_setbacks
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.state.board import board_of

Array = NDArray[np.float64]
AS_WANTED_MM = 0.005  # the wanted gaps are taken as read this well: better than any gauge
OCTAVE_FRETS = 12
STEPS = 6  # Newton's, on what is all but a straight line


@dataclass(frozen=True)
class Compensation:
    """Setbacks in mm, one for each string from 1 up: the saddle's away from the nut, the nut's toward the bridge.

    `plain_saddle_mm` is for a nut left where it is, true at the octave; `saddle_mm` and `nut_mm` go together and
    make the error over all frets least (`left_cents`, root mean square). `spread_mm` is one standard uncertainty.
    """

    plain_saddle_mm: Array
    saddle_mm: Array
    nut_mm: Array
    left_cents: Array
    spread_mm: Array


def as_wanted(service: Service) -> Estimate:
    """Return the state of the instrument with every wanted gap as wanted.

    Raises:
        CorrectInputError: what the tables do not know.
    """
    instrument = service.instrument_now()
    board = board_of(instrument, service.reference_hz)
    wanted = [one for one in targets_of(service, board).wanted if target_kind(one).unit == "mm"]
    readings = tuple(
        target_kind(one).as_reading(one, target_kind(one).wanted(one), AS_WANTED_MM) for one in wanted
    )
    return estimate(Service(instrument=instrument, reference_hz=service.reference_hz, readings=readings))


def compensation_of(service: Service) -> Compensation:
    """Return the setbacks that suit the service's instrument and strings, set up as it is wanted.

    Raises:
        CorrectInputError: what the tables do not know.
    """
    now = as_wanted(service)
    found = [_of_string(now, string) for string in range(now.board.string_count)]
    columns = [np.array(one) for one in zip(*found, strict=True)]
    return Compensation(*columns)


def _of_string(now: Estimate, string: int) -> tuple[float, float, float, float, float]:
    picture, board = now.picture, now.board
    first, frets = int(board.first[string]), board.fret_count
    places = np.arange(first, frets)
    saddle_rise = picture.height_mm[string, -1] - picture.height_mm[string, first]
    constants = board.strings[string]
    arguments = {
        "open_length_mm": board.open_length_mm[string],
        "fret_ratio": board.fret_ratio[string, places],
        "clearance_mm": np.maximum(picture.clearance_mm[string, places], 0.0),
        "saddle_rise_mm": saddle_rise,
        "axial_ratio": constants.axial_stiffness_n / constants.tension_n,
        "stiffness_ratio": picture.stiffness_ratio[string],
    }
    best = best_setbacks(**arguments)
    octave = min(OCTAVE_FRETS, len(places)) - 1
    plain, spread = _plain(now, arguments, string, octave)
    return plain, float(best.saddle_setback_mm), -float(best.nut_setback_mm), float(best.rms_cents), spread


def _plain(now: Estimate, arguments: dict[str, Array], string: int, octave: int) -> tuple[float, float]:
    """Return the saddle's setback that makes the note at the octave true with the nut in its place, and its spread."""
    one = arguments | {name: arguments[name][octave] for name in ("fret_ratio", "clearance_mm")}
    setback = 0.0
    for _ in range(STEPS):
        slope = error_slopes(**one, saddle_setback_mm=setback)
        setback -= float(error_cents(**one, saddle_setback_mm=setback) / slope.saddle_setback_cents_per_mm)
    constants = now.board.strings[string]
    spread_cents = np.hypot(
        float(slope.log_axial_cents) * constants.axial_sd_ratio,
        float(slope.log_stiffness_cents) * constants.bending_sd_ratio / 2.0,
    )
    return setback, float(spread_cents / abs(float(slope.saddle_setback_cents_per_mm)))
