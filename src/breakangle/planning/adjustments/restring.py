"""Restring: other strings on the same instrument; their pull bends the neck, their make moves the pitch."""

from collections.abc import Iterator
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from breakangle.model.instrument import Instrument, String
from breakangle.model.reading import Adjustment
from breakangle.planning.board import board_of
from breakangle.planning.kinds import SPRINGS_CAUTION, AdjustmentKind, Effect
from breakangle.planning.picture import Picture

SEATING_SPREAD_MM = 0.01  # a new string in its slot and on its saddle; common practice, no source
NEW_STRING_SPREAD_CENTS = 20.0


class Restring(Adjustment):
    """Strings replaced by those listed; a string not listed stays."""

    adjust: Literal["restring"] = "restring"
    strings: Annotated[tuple[String, ...], Field(min_length=1, max_length=18)]

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have."""
        numbers = {one.string for one in instrument.strings}
        for index, one in enumerate(self.strings):
            if one.string not in numbers:
                yield f"strings[{index}].string", f"a string from 1 to {len(numbers)}"

    def changed_instrument(self, instrument: Instrument) -> Instrument:
        """Return the instrument with the new strings on it."""
        fresh = {one.string: one for one in self.strings}
        kept = tuple(fresh.get(one.string, one) for one in instrument.strings)
        return instrument.model_copy(update={"strings": kept})


def _effect(adjustment: Restring, picture: Picture) -> Effect:
    layout, old = picture.layout, picture.board
    new = board_of(adjustment.changed_instrument(old.instrument), old.reference_hz)
    pull_n = float(new.tension_n.sum() - old.tension_n.sum())
    rows, variance = np.eye(layout.size), np.zeros(layout.size)
    rows[layout["neck"][0], layout["load"][0]] = pull_n
    for string in adjustment.strings:
        index, constants = string.string - 1, new.strings[string.string - 1]
        for block, spread in (
            ("log_axial", constants.axial_sd_ratio),
            ("log_stiffness", constants.bending_sd_ratio / 2.0),
        ):
            rows[layout[block][index]] = 0.0
            variance[layout[block][index]] = spread**2
        rows[layout["pitch"][index]] = 0.0
        variance[layout["pitch"][index]] = NEW_STRING_SPREAD_CENTS**2
        variance[layout["nut_height"][index]] = SEATING_SPREAD_MM**2
        variance[layout["saddle_height"][index]] = SEATING_SPREAD_MM**2
    return Effect(rows @ picture.mean, rows, variance)


def _told(adjustment: Restring, instrument: Instrument) -> str:
    del instrument
    return "Fit new strings: " + " ".join(
        f"{one.note} {one.diameter_mm:.2f} mm" for one in adjustment.strings
    )


def _cautions(adjustment: Restring, instrument: Instrument) -> tuple[str, ...]:
    del adjustment
    found = [
        "Eye protection while slackening, cutting and stretching wire.",
        "Slacken before cutting: a string cut at pitch shocks the neck and whips.",
    ]
    if instrument.bridge.kind == "floating":
        found.append(SPRINGS_CAUTION)
    return tuple(found)


KIND = AdjustmentKind(
    name="restring",
    words="new strings",
    order=1,
    model=Restring,
    effect=_effect,
    cautions=_cautions,
    told=_told,
    verified_by=lambda adjustment, target: True,
    planned=False,
)
