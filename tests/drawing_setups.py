"""Instruments, states and adjustments to draw: every family, fanned boards, many strings, hostile names."""

import xml.etree.ElementTree as ElementTree
from functools import cache
from itertools import combinations

from breakangle.drawings.look import Drawing
from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate, adjusted, estimate
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.shim import Shim
from breakangle.planning.kinds.adjustments.tune import Tune
from planning_cases import ordinary, service_reading

SVG = "{http://www.w3.org/2000/svg}"


@cache
def solved(kind: str, off: float = 2.0) -> tuple[Service, Estimate]:
    """Return the family's ordinary instrument, read `off` tolerances from every target, and its state."""
    service = service_reading(ordinary(kind), lambda target: off)
    return service, estimate(service)


def everything_moves(instrument: Instrument) -> list[Adjustment]:
    """Return one of each adjustment, for every string that can have it, in the order of work."""
    strings = [one.string for one in instrument.in_order()]
    posts = instrument.bridge.kind in ("two-post", "one-piece")
    heights: list[Adjustment] = [SaddleHeight(string=one, mm=0.234) for one in strings]
    if posts:
        heights = [SaddleHeight(post="bass", mm=-0.31), SaddleHeight(post="treble", mm=0.12)]
    return [
        Shim(degrees=0.25),
        RodTurn(turns=0.25),
        RodTurn(turns=0.125),
        *heights,
        *(NutSlot(string=one, mm=-0.12) for one in strings),
        Tune(),
        *(SaddlePosition(string=one, mm=-1.234) for one in strings),
    ]


def after(now: Estimate, adjustments: list[Adjustment]) -> Estimate:
    """Return the state after all of them."""
    for one in adjustments:
        now = adjusted(now, one)
    return now


def fanned() -> Instrument:
    """Return a six whose strings each have their own scale, 648 to 686 mm."""
    plain = ordinary("electric-guitar")
    strings = [one.model_copy(update={"scale_mm": 640.4 + 7.6 * one.string}) for one in plain.in_order()]
    return plain.model_copy(update={"strings": tuple(strings)})


def many(count: int, courses_of: int = 1) -> Instrument:
    """Return an instrument of `count` strings, in courses of so many."""
    plain = ordinary("electric-guitar")
    top = plain.in_order()[0]
    strings = [
        top.model_copy(update={"string": number, "course": (number - 1) // courses_of + 1})
        for number in range(1, count + 1)
    ]
    return plain.model_copy(update={"strings": tuple(strings)})


def overlapping(drawing: Drawing) -> list[tuple[str, str]]:
    """Return the pairs of texts that stand over each other."""
    pairs = combinations(drawing.text_boxes, 2)
    return [(one.text, other.text) for one, other in pairs if one.overlaps(other)]


def cut_off(drawing: Drawing) -> list[str]:
    """Return the texts that reach beyond the drawing's edges."""
    return [
        one.text
        for one in drawing.text_boxes
        if one.left < -0.01
        or one.top < -0.01
        or one.right > drawing.width + 0.01
        or one.bottom > drawing.height + 0.01
    ]


def texts(drawing: Drawing) -> list[str]:
    """Return every text of the picture, in the order it is drawn."""
    return [one.text or "" for one in ElementTree.fromstring(drawing.svg).iter(f"{SVG}text")]
