"""Pictures of a service: the elevation and maps of the board; the charts come from `picture_charts`."""

from collections.abc import Collection
from pathlib import Path

from breakangle.drawings.board.board_cells import buzz_cells, clearance_cells, intonation_cells
from breakangle.drawings.board.board_map import board_map
from breakangle.drawings.elevation.elevation import elevation, strings_at_the_edges
from breakangle.drawings.look import SCREEN, Drawing, Look
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.planning.buzz.buzz_map import BuzzMap
from breakangle.planning.buzz.buzz_map import buzz_map as buzz_over_board
from breakangle.planning.estimate.estimate import Estimate, adjusted
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.verdict.crowns import with_crowns_as_read
from breakangle.reference.families import family_of
from breakangle.services.service_files.buzz import playing_of
from breakangle.services.service_files.service import estimate_service, some_instrument_fits


def elevation_of(
    service: Service,
    string: int | None = None,
    plan: Plan | None = None,
    *,
    now: Estimate | None = None,
    left_out: Collection[str] = (),
    look: Look = SCREEN,
    first_step: int = 1,
) -> Drawing:
    """Return the side elevation of one string, or of the lowest and the highest, with the plan's arrows.

    Args:
        service: instrument, readings, targets and the work so far.
        string: its number from 1; None draws the lowest and the highest that start at the nut.
        plan: what is to be done; before and after are drawn over each other.
        now: the solved state where it is known already; else it is estimated.
        left_out: names of gaps whose figures are not written, such as those that nobody read.
        look: width, size of text, unit, page or paper, left-handed.
        first_step: the number that the first of the plan's steps is counted by.

    Raises:
        CorrectInputError: a string that the instrument does not have, or what the tables do not know.
        ReadAgainError: readings that no instrument fits.
    """
    now = estimate_service(service) if now is None else now
    targets = plan.targets if plan is not None else targets_of(service, now.board)
    adjustments = [] if plan is None else [step.adjustment for step in plan.steps]
    with some_instrument_fits():
        after = after_plan(now, plan) if adjustments else None
    strings = strings_at_the_edges(now) if string is None else (string,)
    return elevation(
        now,
        strings,
        after=after,
        adjustments=adjustments,
        targets=targets.wanted,
        left_out=left_out,
        look=look,
        first_step=first_step,
    )


def after_plan(now: Estimate, plan: Plan | None) -> Estimate:
    """Return the state after every step of `plan`, as far as it can be foretold."""
    for step in plan.steps if plan is not None else ():
        now = adjusted(now, step.adjustment)
    return now


def intonation_map(service: Service, *, now: Estimate | None = None, look: Look = SCREEN) -> Drawing:
    """Return every stopped note's distance from its tempered pitch over the board, the open strings in tune.

    Raises:
        CorrectInputError, ReadAgainError: as `estimate_service`.
    """
    now = estimate_service(service) if now is None else now
    kin = family_of(now.board.instrument)
    hand = (targets_of(service, now.board)).hand
    shown = intonation_cells(now, kin.tolerances.intonation_cents, kin.targets[hand].intonation_cents)
    return board_map(now.board, shown, look=look)


def clearance_map(service: Service, *, now: Estimate | None = None, look: Look = SCREEN) -> Drawing:
    """Return the open strings' clearance over every crown.

    Raises:
        CorrectInputError, ReadAgainError: as `estimate_service`.
    """
    now = estimate_service(service) if now is None else now
    return board_map(now.board, clearance_cells(now, look.units), look=look)


def buzz_map(
    service: Service,
    strength: str = "medium",
    *,
    now: Estimate | None = None,
    found: BuzzMap | None = None,
    own: Path | None = None,
    counted: bool = True,
    look: Look = SCREEN,
) -> Drawing:
    """Return the chance that each note touches a crown at `strength`: light, medium or heavy.

    Args:
        service: instrument, readings and the work so far.
        strength: how hard it is played.
        now: the solved state where it is known already; else it is estimated.
        found: the decided map where it is known already; else it is worked out.
        own: the shop's own file of strengths.
        counted: whether chances and counts are shown; without them signs say where notes may touch.
        look: width, size of text, unit, page or paper, left-handed.

    Raises:
        CorrectInputError: a strength, kind or make that is not known.
        ReadAgainError: readings that no instrument fits.
    """
    now = estimate_service(service) if now is None else now
    if found is None:
        found = buzz_over_board(
            with_crowns_as_read(service, now), now.belief, playing_of(service, own), (strength,)
        )
    first = {index + 1: int(one) for index, one in enumerate(now.board.first)}
    return board_map(now.board, buzz_cells(found, strength, first, look.units, counted), look=look)
