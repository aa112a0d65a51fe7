"""Everything that the solved state lets one read off: gaps and cents at every fret of every string."""

from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import SerializeAsAny

from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.noun import Noun
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.state.told_spread import cents_spread, clearance_spread_mm
from breakangle.services.service_files.service import estimate_service

PREDICTION_FORMAT: Final = "breakangle/prediction/1"
Row = tuple[float | None, ...]


class StringPrediction(Noun):
    """One string from fret 1 up; None at the frets before a short string's own nut.

    Open-string clearance over each crown in mm, and the stopped note from equal temperament in cents with the
    open string in tune (sharp is positive), each with its standard uncertainty.
    """

    string: int
    note: str
    clearance_mm: Row
    clearance_uncertainty_mm: Row
    cents: Row
    cents_uncertainty: Row


class Convention(Noun):
    """A figure of the trade as the state has it: its name (`relief`, `action`), and what it reads."""

    words: str
    reading: SerializeAsAny[Reading]


class Prediction(Noun):
    """The whole board as the state has it."""

    format: Literal["breakangle/prediction/1"] = PREDICTION_FORMAT
    conventions: tuple[Convention, ...]
    strings: tuple[StringPrediction, ...]
    notes: Annotated[tuple[str, ...], "readings that the rest contradict"] = ()


def _row(values: NDArray[np.float64], decimals: int) -> Row:
    return tuple(round(float(value), decimals) if np.isfinite(value) else None for value in values)


def _strings(now: Estimate) -> tuple[StringPrediction, ...]:
    picture, belief, board = now.stated.picture, now.stated.belief, now.board
    before_nut = np.arange(1, board.fret_count + 1)[None, :] <= board.first[:, None]
    gap = np.where(before_nut, np.nan, picture.clearance_mm)
    gap_spread = np.where(before_nut, np.nan, clearance_spread_mm(picture, belief))
    cents = np.where(before_nut, np.nan, picture.cents)
    note_spread = np.where(before_nut, np.nan, cents_spread(picture, belief))
    return tuple(
        StringPrediction(
            string=one.string,
            note=one.note,
            clearance_mm=_row(gap[index], 3),
            clearance_uncertainty_mm=_row(gap_spread[index], 3),
            cents=_row(cents[index], 2),
            cents_uncertainty=_row(note_spread[index], 2),
        )
        for index, one in enumerate(board.instrument.in_order())
    )


def predict_service(service: Service) -> Prediction:
    """Return gaps (mm) and cents all over the board, and relief, action and nut clearance as they would read.

    Raises:
        CorrectInputError: what the tables or the model cannot work with.
    """
    now = estimate_service(service)
    sight = sight_of(now.stated, targets_of(service, now.board).wanted)
    conventions = tuple(
        Convention(words=str(target_kind(one).role(one)[0]), reading=sight.reading(index))
        for index, one in enumerate(sight.targets)
    )
    surprises = tuple(one.sentence() for one in now.surprises)
    return Prediction(conventions=conventions, strings=_strings(now), notes=surprises)
