"""A step says why by a figure that it brings nearer, one that is outside before one that is not.

Common practice, no source: a maker who turns a rod for the treble side does not give the bass side as the reason.
"""

import numpy as np
import pytest

from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.trips.step_reasons import reason
from planning_cases import made_of, ordinary, role, service_reading

TREBLE, BASS = 1, 8


def relief_reads(treble: float, bass: float):
    """Return what puts relief at either edge so many tolerances off."""
    return lambda target: (
        {TREBLE: treble, BASS: bass}.get(target.string, 0.0) if role(target) == "relief" else 0.0
    )


@pytest.mark.parametrize(
    ("treble", "bass", "moved_treble", "moved_bass", "named"),
    [
        (1.8, 0.4, -0.5, -1.2, TREBLE),  # out, though the turn moves the other side more
        (0.4, 1.8, -1.2, -0.5, BASS),
        (-0.6, 0.7, -0.8, -0.8, BASS),  # both inside, the treble side made worse
        (1.4, 1.7, -0.8, -0.8, BASS),  # both out: the farther
    ],
)
def test_a_turn_names_the_side_that_it_is_made_for(treble, bass, moved_treble, moved_bass, named):
    service = service_reading(ordinary("mandolin"), relief_reads(treble, bass))
    now = estimate(service)
    wanted = made_of(service).targets.wanted
    sight = sight_of(now, wanted)
    edges = {one.string: index for index, one in enumerate(wanted) if role(one) == "relief"}
    moved = np.zeros(len(wanted))
    for string, tolerances in ((TREBLE, moved_treble), (BASS, moved_bass)):
        moved[edges[string]] = tolerances * sight.tolerance[edges[string]]
    turn = RodTurn(turns=0.25)
    said = reason(turn, sight, sight, service.instrument, moved=moved, shown=list(edges.values()))
    assert f"relief at string {named} is" in said
