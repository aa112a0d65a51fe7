"""What is usual for a floating bridge: its arms and springs."""

from dataclasses import dataclass
from functools import cache

from breakangle.reference.families import Prior
from breakangle.reference.rows import read_table


@dataclass(frozen=True)
class UsualFloating:
    """Arms in mm from the knife edges, the number of springs, and one spring's rate in N/mm."""

    string_arm_mm: Prior
    spring_arm_mm: Prior
    saddle_back_mm: Prior
    spring_count: int
    rate_n_per_mm: Prior


@cache
def usual_floating() -> UsualFloating:
    """What is usual, with one standard deviation each."""
    table = read_table("floating")
    arms, springs = table["bridge"], table["springs"]
    return UsualFloating(
        string_arm_mm=Prior(**arms["string_arm_mm"]),
        spring_arm_mm=Prior(**arms["spring_arm_mm"]),
        saddle_back_mm=Prior(**arms["saddle_back_mm"]),
        spring_count=int(springs["count"]),
        rate_n_per_mm=Prior(**springs["rate_n_per_mm"]),
    )
