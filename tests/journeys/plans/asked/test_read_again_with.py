"""A reading taken again with another gauge is as sure as that gauge, and says which it was; on both engines."""

import json

import pytest

from breakangle.services.readings.typed_readings import keep_typed
from breakangle.services.service_files.example import example_service
from breakangle.services.visits.entries import correct, service_of, undo
from breakangle.services.visits.reading_places import Place
from breakangle.services.visits.service_files import bring_in
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Gauge, Visit
from breakangle.storage.schema.errors import EditedMeanwhileError
from shop_fixtures.people import ADA, BO

pytest_plugins = ["shop_fixtures.shops"]
HERE = Place("gap", 3, 9, (1, 17))
BARE = example_service().model_copy(update={"readings": ()}).model_dump_json(exclude_unset=True).encode()


@pytest.fixture
def visit(shop) -> Visit:
    return bring_in(shop, BARE, "a file", ADA).visit


@pytest.fixture
def gauges(shop) -> tuple[Gauge, Gauge]:
    fine = shop.add(Gauge, ADA, name="feelers", quantity="gap", spread=0.01, notes="")
    return fine, shop.add(Gauge, ADA, name="steel rule", quantity="gap", spread=0.05, notes="")


def held(entry) -> tuple[float, float | None, str | None]:
    body = json.loads(entry.body)
    return body["mm"], body.get("uncertainty_mm"), entry.gauge_id


def test_read_again_with_another_gauge_it_is_that_gauge_s_reading(shop, visit, gauges):
    fine, coarse = gauges
    first = keep_typed(shop, visit, HERE, "0.20", ADA, gauge=fine).entry
    second = keep_typed(shop, visit, HERE, "0.24", BO, seen=first.id, gauge=coarse).entry
    assert held(second) == (0.24, 0.05, coarse.id)
    third = keep_typed(shop, visit, HERE, "0.23", BO, seen=second.id).entry
    assert held(third) == (0.23, None, None)


def test_the_same_value_with_another_gauge_is_another_reading(shop, visit, gauges):
    fine, coarse = gauges
    first = keep_typed(shop, visit, HERE, "0.20", ADA, gauge=coarse).entry
    second = keep_typed(shop, visit, HERE, "0.20", BO, seen=first.id, gauge=fine).entry
    assert held(second) == (0.20, 0.01, fine.id)
    assert second.supersedes == first.id
    assert keep_typed(shop, visit, HERE, "0.20", BO, seen=second.id, gauge=fine).entry == second
    with pytest.raises(EditedMeanwhileError):  # who saw an empty box is shown that it is filled
        keep_typed(shop, visit, HERE, "0.20", ADA, gauge=coarse)
    assert len([one for one in entries_of(shop, visit.id) if one.kind == "reading"]) == 2


def test_sent_again_after_the_gauge_was_changed_it_is_the_reading_stored_then(shop, visit, gauges):
    fine, coarse = gauges
    first = keep_typed(shop, visit, HERE, "0.20", ADA, gauge=coarse, key="k").entry
    assert keep_typed(shop, visit, HERE, "0.20", ADA, gauge=fine, key="k").entry == first
    again = keep_typed(shop, visit, HERE, "0.22", ADA, seen=first.id, gauge=coarse, key="m").entry
    assert keep_typed(shop, visit, HERE, "0.22", ADA, seen=first.id, gauge=fine, key="m").entry == again


def test_corrected_on_the_sheet_it_keeps_its_gauge_and_undone_it_has_its_former_one(shop, visit, gauges):
    fine, coarse = gauges
    first = keep_typed(shop, visit, HERE, "0.20", ADA, gauge=fine).entry
    right = correct(shop, first.id, HERE.body(mm=0.21), "misread", ADA)
    assert right.gauge_id == fine.id
    second = keep_typed(shop, visit, HERE, "0.24", BO, seen=right.id, gauge=coarse).entry
    assert held(undo(shop, second.id, ADA))[::2] == (0.21, fine.id)


def test_what_is_asked_for_once_more_counts_beside_the_first_where_it_is_near_and_takes_its_place_where_it_is_far(
    shop, visit
):
    """Derived: two readings of one place differ by √2 of a gauge's spread, 0.03 mm; three times that is 0.127 mm."""
    first = keep_typed(shop, visit, HERE, "0.20", ADA).entry
    second = keep_typed(shop, visit, HERE, "0.20", ADA, seen=first.id, key="one", again=True).entry
    assert keep_typed(shop, visit, HERE, "0.20", ADA, seen=first.id, key="one", again=True).entry == second
    assert second.supersedes is None
    assert [one.mm for one in service_of(shop, visit.id).readings] == [0.20, 0.20]
    third = keep_typed(shop, visit, HERE, "0.34", ADA, seen=second.id, again=True).entry
    assert third.supersedes == second.id
    assert sorted(one.mm for one in service_of(shop, visit.id).readings) == [0.20, 0.34]
    keep_typed(shop, visit, HERE, "0.30", ADA, seen=third.id)
    assert sorted(one.mm for one in service_of(shop, visit.id).readings) == [0.20, 0.30]
