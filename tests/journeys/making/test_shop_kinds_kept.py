"""A shop's kinds as they are kept: imported, put back late, shadowing one of the program's, typed by two at once."""

import json
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from starlette.testclient import TestClient

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.service_file import ServiceFileError, service_text
from breakangle.reference.families import families, family, family_of, family_with
from breakangle.services.intake.kept_kinds import (
    add_kind,
    change_kind,
    kinds_off_list,
    put_back_kind,
    remove_kind,
)
from breakangle.services.records.import_checks import RowsRead
from breakangle.services.service_files.example import empty_service, usual_instrument
from breakangle.services.service_files.kinds.boxes import boxes_of, kind_typed
from breakangle.services.service_files.kinds.copied import table_of, table_of_instrument
from breakangle.services.service_files.service import plan_service, service_from
from breakangle.services.visits.visits import add_instrument
from breakangle.services.workshop.kinds import NAME, kind_here, kinds_offered, kinds_on_list, shop_kind
from breakangle.storage.records.records import InstrumentRecord, Setting
from breakangle.storage.records.store import add_record
from journeys.making.test_shop_kinds import CITTERN, cittern
from shop_fixtures.people import ADA
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand", "shop_fixtures.shops"]


def test_its_own_table_wins_where_the_program_has_such_a_kind(shop):
    """As where a later release has learned of the kind: files are still read, and the shop's own is what is chosen."""
    service = empty_service(family_with("mandolin", cittern()), "Ouzel")
    read = service_from(service_text(service).encode(), "here")
    assert family_of(read.instrument).target("medium").action_low_mm == 2.1
    assert "borrowed" not in " ".join(plan_service(read).notes)
    with shop.writing() as connection:
        add_record(
            connection, Setting, ADA, NAME + "mandolin", value=cittern().model_dump_json(exclude_none=True)
        )
    assert kind_here(shop, "mandolin").made == cittern()
    assert sorted(kinds_on_list(shop)) == sorted(families())
    assert [one.made for one in kinds_offered(shop) if one.kind == "mandolin"] == [cittern()]


@pytest.mark.parametrize("key", ["../lists/owner?", "a/b", "new", "Cittern", "a--b", "-a"])
def test_a_key_that_is_no_part_of_an_address_is_refused(key):
    data = json.loads(service_text(empty_service(family_with("cittern", cittern()), "Ouzel")))
    data["instrument"]["kind"] = key
    with pytest.raises(ServiceFileError, match="beside a kind_table it must be"):
        service_from(json.dumps(data).encode(), "here")


@pytest.mark.parametrize(
    ("key", "change"),
    [
        ("cittern", lambda row: None),
        ("new", lambda row: None),
        ("..", lambda row: None),
        ("cittern", lambda row: row["stringing"]["rows"][0].update(make="quokka")),
        ("cittern", lambda row: row["shape"].update(post="quokka")),
    ],
    ids=["sound", "new", "dots", "make", "post"],
)
def test_a_kind_that_comes_in_is_read_as_a_file_is(key, change, request):
    row = json.loads(cittern().model_dump_json(exclude_none=True))
    change(row)
    kept = {"id": NAME + key, "value": json.dumps(row)}
    if request.node.callspec.id == "sound":
        RowsRead("here").row("setting", kept)
        return
    with pytest.raises(ChooseAnotherFileError):
        RowsRead("here").row("setting", kept)


def test_it_is_put_back_however_long_ago_it_was_taken_off(shop):
    found = add_kind(shop, ADA, cittern())
    remove_kind(shop, ADA, found.key)
    late = replace(ADA, at=ADA.at + timedelta(days=31))
    assert put_back_kind(shop, late, found.key).table == found.table
    assert put_back_kind(shop, late, found.key).table == found.table  # pressed twice


def test_only_kinds_that_instruments_carry_are_off_the_list(shop):
    add_instrument(shop, ADA, usual_instrument(family("mandolin"), "Wren"))
    for name in ("Ouzel", "Dipper"):
        add_instrument(shop, ADA, usual_instrument(family_with("cittern", cittern()), name))
    assert kinds_off_list(shop) == (("cittern", cittern()),)
    assert add_kind(shop, ADA, cittern().model_copy(update={"words": "Cittern"})).key == "cittern-2"


def test_a_kind_of_an_instrument_has_its_bridge_and_rod_and_a_key_without_its_name(shop):
    made = usual_instrument(family("mandolin"), "Kim Lee " + "x" * 90)
    without = made.model_copy(update={"rod": made.rod.model_copy(update={"kind": "none"})})
    screwed = without.model_copy(update={"bridge": usual_instrument(family("electric-guitar"), "x").bridge})
    table = table_of_instrument(screwed, family("mandolin"))
    assert (table.rod, table.bridge.kind) == (None, screwed.bridge.kind)
    assert table.bridge.height_mm_per_turn == screwed.bridge.height_mm_per_turn
    assert len(table.words) == 80
    record = add_instrument(shop, ADA, screwed)
    found = add_kind(shop, ADA, table, record.id)
    assert found.key == "mandolin-2"
    assert shop.get(InstrumentRecord, record.id).kind == "mandolin-2"


def test_what_a_browser_sends_back_unchanged_changes_nothing():
    """A browser ends the lines of a box with CR LF."""
    table = table_of(family("mandolin"))
    boxes = boxes_of(table, "in")
    sent = boxes | {"strings": boxes["strings"].replace("\n", "\r\n")}
    assert kind_typed(table, sent, "in").stringing == kind_typed(table, {}, "in").stringing


def test_who_saves_second_sees_what_the_first_made_of_it(bench: TestClient):
    bench.post("/shop/kinds/new", data={"copy": "mandolin"} | CITTERN)
    seen = bench.get("/shop/kinds/cittern-ten-strings").text
    version = re.search(r'name="seen" value="(\d+)"', seen).group(1)
    here = workshop_of(bench).shop()
    now = shop_kind(here, "cittern-ten-strings")
    change_kind(here, ADA, now.key, kind_typed(now.table, {"medium_action_low_mm": "2.3"}), now.version)
    typed = {**CITTERN, "words": "Cittern", "medium_action_low_mm": "2.1 mm", "seen": version}
    second = bench.post("/shop/kinds/cittern-ten-strings", data=typed)
    assert second.status_code == 409
    assert 'value="Cittern"' in second.text
    assert "There now: <strong>2.3 mm</strong>" in second.text
    assert "There now: <strong>Cittern, ten strings</strong>" in second.text
    assert shop_kind(here, "cittern-ten-strings").table.targets.medium.action_low_mm == 2.3


def test_a_kind_copied_from_one_that_nobody_knows_here_is_still_listed(bench: TestClient):
    foreign = cittern().model_copy(update={"copied_from": "quokka"})
    add_kind(workshop_of(bench).shop(), ADA, foreign)
    told = bench.get("/shop/kinds").text
    assert "Cittern, ten strings" in told
    assert "quokka" not in told


def test_from_an_instrument_in_the_app(first_sheet: TestClient):
    key = re.search(r"/instruments/(\w{20})", first_sheet.get("/visits/1").text).group(1)
    assert "electric guitar" in first_sheet.get(f"/instruments/{key}").text.casefold()
    form = first_sheet.get("/shop/kinds/new", params={"instrument": key}).text
    assert "which becomes the first of this kind" in form
    done = first_sheet.post("/shop/kinds/new", data={"instrument": key, "words": "Heron, bolt-on"})
    assert done.url.path == f"/instruments/{key}"
    assert "Heron, bolt-on" in done.text
    assert first_sheet.get("/visits/1/plan").status_code == 200
