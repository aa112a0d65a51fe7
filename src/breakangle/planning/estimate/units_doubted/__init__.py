"""Figures whose unit is doubted: the questions to ask, and the service without what they leave open."""

from breakangle.planning.estimate.units_doubted.judge import Doubted, doubted_figures
from breakangle.planning.estimate.units_doubted.questions import (
    ASK,
    LEFT_OUT,
    sizes_asked,
    units_questions,
    without_doubted,
    without_open,
)

__all__ = [
    "ASK", "LEFT_OUT", "Doubted", "doubted_figures", "sizes_asked", "units_questions", "without_doubted",
    "without_open",
]  # fmt: skip
