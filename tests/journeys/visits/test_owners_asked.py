"""An owner typed in full who is here already: asked about, never joined silently; both engines."""

import re

import pytest
from starlette.testclient import TestClient

from breakangle.services.intake.owners import OwnerAskedError, alike
from breakangle.services.intake.take_in import take_in_new
from breakangle.services.visits.visits import add_owner
from breakangle.storage.records.records import InstrumentRecord, Owner, Visit
from breakangle.web.forms.take_in import new_form, visit_form
from shop_fixtures.people import ADA
from web_fixtures.opened import workshop_of

pytest_plugins = ["shop_fixtures.shops", "shop_fixtures.command_line", "web_fixtures.at_hand"]
SENT = {
    "kind": "electric-guitar", "name": "Rook", "scale_mm": "648", "frets": "22", "joint_fret": "17",
    "spread_nut_mm": "35", "spread_bridge_mm": "52", "board_radius_mm": "305", "gauge_1": ".010", "gauge_2": ".013",
    "gauge_3": ".017", "gauge_4": ".026", "gauge_5": ".036", "gauge_6": ".046",
}  # fmt: skip


@pytest.mark.parametrize("typed", ["Åse Lindqvill", "ase lindqvill", "Ase Lindkvill", "Lindqvill, Åse"])
def test_the_same_name_is_asked_about_and_nothing_is_stored(shop, typed):
    there = add_owner(shop, ADA, "Åse Lindqvill", "ase@example.org")
    add_owner(shop, ADA, "Milo Tarn")
    with pytest.raises(OwnerAskedError, match=r"ase@example\.org") as asked:
        take_in_new(shop, ADA, new_form(SENT | {"owner": typed}), visit_form(SENT))
    assert [one.id for one in asked.value.owners] == [there.id]
    assert (shop.every(Visit), shop.every(InstrumentRecord), len(shop.every(Owner))) == ((), (), 2)


def test_either_answer_is_followed(shop):
    there = add_owner(shop, ADA, "Åse Lindqvill")
    same, other = (
        shop.get(
            InstrumentRecord,
            take_in_new(
                shop,
                ADA,
                new_form(SENT | {"owner": "Ase Lindqvill", "owner_id": answer}),
                visit_form(SENT),
            ).instrument_id,
        )
        for answer in (there.id, "new")
    )
    assert same.owner_id == there.id
    assert other.owner_id not in (None, there.id)
    assert len(shop.every(Owner)) == 2


def test_an_unlike_name_is_a_new_owner_without_a_question(shop):
    add_owner(shop, ADA, "Åse Lindqvill")
    take_in_new(shop, ADA, new_form(SENT | {"owner": "Asta Lund"}), visit_form(SENT))
    assert [one.name for one in shop.every(Owner)] == ["Åse Lindqvill", "Asta Lund"]
    with shop.reading() as connection:
        assert alike(connection, " ") == ()


def test_the_page_asks_and_keeps_what_was_typed(bench: TestClient):
    shop = workshop_of(bench).shop()
    there = add_owner(shop, ADA, "Åse Lindqvill", "ase@example.org")
    sent = SENT | {"owner": "Ase Lindqvill", "complaint": "buzzes low down"}
    page = bench.post("/visits/new", data=sent)
    assert page.status_code == 422
    assert "Is Ase Lindqvill the same person as one who is here already?" in page.text
    assert 'value="buzzes low down"' in page.text
    choices = re.findall(r'name="owner_id" value="(\w+)" required', page.text)
    assert choices == [there.id, "new"]
    assert "checked" not in page.text[page.text.index("Who is it?") :].split("</fieldset>")[0]
    assert bench.post("/visits/new", data=sent | {"owner_id": there.id}).url.path == "/visits/1"
    assert len(shop.every(Owner)) == 1


def test_somebody_who_types_sees_an_owner_spelled_otherwise(bench: TestClient):
    add_owner(workshop_of(bench).shop(), ADA, "Åse Lindqvill", "ase@example.org")
    part = bench.get("/visits/new/owners", params={"owner": "Ase Lindkvill"}).text
    assert "the same person: Åse Lindqvill" in part
    assert "ase@example.org" in part


def test_the_command_line_asks_too(run, taken_in, tmp_path):
    assert taken_in == "1"
    file = str(tmp_path / "other.json")
    (tmp_path / "other.json").write_text(
        (tmp_path / "in.json").read_text(encoding="utf-8").replace('"name": "', '"name": "Other '),
        encoding="utf-8",
    )
    asked = run("take-in", file, "--owner", "Ase Holm", code=2)
    assert "the same person" in asked
    assert "Åse Holm" in asked
    assert "Sheet 2" in run("take-in", file, "--owner", "Ase Holm", "--whose", "new")


def test_same_joins_only_where_one_may_be_meant(shop):
    there = add_owner(shop, ADA, "Åse Lindqvill")
    sent = SENT | {"owner": "Ase Lindqvill", "owner_id": "same"}
    visit = take_in_new(shop, ADA, new_form(sent), visit_form(sent))
    assert shop.get(InstrumentRecord, visit.instrument_id).owner_id == there.id
    add_owner(shop, ADA, "Åse Lindkvill")
    with pytest.raises(OwnerAskedError):
        take_in_new(shop, ADA, new_form(sent), visit_form(sent))
