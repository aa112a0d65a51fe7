"""Work and readings entered late, in their true place: what came after is worked out again; undo and redo keep it."""

import pytest
from starlette.testclient import TestClient

from breakangle.model.service_file import ServiceFileError
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.services.plans.done import Done, steps_done, took_back
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.service_files.example import example_service
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.storage.records.entries import REDONE, UNDONE, entries_of
from breakangle.storage.records.records import Visit
from breakangle.storage.schema.errors import NoSuchRecordError
from shop_fixtures.people import ADA, BO, GAP, ROD
from web_fixtures.opened import workshop_of

pytest_plugins = ["shop_fixtures.shops", "web_fixtures.at_hand"]


@pytest.fixture
def visit(shop) -> Visit:
    return open_visit(shop, ADA, add_instrument(shop, ADA, example_service().instrument))


def in_order(shop, visit) -> list[object]:
    """Return the visit's events as they stand: figures of readings, turns of the rod."""
    service = service_of(shop, visit.id)
    found: list[object] = []
    for done in range(len(service.work) + 1):
        found += [one.mm for one in service.readings if one.after == done]
        found += [("rod", one.turns) for one in service.work[done : done + 1]]
    return found


def test_work_entered_late_stands_before_the_reading_it_was_done_before(shop, visit):
    take_reading(shop, visit.id, GAP | {"mm": 2.0}, ADA)
    read = take_reading(shop, visit.id, GAP | {"mm": 1.8}, ADA)
    steps_done(shop, visit, [Done(RodTurn(turns=0.25))], BO, done_count=0, before=read.id)
    assert in_order(shop, visit) == [2.0, ("rod", 0.25), 1.8]
    # And again between the two, at either side of what stands there now.
    do_adjustment(shop, visit.id, ROD | {"turns": -0.125}, BO, before=read.id)
    assert in_order(shop, visit) == [2.0, ("rod", 0.25), ("rod", -0.125), 1.8]
    take_reading(shop, visit.id, GAP | {"mm": 2.1}, BO, before=entries_of(shop, visit.id)[0].id)
    assert in_order(shop, visit)[0] == 2.1


def test_what_came_after_is_worked_out_again(shop, visit):
    """A quarter turn that straightens the neck lies between two readings: without it they contradict each other."""
    relief = {"quantity": "gap", "string": 6, "fret": 8, "held": [1, 17]}
    take_reading(shop, visit.id, relief | {"mm": 0.45}, ADA)
    after = take_reading(shop, visit.id, relief | {"mm": 0.25}, ADA)

    def learned() -> float:
        return next(one.value for one in solved_visit(shop, visit.id).plan.now.responses if "rod" in one.name)

    before = learned()
    do_adjustment(shop, visit.id, ROD | {"turns": 0.25}, ADA, before=after.id)
    service = service_of(shop, visit.id)
    assert [one.after for one in service.readings] == [0, 1]
    assert learned() != before  # the turn and what it did are known of each other now


def test_undo_and_redo_keep_the_true_place(shop, visit):
    first = take_reading(shop, visit.id, GAP | {"mm": 2.0}, ADA)
    late = do_adjustment(shop, visit.id, ROD, ADA, before=first.id)
    gone = took_back(shop, visit, late.id, BO)
    assert (gone.reason, in_order(shop, visit)) == (UNDONE, [2.0])
    back = took_back(shop, visit, gone.id, BO)
    assert (back.reason, in_order(shop, visit)) == (REDONE, [("rod", ROD["turns"]), 2.0])
    assert took_back(shop, visit, back.id, BO).reason == UNDONE


def test_what_cannot_have_been_is_refused_and_nothing_is_stored(shop, visit):
    first = take_reading(shop, visit.id, GAP, ADA)
    other = open_visit(shop, ADA, add_instrument(shop, ADA, example_service().instrument))
    for stored in (
        lambda: take_reading(shop, other.id, GAP, ADA, before=first.id),
        lambda: do_adjustment(shop, visit.id, ROD, ADA, before="nothing"),
        lambda: took_back(shop, other, first.id, ADA),
    ):
        with pytest.raises(NoSuchRecordError):
            stored()
    with pytest.raises(ServiceFileError):
        take_reading(shop, visit.id, GAP | {"string": 9}, ADA, before=first.id)
    assert len(entries_of(shop, visit.id)) == 1
    assert entries_of(shop, other.id) == ()


def test_the_pages_offer_what_it_was_before_and_say_that_it_was_entered_late(first_sheet: TestClient):
    shop = workshop_of(first_sheet).shop()
    (visit,) = shop.every(Visit)
    last = [one for one in entries_of(shop, visit.id) if one.kind == "reading"][-1]
    for page in ("plan", "readings"):
        assert "/visits/1/late" in first_sheet.get(f"/visits/1/{page}").text
    assert f'<option value="{last.id}">earlier, before:' in first_sheet.get("/visits/1/late").text
    rod = RodTurn(turns=0.125).model_dump_json(exclude_unset=True)
    sent = {"step:1": rod, "done:1": "yes", "done_count": "0", "key": "late", "before": last.id}
    plan = first_sheet.post("/visits/1/plan/done", data=sent)
    assert plan.url.path == "/visits/1/plan"
    assert "entered late" in plan.text
    service = service_of(shop, visit.id)
    assert [one.after for one in service.readings][-2:] == [0, 1]
    other = {"quantity": "gap", "string": "6", "fret": "12", "held": "1", "text": "1.91", "before": last.id}
    first_sheet.post("/visits/1/readings/other", data=other)
    assert [one.mm for one in service_of(shop, visit.id).readings if one.quantity == "gap"][-1] == 1.91
