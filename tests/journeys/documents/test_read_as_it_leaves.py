"""What was worked on is read as it leaves, and a figure whose work waits for a reading is not beyond a set-up."""

import numpy as np

from bench._instruments import arrival
from bench._maker import Bench
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.services.plans.figures import figures
from breakangle.services.plans.plan_page import plan_sheet
from breakangle.services.plans.solved_visits import Solved
from planning_cases import ordinary

# The house's own figures for the kind: common practice, no source.
WANTED_MM = (1.6, 1.7, 1.8, 1.9, 2.0, 2.1)
NOTHING_CUT_MM = -0.01  # a stroke: the figures stay inside their tolerance


def solved(work: tuple[SaddleHeight | Tune, ...] = (), odd_mm: float = 0.0) -> Solved:
    """Return a steel acoustic in order, string 1 higher by `odd_mm`, after this work."""
    edges = tuple(Gap(string=one, fret=7, held=(1, 14), mm=0.2) for one in (1, 6))
    heights = tuple(
        Gap(string=one, fret=12, held=(1,), mm=mm + (odd_mm if one == 1 else 0.0))
        for one, mm in enumerate(WANTED_MM, 1)
    )
    nut = tuple(Gap(string=one, fret=1, held=(3,), mm=0.05) for one in range(1, 7))
    service = Service(instrument=ordinary("steel-acoustic-guitar"), readings=edges + heights + nut, work=work)
    return Solved(service, estimate(service))


def test_at_the_end_of_a_plan_every_string_that_was_worked_on_is_read_again():
    told = plan_sheet(solved((SaddleHeight(post="bass", mm=NOTHING_CUT_MM), Tune())))
    assert not told.steps
    places = {(one.quantity, one.string) for one in told.check if one.fret == 12}
    assert {("gap", string) for string in (2, 3, 4, 5, 6)} <= places


def test_where_nothing_was_done_nothing_is_read_again():
    assert plan_sheet(solved()).check == ()


def test_a_figure_that_waits_for_a_second_reading_is_to_be_read_first():
    """Derived: 0.8 mm off its neighbours' line is many times what they allow, so no cut rests on one such reading."""
    told = plan_sheet(solved(odd_mm=0.8))
    assert told.questions
    (action,) = [one for one in told.figures if one.words == "action at string 1"]
    assert action.status == "waits"


def test_slots_that_wait_for_the_rod_are_not_called_beyond_a_set_up():
    """A bass whose rod is turned and read before its slots are cut: the plan calls none of them beyond a set-up."""
    bench = Bench(arrival("bass-four", 42), np.random.default_rng(42))
    bench.do(Tune())
    service = Service(instrument=bench.one.instrument, readings=tuple(bench.full_set()))
    found = Solved(service, estimate(service))
    assert found.plan.unreached == () and not found.plan.questions
    left = [one for one in figures(found) if abs(one.then - one.wanted) > 1.15 * one.tolerance]
    assert len(left) >= 2
    assert {one.status for one in left} == {"waits"}
