"""Shim: tips a bolted neck back in its pocket, which lowers every string toward the body end."""

from typing import Annotated, Any, Literal

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.words.noun import Between
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.adjustments.rod import DETUNED_CENTS
from breakangle.planning.kinds.kind import AdjustmentKind, Effect
from breakangle.planning.kinds.move import Move
from breakangle.planning.kinds.readings.gap import is_gap, pressed
from breakangle.planning.state.picture import Picture

SEATING_SPREAD_RATIO = 0.15  # how a neck seats on a new shim; common practice, no source


class Shim(Adjustment):
    """The neck tipped by `degrees`; positive tips the head back, away from the strings."""

    adjust: Literal["shim"] = "shim"
    degrees: Annotated[float, Between(-3.0, 3.0, "degrees")]


def _effect(adjustment: Shim, picture: Picture) -> Effect:
    layout, along = picture.layout, picture.board.along_mm
    beyond_joint_mm = along[:, -1] - along[:, picture.board.instrument.joint_fret]
    # In the neck's own frame the body, and the saddle on it, comes down as the head tips back.
    drop = np.tan(np.radians(adjustment.degrees)) * beyond_joint_mm
    mean, variance = picture.mean.copy(), np.zeros(layout.size)
    mean[layout["saddle_height"]] -= drop
    variance[layout["saddle_height"]] = (SEATING_SPREAD_RATIO * drop) ** 2
    variance[layout["pitch"]] = DETUNED_CENTS**2
    return Effect(mean, np.eye(layout.size), variance)


def _move(adjustment: Shim, instrument: Instrument) -> Move:
    del instrument
    return Move(
        mark("Shim the neck to tip the head {way} by {degrees} degrees"),
        mark("Shimmed the neck to tip the head {way} by {degrees} degrees"),
        values={
            "way": tr("back") if adjustment.degrees > 0 else tr("forward"),
            "degrees": f"{abs(adjustment.degrees):.2f}",
        },
    )


def _dangers(adjustment: Shim, instrument: Instrument) -> tuple[str, ...]:
    del adjustment
    always = ("wire-under-tension", "neck-screws", "glued-neck", "heat-steam")
    return (*always, "spring-load") if instrument.bridge.kind == "floating" else always


def _verified_by(adjustment: Any, target: Any) -> bool:
    del adjustment
    return is_gap(target) and not pressed(target)[1]


KIND = AdjustmentKind(
    name="shim",
    words=mark("neck shim"),
    order=5,
    model=Shim,
    effect=_effect,
    dangers=_dangers,
    move=_move,
    verified_by=_verified_by,
    # The maker's choice: the plan names it where a set-up alone cannot reach.
    planned=False,
)
