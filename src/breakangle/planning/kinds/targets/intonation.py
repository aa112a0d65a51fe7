"""Wanted intonation: the stopped note from its equal-tempered pitch when the open string is in tune."""

from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Reading, Target
from breakangle.model.words.noun import Between
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.kind import Prediction, TargetKind
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.state.bridge_support import stands_loose
from breakangle.planning.state.picture import Picture
from breakangle.planning.state.told_spread import own_cents


class IntonationTarget(Target):
    """The stopped note at `fret` of `string`, in cents from equal temperament, the open string in tune."""

    quantity: Literal["intonation"] = "intonation"
    fret: Annotated[int, Between(1, 36, "", whole=True)] = 12
    cents: Annotated[float, Between(-30.0, 30.0, "cents")] = 0.0
    tolerance_cents: Annotated[float, Between(0.1, 30.0, "cents")] = 2.0


def _predict(targets: Sequence[IntonationTarget], picture: Picture) -> Prediction:
    string = np.array([one.string - 1 for one in targets], dtype=np.intp)
    fret = np.array([one.fret - 1 for one in targets], dtype=np.intp)
    values, rows = picture.cents_at(string, fret)
    return Prediction(values, rows, np.zeros(len(targets)), own_cents(picture.board)[string, fret])


def _as_reading(target: IntonationTarget, value: float, spread: float) -> Reading:
    return Pitch(
        string=target.string,
        fret=target.fret,
        cents=round(min(max(value, -250.0), 250.0), 2),
        uncertainty_cents=round(min(max(spread, 0.01), 100.0), 2),
    )


def _said_of(target: IntonationTarget, instrument: Instrument, strings: str) -> str:
    del target, instrument
    return tr("intonation of {strings}", strings=strings)


def _beyond(target: IntonationTarget, low: bool, instrument: Instrument) -> str:
    del target
    side, way = ("flat", tr("forward")) if low else ("sharp", tr("back"))
    if stands_loose(instrument):
        return tr(
            "still {side} with the whole bridge where it serves all best: what one string then "
            "wants {way} is a bridge shaped for it",
            side=side,
            way=way,
        )
    if instrument.bridge.kind == "one-piece":
        return tr(
            "still {side}, and not to be put right on this saddle: a new one shaped for it, or another gauge",
            side=side,
        )
    return tr(
        "still {side} with its saddle as far {way} as it goes: another string gauge, or a moved bridge",
        side=side,
        way=way,
    )


KIND = TargetKind(
    name="intonation",
    said_of=_said_of,
    unit="cents",
    decimals=1,
    model=IntonationTarget,
    wanted=lambda target: float(target.cents),
    tolerance=lambda target: float(target.tolerance_cents),
    predict=_predict,
    as_reading=_as_reading,
    role=lambda target: ("intonation", target.string),
    beyond=_beyond,
)
