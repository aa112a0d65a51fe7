"""The solved state of an instrument, and what can be read off it all over the board."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from breakangle.library.tabled import Array, every_note, frame
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.registry import reading_kind, target_kind
from breakangle.planning.state.told_spread import cents_spread, clearance_spread_mm
from breakangle.services.service_files.pictures import after_plan
from breakangle.services.service_files.service import estimate_service

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Figure:
    """One figure of the trade as the state has it: what it is called, where it is read, and how well it is known.

    `uncertainty` is one standard deviation, in `unit` as `value` is.
    """

    name: str
    string: int
    fret: int
    value: float
    uncertainty: float
    unit: str


@dataclass(frozen=True)
class State:
    """The most probable state of an instrument.

    Attributes:
        strings: string numbers, 1 first, shape (strings,).
        figures: relief, action, nut clearance and intonation as they would read now.
        tension_n: pull of each string at pitch, N, shape (strings,).
        height_mm: height over the board's plane of nut (column 0), crowns (1 to frets) and saddle (last column), mm,
            shape (strings, frets + 2).
        height_uncertainty_mm: its standard deviation, same shape.
        surprises: readings that the rest did not lead one to expect, in words.
    """

    strings: NDArray[np.int64]
    figures: tuple[Figure, ...]
    tension_n: Array
    height_mm: Array
    height_uncertainty_mm: Array
    surprises: tuple[str, ...]

    def to_dataframe(self) -> "pd.DataFrame":
        """Return the figures as a data frame: `name`, `string`, `fret`, `value`, `uncertainty`, `unit`.

        Raises:
            InstallError: pandas is not installed.
        """
        names = ("name", "string", "fret", "value", "uncertainty", "unit")
        return frame({name: [getattr(figure, name) for figure in self.figures] for name in names})


@dataclass(frozen=True)
class Prediction:
    """Every stopped note of the board, fret 1 in column 0; NaN at the frets before a short string's own nut.

    Attributes:
        strings: string numbers, 1 first, shape (strings,).
        clearance_mm: the open string over each crown, mm, shape (strings, frets).
        clearance_uncertainty_mm: its standard deviation, same shape.
        cents: the stopped note from equal temperament with the open string in tune, same shape; sharp is positive.
        cents_uncertainty: its standard deviation, same shape.
    """

    strings: NDArray[np.int64]
    clearance_mm: Array
    clearance_uncertainty_mm: Array
    cents: Array
    cents_uncertainty: Array

    def to_dataframe(self) -> "pd.DataFrame":
        """Return a row for each note: `string`, `fret`, and a column for each array.

        Raises:
            InstallError: pandas is not installed.
        """
        names = ("clearance_mm", "clearance_uncertainty_mm", "cents", "cents_uncertainty")
        notes = every_note(self.strings, 1, self.cents.shape[1])
        return frame({**notes, **{name: getattr(self, name).ravel() for name in names}})


def estimate(service: Service, *, earlier: Sequence[Service] = ()) -> State:
    """Return the most probable state of an instrument now, with what is still uncertain.

    Args:
        service: instrument, readings and the work so far.
        earlier: the same instrument's earlier visits, oldest first; what its neck does is learned from them.

    Raises:
        CorrectInputError: what the tables cannot work with, or earlier visits of another instrument.
        ReadAgainError: readings that no instrument fits.

    Source: B. M. Bell and F. W. Cathey (1993), The iterated Kalman filter update as a Gauss-Newton method, IEEE Trans.
    Autom. Control 38, 294 [memory]; docs/planning.md.
    """
    now = estimate_service(service, earlier)
    return State(
        strings=_strings(now),
        figures=_figures(service, now),
        tension_n=np.array(now.board.tension_n, dtype=np.float64),
        height_mm=np.array(now.picture.height_mm),
        height_uncertainty_mm=now.belief.spread(now.picture.height_rows),
        surprises=tuple(surprise.sentence() for surprise in now.surprises),
    )


def predict(service: Service, *, after: Plan | None = None, earlier: Sequence[Service] = ()) -> Prediction:
    """Return clearance and intonation of every note, as the instrument is or as a plan would leave it.

    Args:
        service: instrument, readings and the work so far.
        after: a plan of this service, for the board when all its steps have been done.
        earlier: the same instrument's earlier visits, oldest first; what its neck does is learned from them.

    Raises:
        CorrectInputError: what the tables or the model cannot work with, or earlier visits of another instrument.
        ReadAgainError: readings that no instrument fits.

    Source: the model of a stopped note stands in docs/planning.md, with its sources.
    """
    now = after_plan(estimate_service(service, earlier), after)
    board, picture, belief = now.board, now.picture, now.belief
    before_nut = np.arange(1, board.fret_count + 1)[None, :] <= board.first[:, None]
    return Prediction(
        strings=_strings(now),
        clearance_mm=np.where(before_nut, np.nan, picture.clearance_mm),
        clearance_uncertainty_mm=np.where(before_nut, np.nan, clearance_spread_mm(picture, belief)),
        cents=np.where(before_nut, np.nan, picture.cents),
        cents_uncertainty=np.where(before_nut, np.nan, cents_spread(picture, belief)),
    )


def _strings(now: Estimate) -> NDArray[np.int64]:
    return np.array([one.string for one in now.board.instrument.in_order()], dtype=np.int64)


def _figures(service: Service, now: Estimate) -> tuple[Figure, ...]:
    sight, found = sight_of(now.stated, targets_of(service, now.board).wanted), []
    for index, target in enumerate(sight.targets):
        reading = sight.reading(index)
        kind = reading_kind(reading)
        name = str(target_kind(target).role(target)[0])
        value, spread = kind.value(reading, now.board), kind.spread(reading)
        found.append(Figure(name, reading.string, reading.fret, float(value), float(spread), kind.unit))
    return tuple(found)
