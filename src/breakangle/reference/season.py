"""What is believed of a neck and a top in damp air before any visit has shown it."""

from dataclasses import dataclass
from functools import cache

from breakangle.reference.families import Prior
from breakangle.reference.rows import read_table


@dataclass(frozen=True)
class SeasonTable:
    """Thicknesses in mm, moduli and growth of board and neck; mm per percent of room humidity beside that."""

    board_mm: Prior
    neck_mm: Prior
    board_over_neck_modulus_ratio: Prior
    growth_apart_per_moisture_percent: Prior
    relief_beside_mm_per_humidity_percent: Prior
    top_action_mm_per_humidity_percent: Prior
    head_action_mm_per_humidity_percent: Prior


@cache
def season_table() -> SeasonTable:
    """The table as it stands."""
    table = read_table("season")

    def prior(row: str, name: str) -> Prior:
        return Prior(**table[row][name])

    return SeasonTable(
        board_mm=prior("neck", "board_mm"),
        neck_mm=prior("neck", "neck_mm"),
        board_over_neck_modulus_ratio=prior("neck", "board_over_neck_modulus_ratio"),
        growth_apart_per_moisture_percent=prior("board-against-neck", "growth_per_moisture_percent"),
        relief_beside_mm_per_humidity_percent=prior("relief-beside", "mm_per_humidity_percent"),
        top_action_mm_per_humidity_percent=prior("top", "action_mm_per_humidity_percent"),
        head_action_mm_per_humidity_percent=prior("head", "action_mm_per_humidity_percent"),
    )
