"""Tune: bring every string to its note."""

from typing import Literal

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.words.speech import mark
from breakangle.planning.kinds.kind import AdjustmentKind, Effect
from breakangle.planning.kinds.move import Move
from breakangle.planning.state.effects.nut_friction import tuned_variance
from breakangle.planning.state.picture import Picture

TUNED_SPREAD_CENTS = 2.0  # a string just tuned by a tuner's lamp; common practice, no source


class Tune(Adjustment):
    """Every string brought to its note."""

    adjust: Literal["tune"] = "tune"


def _effect(adjustment: Tune, picture: Picture) -> Effect:
    del adjustment
    rows = np.eye(picture.layout.size)
    places = picture.layout["pitch"]
    rows[places, places] = 0.0
    variance = np.zeros(picture.layout.size)
    variance[places] = TUNED_SPREAD_CENTS**2 + tuned_variance(picture.board)
    return Effect(rows @ picture.mean, rows, variance)


def _move(adjustment: Tune, instrument: Instrument) -> Move:
    del adjustment
    return Move(
        mark("Tune every string up to its note: {notes}"),
        mark("Tuned every string up to its note: {notes}"),
        values={"notes": " ".join(one.note for one in reversed(instrument.in_order()))},
    )


def _dangers(adjustment: Tune, instrument: Instrument) -> tuple[str, ...]:
    del adjustment
    if instrument.bridge.kind == "floating":
        return ("string-to-pitch", "spring-load", "shared-pull")
    return ("string-to-pitch",)


KIND = AdjustmentKind(
    name="tune",
    words=mark("tuning"),
    order=40,
    model=Tune,
    effect=_effect,
    dangers=_dangers,
    move=_move,
    planned=False,
)
