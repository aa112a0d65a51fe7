"""What a person leaves out of a plan is planned around, for the whole visit, until it is taken back."""

from datetime import UTC, datetime
from pathlib import Path

from breakangle.planning.solve.lever_limits import same_adjuster
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.procedures.at_visit import runs
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.left_out import leave_out, take_back
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.schema.stamp import Stamp

STAMP = Stamp("test", datetime(2027, 3, 1, 9, tzinfo=UTC))


def test_what_is_left_out_is_planned_around_until_it_is_taken_back(tmp_path: Path):
    shop = shop_at(tmp_path)
    try:
        visit = bring_in(shop, example_text().encode(), "the example", STAMP).visit
        before = solved_visit(shop, visit.id)
        assert before.plan.steps, "the example wants work"
        first = before.plan.steps[0].adjustment
        leave_out(shop, visit, first, STAMP)
        after = solved_visit(shop, visit.id)
        assert [one for one in after.plan.steps if same_adjuster(one.adjustment, first)] == []
        assert after.plan != before.plan
        assert after.without == (first,)
        assert runs(shop, visit.id, STAMP.at) == ()  # it is no run of a procedure
        take_back(shop, visit, first, STAMP)
        assert solved_visit(shop, visit.id).plan == before.plan
    finally:
        shop.close()
