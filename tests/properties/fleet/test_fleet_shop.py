"""A fleet over a shop: every instrument as last seen, planned with what its own earlier visits taught."""

import json
from pathlib import Path

import pyarrow.parquet as parquet
import pytest

from breakangle.fleet.items import Item, items_in_shop
from breakangle.fleet.jobs import certify, job_named, plan
from breakangle.fleet.run import run
from breakangle.model.service_file import service_text
from breakangle.services.history.learning import earlier_services
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.plan_json import plan_text
from breakangle.services.service_files.service import plan_service
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import open_visit
from breakangle.storage.records.records import InstrumentRecord, Visit
from fleet_fixtures.here import Here
from planning_cases import only, ordinary, service_reading
from shop_fixtures.people import ADA, GAP, ROD, later

pytest_plugins = ["shop_fixtures.shops"]


def test_the_last_visit_is_planned_with_the_earlier_ones_and_again_when_one_of_them_changes(
    shop, tmp_path: Path
):
    first = bring_in(shop, example_text().encode(), "a file", ADA).visit
    kept = shop.get(InstrumentRecord, first.instrument_id)
    do_adjustment(shop, first.id, ROD, later(minutes=1))
    take_reading(shop, first.id, GAP | {"mm": 1.2}, later(minutes=2))
    [alone] = items_in_shop(shop)
    last = open_visit(shop, later(days=400), kept, "again")
    take_reading(shop, last.id, GAP, later(days=400, minutes=1))
    [item] = items_in_shop(shop)
    every = items_in_shop(shop, every_visit=True)
    assert [one.name for one in every] == [alone.name, item.name]
    assert every[0].sha256 == alone.sha256
    assert not (alone.earlier or every[1].earlier)
    service, earlier = service_of(shop, last.id), earlier_services(shop, last)
    assert item.content == service_text(service).encode()
    assert item.earlier == tuple(service_text(one).encode() for one in earlier)

    outcome = run("plan", [item], tmp_path / "plans", Here())
    [row] = parquet.read_table(outcome.results).to_pylist()
    assert row["plan"] == plan_text(plan_service(service, earlier=earlier), "plan/2")
    take_reading(shop, first.id, GAP | {"string": 1, "mm": 1.1}, later(minutes=3))
    [changed] = items_in_shop(shop)
    assert changed.content == item.content
    assert changed.sha256 != item.sha256


def test_an_earlier_visit_with_another_number_of_frets_is_left_out(shop, tmp_path: Path):
    first = bring_in(shop, example_text().encode(), "a file", ADA).visit
    kept = shop.get(InstrumentRecord, first.instrument_id)
    take_reading(shop, first.id, GAP, later(minutes=1))
    last = open_visit(shop, later(days=400), kept, "again")
    take_reading(shop, last.id, GAP, later(days=400, minutes=1))
    there = shop.get(Visit, first.id)
    body = json.loads(there.body)
    body["instrument"]["frets"] -= 1
    shop.change(there, later(days=400, minutes=2), body=json.dumps(body))
    assert len(earlier_services(shop, last)) == 1
    [item] = items_in_shop(shop)
    assert not item.earlier
    outcome = run("plan", [item], tmp_path / "plans", Here())
    assert outcome.failed == 0
    [row] = parquet.read_table(outcome.results).to_pylist()
    assert row["plan"] == plan_text(plan_service(service_of(shop, last.id)), "plan/2")


def near_its_edge(earlier: bool) -> Item:
    """An action at 0.85 of its tolerance: left on a first visit, and brought nearer on a later one."""
    service = service_reading(ordinary("electric-guitar"), only("action", 0.85, 3))
    content = service_text(service).encode()
    return Item("guitar", "", content, earlier=[content] if earlier else [])


@pytest.mark.parametrize("earlier", [False, True])
def test_a_certificate_has_the_verdict_of_the_plan(earlier):
    item = near_its_edge(earlier)
    [row], [certificate] = plan.rows(item, {}), certify.rows(item, {"dated": "2026-11-30"})
    assert row["verdict"] == certificate["verdict"] == ("adjust" if earlier else "leave")
    assert [one["reason"] for one in row["steps"]] == certificate["steps"]


@pytest.mark.parametrize("name", ["figures", "predict", "buzz", "lowest"])
def test_every_job_counts_with_the_earlier_visits(name):
    """What was read before, too, is known better: some figure of every job is another."""
    job = job_named(name)
    assert job.rows(near_its_edge(True), {}) != job.rows(near_its_edge(False), {})
