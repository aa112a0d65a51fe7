"""The plan of a set-up."""

from collections.abc import Sequence
from typing import Literal

from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.services.service_files.service import plan_service

Hand = Literal["light", "medium", "heavy"]


def plan(
    service: Service,
    *,
    hand: Hand | None = None,
    no_buzz_at: Hand | None = None,
    earlier: Sequence[Service] = (),
) -> Plan:
    """Return the fewest adjustments, in order, that bring an instrument inside its tolerances.

    Args:
        service: instrument, readings, targets and the work so far.
        hand: the house's targets for this hand in the place of the file's.
        no_buzz_at: no string may touch a crown when it is played so hard.
        earlier: the same instrument's earlier visits, oldest first; what its neck does is learned from them.

    Returns:
        The plan: `verdict` (`leave`, `adjust`, `read-first` or `beyond-setup`); `steps` in order, each with its
        `adjustment`, `reason`, `caution` and the readings to `expect`; `trips`, `findings`, `questions`; the figures
        `now` and `then`. It is frozen data: `plan.model_dump(mode="json")` is what `breakangle plan --json` prints.

    Raises:
        CorrectInputError: what the tables or the planner cannot work with.
        ReadAgainError: readings that no instrument fits.

    Source: the physics and its sources stand in docs/planning.md.
    """
    return plan_service(service, hand, earlier, no_buzz_at)
