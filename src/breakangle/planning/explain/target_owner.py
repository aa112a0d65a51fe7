"""Whose figure each target is: the house's for a hand, made to fit this instrument, or a person's own wish."""

import numpy as np

from breakangle.model.plan import Note
from breakangle.model.reading import Target
from breakangle.model.service import Service, Targets
from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.family_fit import swing_ratios
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.kinds.targets.intonation import IntonationTarget
from breakangle.planning.state.board import Board
from breakangle.reference.families import family_of
from breakangle.reference.messages import noted

WORTH_TELLING_PERCENT = 10.0  # strings nearer to usual are not spoken of; common practice, no source


def whose_figures(service: Service, board: Board) -> dict[Target, Message]:
    """Return of each wanted figure whose it is, as a message."""
    asked = service.targets or Targets()
    wished = set(asked.wanted)
    return {
        one: Message(key="targets.wished", about=(f"string {one.string}",))
        if one in wished
        else _house(one, board, asked.hand)
        for one in targets_of(service, board).wanted
    }


def _house(target: Target, board: Board, hand: str) -> Message:
    kin, about = family_of(board.instrument), (tr("string {string}", string=target.string),)
    if isinstance(target, IntonationTarget):
        if target.tolerance_cents > kin.tolerances.intonation_cents:
            values = {"hand": hand, "cents": target.tolerance_cents}
            return Message(key="targets.house_crown", values=values, about=about)
    elif isinstance(target, GapTarget) and trade_name(target) != "nut clearance":
        ratios = swing_ratios(board)
        ratio = float(np.mean(ratios) if trade_name(target) == "relief" else ratios[target.string - 1])
        if ratio != 1.0:
            key = "targets.house_softer" if ratio > 1.0 else "targets.house_stiffer"
            values = {"hand": hand, "percent": abs(ratio - 1.0) * 100.0}
            return Message(key=key, values=values, about=about)
    return Message(key="targets.house", values={"hand": hand}, about=about)


def fitted_notes(service: Service, board: Board) -> list[Note]:
    """Return in notes where the house's heights were made to fit other strings, scale or tuning than usual."""
    said = [one for one in whose_figures(service, board).values() if one.key in _SOFT]
    percent = [float(one.values["percent"]) * _SOFT[one.key] for one in said]
    if not percent or abs(max(percent, key=abs)) < WORTH_TELLING_PERCENT:
        return []
    low, high = min(percent), max(percent)
    if low * high < 0.0:
        key, values = "targets.fitted_both", {"less": -low, "more": high}
    elif high > 0.0:
        key, values = "targets.fitted_softer", {"more": high}
    else:
        key, values = "targets.fitted_stiffer", {"less": -low}
    return [noted(Message(key=key, values=values, about=("relief", "action")))]


# Chosen: a sign for a name.
_SOFT = {"targets.house_softer": 1.0, "targets.house_stiffer": -1.0}
