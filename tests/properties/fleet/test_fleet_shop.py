"""A fleet over a shop: every instrument as last seen, planned with what its own earlier visits taught."""

from pathlib import Path

import pyarrow.parquet as parquet

from breakangle.fleet.items import items_in_shop
from breakangle.fleet.run import run
from breakangle.model.service_file import service_text
from breakangle.services.history.learning import earlier_services
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.plan_json import plan_text
from breakangle.services.service_files.service import plan_service
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import open_visit
from breakangle.storage.records.records import InstrumentRecord
from fleet_fixtures.here import Here
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
