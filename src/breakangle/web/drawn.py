"""How wide a drawing is to be: as wide as the page says it has room for, else as wide as it usually is."""

from typing import Annotated, Literal

from fastapi import Query

from breakangle.drawings.look import SCREEN, Look
from breakangle.web.visitor import Visitor

LEAST_PX, MOST_PX = 320, 1200
Wide = Annotated[int | None, Query(description="the width there is for a drawing, in px")]


def look_for(visitor: Visitor, wide: int | None = None, usual: float = SCREEN.width) -> Look:
    """Return how a drawing is made for this visitor: `wide` px where the page said so, else `usual`."""
    units: Literal["mm", "inch"] = "inch" if visitor.view.units == "inch" else "mm"
    width = usual if wide is None else float(min(max(wide, LEAST_PX), MOST_PX))
    return Look(width=width, units=units)
