"""The drawing of one trip of a plan: amounts at the nut or saddle, or the side view with this trip's arrows."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

from breakangle.documents.renderers.page import Picture
from breakangle.drawings.board.amounts_across import Across, Work, amounts_across
from breakangle.drawings.elevation.elevation import strings_at_the_edges
from breakangle.drawings.look import SCREEN, Drawing, Look
from breakangle.model.plan import Plan, Step
from breakangle.model.service import Service
from breakangle.model.words.speech import mark
from breakangle.planning.estimate.estimate import Estimate, adjusted
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.saddle_height import POST_SPREAD_RATIO, SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.trips.kinds import cut_by_hand
from breakangle.services.service_files.pictures import elevation_of

TRIP_ON_PAPER = Look(width=240.0, text=7.5, variant="print")
HEIGHTS = (NutSlot, SaddleHeight)


def trip_drawing(
    service: Service, now: Estimate, plan: Plan, trip: int, look: Look = SCREEN, left: int = 0
) -> Drawing | None:
    """Return the drawing of one trip; None where it has nothing to show, such as a trip that only tunes.

    Args:
        service: the visit as it stands.
        now: its solved state.
        plan: the plan whose trip it is.
        trip: its number, from 1.
        look: width, size of text, unit, page or paper, left-handed.
        left: how many of the plan's first steps are not counted, because they are done already.

    Raises:
        ReadAgainError: readings that no instrument fits.
    """
    steps = [one for one in plan.steps if one.trip == trip]
    heights = [one.adjustment for one in steps if isinstance(one.adjustment, HEIGHTS)]
    if heights:
        return _across(heights, now, look)
    places = [one.adjustment for one in steps if isinstance(one.adjustment, SaddlePosition)]
    if places:
        return amounts_across(
            _each(now, {one.string: one.mm for one in places}), "saddle", "along", False, look
        )
    if all(isinstance(one.adjustment, Tune) for one in steps):
        return None
    return _side_view(service, now, plan, steps, look, left)


def _across(heights: Sequence[NutSlot | SaddleHeight], now: Estimate, look: Look) -> Drawing:
    """Return the amounts of every string; of a saddle cut by hand its sides are the line between them.

    Where two posts carry the bridge, theirs are the amounts.
    """
    instrument = now.board.instrument
    nut = isinstance(heights[0], NutSlot)
    cut = nut or cut_by_hand(instrument)
    own = {one.string: one.mm for one in heights if one.string is not None}
    posts = {one.post: one.mm for one in heights if isinstance(one, SaddleHeight) and one.post is not None}
    if posts and not cut:
        sides = tuple(Across(side, "side", posts.get(side, 0.0)) for side in ("bass", "treble"))
        return amounts_across(sides, "saddle", mark("raise or lower"), True, look)
    moved = {}
    for string in instrument.in_order():
        side = float(now.board.side_ratio[string.string - 1]) / POST_SPREAD_RATIO
        line = 0.5 * (posts.get("bass", 0.0) * (1.0 - side) + posts.get("treble", 0.0) * (1.0 + side))
        moved[string.string] = own.get(string.string, 0.0) + line
    work: Work = "cut" if cut else mark("raise or lower")
    # A saddle's ends lie beyond its outer strings: what is taken off there is more, or less, than under them.
    ends = tuple(Across(side, "end", posts.get(side, 0.0)) for side in ("bass", "treble")) if posts else ()
    return amounts_across(_each(now, moved), "nut" if nut else "saddle", work, cut and not nut, look, ends)


def _each(now: Estimate, moved: Mapping[int, float]) -> tuple[Across, ...]:
    """Return every string, bass first, with what it is moved by in mm."""
    instrument = now.board.instrument
    return tuple(
        Across(str(one.string), one.note, moved.get(one.string, 0.0), instrument.course_of(one.string))
        for one in reversed(instrument.in_order())
    )


def _side_view(
    service: Service, now: Estimate, plan: Plan, steps: Sequence[Step], look: Look, left: int
) -> Drawing:
    """Return the lowest string's side view as the trip begins, with its arrows, numbered as in the whole plan."""
    first = plan.steps.index(steps[0])
    for one in plan.steps[:first]:
        now = adjusted(now, one.adjustment)
    part = plan.model_copy(update={"steps": tuple(steps)})
    lowest = strings_at_the_edges(now)[0]
    return elevation_of(service, lowest, part, now=now, look=look, first_step=first + 1 - left)


def trip_pictures(
    service: Service, now: Estimate, plan: Plan, units: Literal["mm", "inch"] = "mm"
) -> dict[int, Picture]:
    """Return the drawings of a plan's trips for paper, by the trips' numbers, with words for those who see none."""
    look = replace(TRIP_ON_PAPER, units=units)
    found = {one.trip: trip_drawing(service, now, plan, one.trip, look) for one in plan.trips}
    return {
        trip: Picture(drawing.svg, f"{drawing.title}. {drawing.description}")
        for trip, drawing in found.items()
        if drawing is not None
    }
