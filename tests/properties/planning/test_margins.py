"""What is asked for before anything is moved, how far inside what is moved ends, and that the state is the best one."""

import numpy as np
import pytest

from bench._instruments import arrival
from bench._maker import Bench, by_plan
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate, update
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.plan import plan
from breakangle.planning.solve.unreached import Unreached
from breakangle.planning.state.picture import picture_of
from planning_cases import ordinary, role, service_reading


def arrived(kind: str, seed: int) -> Service:
    bench = Bench(arrival(kind, seed), np.random.default_rng(seed))
    bench.do(Tune())
    return Service(instrument=bench.one.instrument, readings=tuple(bench.full_set()))


@pytest.mark.parametrize("seed", [46, 55])
def test_after_work_the_state_is_still_the_most_probable_one(seed):
    """Where the physics bends most, full steps of the solution overshoot for ever; at the best state the slope is 0.

    The slope, times the covariance: (state - mean) - covariance · rowsᵀ · (residual / variance).
    """
    service = by_plan(arrival("bass-four", seed), seed).service
    stage = max(one.after for one in service.readings)
    here = [one for one in service.readings if one.after == stage]
    before = estimate(service.model_copy(
        update={"work": service.work[:stage], "readings": tuple(one for one in service.readings if one.after < stage)}
    ))  # fmt: skip
    after, surprises = update(before.belief, here, before.board)
    assert not any(one.contradicted for one in surprises)
    picture, pull = picture_of(before.board, after.mean), np.zeros(len(after.mean))
    for one in here:
        kind = reading_kind(one)
        found = kind.predict([one], picture)
        residual = kind.value(one, before.board) - found.values[0]
        pull += found.rows[0] * residual / (kind.spread(one) ** 2 + found.unexplained[0] ** 2)
    slope = after.mean - before.belief.mean - before.belief.covariance @ pull
    spread = np.sqrt(np.maximum(np.diag(before.belief.covariance), 1e-18))
    assert np.max(np.abs(slope) / spread) < 0.02


def test_a_reading_that_the_rest_contradict_is_asked_for_once_more():
    service = service_reading(ordinary("electric-guitar"), lambda target: 0.0)
    right = next(o for o in service.readings if isinstance(o, Gap) and (o.string, o.fret) == (6, 12))
    slip = right.model_copy(update={"mm": right.mm + 4.0})
    others = tuple(one for one in service.readings if one is not right)
    read = service.model_copy(update={"readings": (*others, slip)})
    now = estimate(read)
    asked = [(one.quantity, one.string, one.fret) for one in plan(read, now).read_again]
    assert [one.reading for one in now.surprises if one.contradicted] == [slip]
    assert ("gap", 6, 12) in asked


def sharp_on_the_edge(kind: str):
    return service_reading(
        ordinary(kind),
        lambda target: 1.05 if (role(target), target.string) == ("intonation", 2) else 0.0,
    )


def test_a_figure_on_the_edge_is_asked_for_before_its_crown_is_shaped():
    service = sharp_on_the_edge("steel-acoustic-guitar")
    made = plan(service, estimate(service))
    assert made.steps == ()
    assert ("pitch", 2) in [(one.quantity, one.string) for one in made.read_again]


def test_a_figure_on_the_edge_is_set_by_its_screw_and_read_at_the_end():
    """A screw is turned back in less time than a doubt is settled in."""
    service = sharp_on_the_edge("electric-guitar")
    made = plan(service, estimate(service))
    (step,) = made.steps
    assert (step.adjustment.adjust, step.adjustment.string) == ("saddle-position", 2)
    assert ("pitch", 2) in [(one.quantity, one.string) for one in made.trips[-1].reads]


def test_a_figure_that_steps_before_it_will_move_is_not_asked_for_yet():
    """An intonation on the edge says nothing while its string is still to come down a millimetre."""
    service = service_reading(
        ordinary("electric-guitar"),
        lambda target: (
            1.05
            if (role(target), target.string) == ("intonation", 2)
            else 8.0
            if role(target) == "action"
            else 0.0
        ),
    )
    made = plan(service, estimate(service))
    assert "saddle-height" in [step.adjustment.adjust for step in made.steps]
    assert ("pitch", 2) not in [(one.quantity, one.string) for one in made.read_again]


@pytest.mark.parametrize("kind", ["bass-four", "electric-guitar"])
def test_no_slot_is_cut_below_its_figure_to_spare_another_adjuster(kind):
    cuts = 0
    for seed in range(48):
        service = arrived(kind, seed)
        made = plan(service, estimate(service))
        wanted = {one.string: one for one in made.targets.wanted if role(one) == "nut clearance"}
        then = {one.string: one.mm for one in made.then.readings if isinstance(one, Gap) and one.fret == 1}
        for step in made.steps:
            if step.adjustment.adjust == "nut-slot":
                target, cuts = wanted[step.adjustment.string], cuts + 1
                assert then[target.string] > target.mm - 0.15 * target.tolerance_mm
    assert cuts >= 20


@pytest.mark.parametrize(
    ("far", "at_end", "spread", "tolerance", "past"),
    [
        # With no travel left and nothing moved: by one spread, where that is less than the hand's 0.15.
        (1.06, True, 0.05, 1.0, True),
        (-1.06, True, 0.05, 1.0, True),
        (1.04, True, 0.05, 1.0, False),
        (1.16, True, 0.50, 1.0, True),
        (1.14, True, 0.50, 1.0, False),
        # Something is moved (no spread), or it has travel left: by 0.15.
        (1.14, True, None, 1.0, False),
        (1.16, True, None, 1.0, True),
        (1.06, False, 0.05, 1.0, False),
        # Worked to half of its tolerance, twice which is the whole: 0.15 of the whole as well.
        (2.29, True, None, 2.0, False),
        (2.31, True, None, 2.0, True),
        # Nothing tells how far.
        (None, True, 0.05, 1.0, True),
    ],
)
def test_a_figure_is_past_its_edge_by_its_spread_or_by_the_hands_share(far, at_end, spread, tolerance, past):
    """The rule of docs/planning.md, The gate."""
    assert Unreached(0, None, at_end, far, spread).past_edge(tolerance) == past
