"""Plans of instruments of which few figures were read: what they move helps every figure that was read."""

import pytest

from breakangle.model.service import Service
from breakangle.planning.estimate.house_targets import ACTION_FRET
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.registry import target_kind
from planning_cases import made_of, ordinary, role, service_reading


def actions_read(kind: str, bridge: str, off: dict[int, float]) -> Service:
    """Return a service with nothing read but the action of a few strings, each off by so many tolerances."""
    instrument = ordinary(kind)
    instrument = instrument.model_copy(
        update={"bridge": instrument.bridge.model_copy(update={"kind": bridge})}
    )
    service = service_reading(
        instrument, lambda target: off.get(target.string, 0.0) if role(target) == "action" else 0.0
    )
    kept = tuple(
        one
        for one in service.readings
        if isinstance(one, Gap) and one.fret >= ACTION_FRET and one.string in off
    )
    return service.model_copy(update={"readings": kept})


@pytest.mark.parametrize("off", [{1: -1.64, 3: -0.07}, {1: 1.8, 3: 0.1}, {6: -1.7, 4: 0.0}])
@pytest.mark.parametrize("bridge", ["two-post", "floating"])
def test_posts_turned_for_one_string_leave_another_that_was_read_inside(bridge, off):
    made = made_of(actions_read("steel-acoustic-guitar", bridge, off))
    for target, then in zip(made.targets.wanted, made.then.readings, strict=True):
        if role(target) == "action" and target.string in off:
            kind = target_kind(target)
            assert abs(then.mm - kind.wanted(target)) <= kind.tolerance(target)  # type: ignore[attr-defined]
