"""Try out: relief, heights, nut, strings, tuning and strength as controls; the board answers while they are moved."""

from dataclasses import asdict
from typing import Annotated, Literal

from fastapi import APIRouter, Form, Query, Request
from pydantic import BaseModel, ConfigDict
from starlette.responses import Response

from breakangle.planning.buzz.try_out import Wish
from breakangle.services.plans.try_out import MAPS, SIZES, TUNINGS, TryOut, make_target, try_out
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, to
from breakangle.web.drawn import Wide, look_for
from breakangle.web.render import page
from breakangle.web.visitor import visitor_of

router = APIRouter(include_in_schema=False)
# Name of a control, and how far it goes either way from what is there now, in mm.
CONTROLS = {
    "relief_mm": 0.4,
    "action_low_mm": 1.0,
    "action_high_mm": 1.0,
    "nut_low_mm": 0.2,
    "nut_high_mm": 0.2,
}
Millimetres = Annotated[float | None, Query(ge=-2.0, le=10.0, allow_inf_nan=False)]


class Controls(BaseModel):
    """What the controls stand at; none: as it is."""

    model_config = ConfigDict(extra="ignore")
    relief_mm: Millimetres = None
    action_low_mm: Millimetres = None
    action_high_mm: Millimetres = None
    nut_low_mm: Millimetres = None
    nut_high_mm: Millimetres = None
    strength: Literal["light", "medium", "heavy"] | None = None
    semitones: int = 0
    size_ratio: float = 1.0
    shown: Literal["buzz", "intonation", "clearance"] = "buzz"
    wide: Wide = None
    moving: bool = False

    def wish(self) -> Wish:
        """Return the figures as the planner has them."""
        return Wish(**{name: getattr(self, name) for name in CONTROLS})


@router.get("/visits/{number}/try")
def try_page(
    request: Request, shop: TheShop, visit: TheVisit, controls: Annotated[Controls, Query()]
) -> Response:
    """Show the controls and the board's answer; to an open page the answer alone, while one moves its pictures."""
    answer = _answer(request, shop, visit, controls)
    if controls.moving:
        return page(request, "_try_moving.html", answer=answer)
    if "hx-request" in request.headers:
        return page(request, "_try_answer.html", answer=answer, controls=controls)
    now = asdict(answer.now)
    sliders = [
        (
            name,
            now[name],
            getattr(controls, name) if getattr(controls, name) is not None else now[name],
            reach,
        )
        for name, reach in CONTROLS.items()
        if now[name] is not None
    ]
    return page(
        request, "try.html", visit=visit, answer=answer, controls=controls, sliders=sliders, maps=MAPS,
        instrument=instrument_of(shop.get(InstrumentRecord, visit.instrument_id)), tunings=TUNINGS, sizes=SIZES,
    )  # fmt: skip


@router.post("/visits/{number}/try")
def keep_target(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, controls: Annotated[Controls, Form()]
) -> Response:
    """Make the heights that were tried out the visit's target, and show the plan that leads there."""
    make_target(shop, visit.id, controls.wish(), stamp)
    return to(request, f"/visits/{visit.number}/plan")


def _answer(request: Request, shop: Shop, visit: Visit, controls: Controls) -> TryOut:
    return try_out(
        shop, visit.id, controls.wish(), controls.strength, controls.semitones, controls.size_ratio,
        controls.shown, look_for(visitor_of(request), controls.wide), controls.moving,
    )  # fmt: skip
