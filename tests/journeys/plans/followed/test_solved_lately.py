"""A dragged control is answered from what was looked at within the second, and from what stands after that."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from breakangle.planning.buzz.try_out import Wish
from breakangle.services.plans.solved_visits import LATELY_S, solved_lately, solved_visit
from breakangle.services.plans.try_out import try_out
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.left_out import leave_out
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp

STAMP = Stamp("test", datetime(2027, 3, 1, 9, tzinfo=UTC))


@pytest.fixture
def shop(tmp_path: Path):  # type: ignore[no-untyped-def]
    made = shop_at(tmp_path)
    yield made
    made.close()


def test_what_was_looked_at_holds_for_the_second_and_no_longer(shop):
    visit = bring_in(shop, example_text().encode(), "the example", STAMP).visit
    first = solved_visit(shop, visit.id).plan.steps[0].adjustment
    assert solved_lately(shop, visit.id, lambda: 100.0).without == ()
    leave_out(shop, visit, first, STAMP)
    assert solved_lately(shop, visit.id, lambda: 100.0 + 0.9 * LATELY_S).without == ()
    assert solved_lately(shop, visit.id, lambda: 100.0 + 1.1 * LATELY_S).without == (first,)
    assert solved_visit(shop, visit.id).without == (first,)


def test_a_moving_answer_says_what_the_resting_one_says(shop):
    visit = bring_in(shop, example_text().encode(), "the example", STAMP).visit
    wish = Wish(action_low_mm=1.4, relief_mm=0.2)
    assert try_out(shop, visit.id, wish, moving=True) == try_out(shop, visit.id, wish)


def test_a_visit_that_is_not_there_is_not_looked_at_lately_either(shop):
    with pytest.raises(NoSuchRecordError):
        solved_lately(shop, "no such visit")
