"""An instrument that was described wrongly is put right: record, open visit and next solve; old visits stay."""

import json
import re
from datetime import UTC, datetime

import numpy as np
import pytest
from starlette.testclient import TestClient

from breakangle.model.errors import CorrectInputError
from breakangle.services.history.learning import learned
from breakangle.services.intake.corrected_instrument import correct_instrument
from breakangle.services.intake.take_in import take_in_again, take_in_new
from breakangle.services.intake.typed_arrival import VisitTyped
from breakangle.services.overview.search import find
from breakangle.services.records.edit import delete, edit, undo_edit
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading, undo
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.entries import all_entries
from breakangle.storage.records.records import InstrumentRecord, Owner, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp
from breakangle.web.forms.instrument import instrument_form
from breakangle.web.forms.take_in import new_form, visit_form
from web_fixtures.opened import workshop_of

pytest_plugins = ["shop_fixtures.shops", "web_fixtures.at_hand"]
AT = Stamp("Ada", datetime(2026, 3, 2, 9, tzinfo=UTC))
LATER = Stamp("Ben", datetime(2026, 3, 3, 9, tzinfo=UTC))
NEW = {
    "kind": "electric-guitar", "name": "Dunlin", "owner": "Ida Marlow", "scale_mm": "648", "frets": "22",
    "joint_fret": "17", "spread_nut_mm": "35", "spread_bridge_mm": "52", "board_radius_mm": "305",
    "gauge_1": ".010", "gauge_2": ".013", "gauge_3": ".017", "gauge_4": ".026", "gauge_5": ".036",
    "gauge_6": ".046", "turns_left": "1", "post": "plain", "post_diameter_mm": "6 mm",
}  # fmt: skip


def was(**boxes: tuple[str, str]) -> dict[str, str]:
    """Return a form in which each box stood as the first of its pair says, and is now the second."""
    found = {name: now for name, (_, now) in boxes.items()}
    return found | {f"was_{name}": before for name, (before, _) in boxes.items()}


def record_of(shop: Shop, visit: Visit) -> InstrumentRecord:
    return shop.get(InstrumentRecord, visit.instrument_id)


def test_what_is_put_right_holds_at_the_record_and_the_open_visit_and_not_at_an_old_one(shop: Shop):
    old = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    move_visit(shop, old, "handed back", AT)
    here = take_in_again(shop, AT, old.instrument_id, VisitTyped())
    typed = was(
        scale_mm=("648.00 mm", "628.65 mm"), board_radius_mm=("305.00 mm", "flat"), name=("Dunlin", "Dunlin II"),
        rod=("single", "dual"), turns_left=("1", "2,5"), bridge=("individual", "one-piece"),
        post=("plain", "locking"), owner=("Ida Marlow", "Tom Reed"), frets=("22", "22"),
    )  # fmt: skip
    seen = record_of(shop, here).version
    made = correct_instrument(shop, old.instrument_id, instrument_form(typed), LATER, "mm", seen)
    now = service_of(shop, here.id).instrument
    assert now == instrument_of(made)
    assert (now.scale_mm, now.board_radius_mm, now.frets, now.name) == (628.65, None, 22, "Dunlin II")
    assert (now.rod.kind, now.rod.turns_left, now.bridge.kind) == ("dual", 2.5, "one-piece")
    assert (now.model_extra or {})["tuner_post"] == {"diameter_mm": 6.0, "kind": "locking"}
    assert made.owner_id is not None
    assert shop.get(Owner, made.owner_id).name == "Tom Reed"
    before = service_of(shop, old.id).instrument
    assert (before.scale_mm, before.rod.kind, before.name) == (648.0, "single", "Dunlin")
    with shop.reading() as connection:
        assert not all_entries(connection, here.id)  # a correction is no work


def test_strings_as_they_really_are_are_no_new_strings(shop: Shop):
    visit = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    typed = was(gauge_1=("0.254 mm", ".009"), note_6=("E2", "D2"), gauge_2=("0.330 mm", "0.330 mm"))
    made = correct_instrument(shop, visit.instrument_id, instrument_form(typed), LATER)
    strung = service_of(shop, visit.id).instrument_now().in_order()
    assert (strung[0].diameter_mm, strung[5].note) == (pytest.approx(0.2286), "D2")
    assert strung[1].diameter_mm == pytest.approx(0.013 * 25.4)
    assert made.strings_changed_at is None


def test_strings_that_went_on_at_the_visit_are_corrected_where_it_says_so(shop: Shop):
    visit = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    plain = {"string": 1, "note": "E4", "make": "plain-steel", "diameter_mm": 0.28}
    do_adjustment(shop, visit.id, {"adjust": "restring", "strings": [plain]}, AT)
    strings_at = record_of(shop, visit).strings_changed_at
    typed = was(gauge_1=("0.280 mm", "0.229 mm"), scale_mm=("648", "686 - 648"))
    made = correct_instrument(shop, visit.instrument_id, instrument_form(typed), LATER)
    service = service_of(shop, visit.id)
    first = service.instrument_now().in_order()[0]
    assert (first.diameter_mm, first.scale_mm) == (0.229, 648.0)
    assert service.instrument.in_order()[0].diameter_mm == pytest.approx(0.254)  # as it came in
    assert service.instrument.in_order()[0].scale_mm == 648.0
    assert service.instrument_now().in_order()[5].scale_mm == 686.0
    assert instrument_of(made).in_order() == service.instrument_now().in_order()
    assert (len(service.work), made.strings_changed_at) == (1, strings_at)


def test_what_cannot_be_is_refused_and_nothing_of_it_is_stored(shop: Shop):
    visit = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    take_reading(shop, visit.id, {"quantity": "gap", "string": 1, "fret": 20, "held": [1], "mm": 1.0}, AT)
    for typed, told in (
        (was(scale_mm=("648", "long")), "scale"),
        (was(frets=("22", "18")), "fret"),  # a gap was read over fret 20
        (was(name=("Dunlin", " ")), "no name"),
        (was(name=("Dunlin", "Dunlin")), "nothing is changed"),
    ):
        with (
            pytest.raises(CorrectInputError, match=told)
            if told != "fret"
            else pytest.raises(Exception, match=told)
        ):
            correct_instrument(shop, visit.instrument_id, instrument_form(typed), LATER)
    assert instrument_of(record_of(shop, visit)).frets == service_of(shop, visit.id).instrument.frets == 22


def test_who_saw_an_older_version_is_told_and_loses_nothing(shop: Shop):
    visit = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    seen = record_of(shop, visit).version
    correct_instrument(
        shop, visit.instrument_id, instrument_form(was(scale_mm=("648", "650"))), AT, "mm", seen
    )
    with pytest.raises(EditedMeanwhileError) as caught:
        correct_instrument(
            shop, visit.instrument_id, instrument_form(was(frets=("22", "24"))), LATER, "mm", seen
        )
    assert caught.value.yours == {"frets": "24"}
    assert instrument_of(record_of(shop, visit)).scale_mm == 650.0


def test_an_instrument_is_found_though_its_owner_is_deleted(shop: Shop):
    visit = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    owner_id = record_of(shop, visit).owner_id
    assert [one.more for one in find(shop, "Dunlin") if one.kind == "instrument"] == ["Ida Marlow"]
    delete(shop, "owner", str(owner_id), AT)
    found = [one for one in find(shop, "Dunlin") if one.kind == "instrument"]
    assert [(one.title, one.instrument_id) for one in found] == [("Dunlin", visit.instrument_id)]
    assert "Ida" not in found[0].more


# -- the form -----------------------------------------------------------------------------------------------


def boxes_of(text: str) -> dict[str, str]:
    """Return the form as a browser sends it when nothing is changed."""
    form = re.search(r'<details id="correct".*?</details>', text, re.DOTALL)
    assert form is not None
    found = dict(re.findall(r'<input[^>]* name="([^"]+)"[^>]* value="([^"]*)"', form[0]))
    for name, options in re.findall(r'<select[^>]* name="([^"]+)"[^>]*>(.*?)</select>', form[0], re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found[name] = chosen[1] if chosen else ""
    return found


def test_the_form_corrects_what_was_changed_on_it_and_shows_a_clash(bench: TestClient):
    assert bench.post("/visits/new", data=NEW | {"key": "k1"}).url.path == "/visits/1"
    shop = workshop_of(bench).shop()
    key = shop.every(InstrumentRecord)[0].id
    place = f"/instruments/{key}"
    boxes = boxes_of(bench.get(place).text)
    stored = json.loads(shop.get(InstrumentRecord, key).body)
    refused = bench.post(place, data=boxes)
    assert (refused.status_code, "Nothing is changed" in refused.text) == (422, True)
    sent = bench.post(place, data=boxes | {"scale_mm": "27 - 25.5 in", "gauge_6": ".052"})
    assert sent.status_code == 200
    assert "685.8 mm at string 6, in equal steps to 647.7 mm at string 1" in sent.text
    body = json.loads(shop.get(InstrumentRecord, key).body)
    assert body["strings"][5]["diameter_mm"] == pytest.approx(0.052 * 25.4)
    assert {
        name: one for name, one in body.items() if name not in ("strings", "scale_mm", "board_radius_mm")
    } == {
        name: one for name, one in stored.items() if name not in ("strings", "scale_mm", "board_radius_mm")
    }  # what was left alone is as it was
    late = bench.post(place, data=boxes | {"frets": "24"})
    assert late.status_code == 409
    assert "while you had it open" in late.text
    assert boxes_of(late.text)["frets"] == "24"
    assert "stands: 22" in late.text
    again = bench.post(place, data=boxes_of(late.text))
    assert again.status_code == 200
    assert json.loads(shop.get(InstrumentRecord, key).body)["frets"] == 24
    bare = bench.post(place, data=boxes_of(again.text) | {"post": "", "post_diameter_mm": "", "owner": ""})
    assert bare.status_code == 200
    assert "tuner_post" not in json.loads(shop.get(InstrumentRecord, key).body)
    assert shop.get(InstrumentRecord, key).owner_id is None


def test_the_swap_page_says_first_what_speaks_against_it_and_how_a_bare_size_was_read(
    bench: TestClient,
):
    assert bench.post("/visits/new", data=NEW | {"key": "k2"}).url.path == "/visits/1"
    told = bench.get("/visits/1/strings/swap", params={"diameter-1": ".012", "note-1": "B4"})
    assert told.status_code == 200
    text = told.text
    assert "String 1: .012 is taken as 0.305 mm." in text
    assert text.index("Not this string at this note") < text.index("Pull on the neck")
    assert "No steps are given" in text
    assert "The plan it leads to" not in text


def test_an_old_visit_taken_up_again_does_not_bring_back_what_was_put_right_since(shop: Shop):
    old = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    turned = do_adjustment(shop, old.id, {"adjust": "rod", "turns": 0.25}, AT)
    plain = {"string": 2, "note": "B3", "make": "plain-steel", "diameter_mm": 0.36}
    strung = do_adjustment(shop, old.id, {"adjust": "restring", "strings": [plain]}, AT)
    move_visit(shop, old, "handed back", AT)
    typed = was(scale_mm=("648", "628.65"), gauge_1=("0.254 mm", ".009"), turns_left=("0.75", "2"))
    correct_instrument(shop, old.instrument_id, instrument_form(typed), LATER)
    undo(shop, turned.id, LATER)
    now = instrument_of(record_of(shop, old))
    assert (now.scale_mm, now.in_order()[0].diameter_mm) == (628.65, pytest.approx(0.2286))
    assert now.rod.turns_left == 2.25
    assert record_of(shop, old).strings_changed_at == AT.at
    undo(shop, strung.id, LATER)
    now = instrument_of(record_of(shop, old))
    assert now.in_order()[1].diameter_mm == pytest.approx(0.013 * 25.4)
    assert (now.scale_mm, now.in_order()[0].diameter_mm) == (628.65, pytest.approx(0.2286))
    assert record_of(shop, old).strings_changed_at is None


def test_turns_of_the_rod_made_at_the_visit_are_not_counted_again_by_a_correction(shop: Shop):
    visit = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    do_adjustment(shop, visit.id, {"adjust": "rod", "turns": 0.25}, AT)
    for scale_mm in ("628.65", "630"):
        made = correct_instrument(
            shop, visit.instrument_id, instrument_form(was(scale_mm=("648", scale_mm))), LATER
        )
        service = service_of(shop, visit.id)
        assert (service.instrument.rod.turns_left, service.instrument_now().rod.turns_left) == (1.0, 0.75)
        assert instrument_of(made).rod.turns_left == 0.75
    typed = was(turns_left=("0.75", "2"))  # counted on the bench, after the turn
    made = correct_instrument(shop, visit.instrument_id, instrument_form(typed), LATER)
    service = service_of(shop, visit.id)
    assert (service.instrument.rod.turns_left, service.instrument_now().rod.turns_left) == (2.25, 2.0)
    assert instrument_of(made).rod.turns_left == 2.0


def test_what_the_neck_has_taught_is_learned_anew_of_the_instrument_as_it_is(shop: Shop):
    visit = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    gap = {"quantity": "gap", "string": 6, "fret": 8, "held": [1, 17], "mm": 0.5}
    take_reading(shop, visit.id, gap, AT)
    do_adjustment(shop, visit.id, {"adjust": "rod", "turns": 0.25}, AT)
    take_reading(shop, visit.id, gap | {"mm": 0.4}, AT)
    before = learned(shop, visit.instrument_id)
    correct_instrument(shop, visit.instrument_id, instrument_form(was(joint_fret=("17", "12"))), LATER)
    after = learned(shop, visit.instrument_id)
    assert before is not None and after is not None
    assert not np.allclose(before.mean, after.mean, rtol=1e-6)


def test_a_correction_is_not_undone_at_the_record_alone(shop: Shop):
    visit = take_in_new(shop, AT, new_form(NEW), visit_form(NEW))
    correct_instrument(shop, visit.instrument_id, instrument_form(was(scale_mm=("648", "700"))), LATER)
    with pytest.raises(CorrectInputError, match="no edit"):
        undo_edit(shop, "instrument", visit.instrument_id, LATER)
    assert instrument_of(record_of(shop, visit)).scale_mm == 700.0
    edit(shop, "instrument", visit.instrument_id, {"notes": "a case came with it"}, LATER, None)
    undo_edit(shop, "instrument", visit.instrument_id, LATER)
    assert (record_of(shop, visit).notes, instrument_of(record_of(shop, visit)).scale_mm) == ("", 700.0)


def test_the_condition_of_the_frets_is_told_by_a_box_and_taken_away_by_an_empty_one(first_sheet: TestClient):
    shop = workshop_of(first_sheet).shop()
    (record,) = shop.every(InstrumentRecord)
    page = first_sheet.get(f"/instruments/{record.id}").text
    assert 'name="fret_condition"' in page and "worn, with flats or grooves" in page
    for before, now in (("", "worn"), ("worn", "")):
        sent = was(fret_condition=(before, now))
        assert first_sheet.post(f"/instruments/{record.id}", data=sent).status_code == 200
        instrument = instrument_of(shop.get(InstrumentRecord, record.id))
        assert instrument.fret_condition == (now or "unknown")
        open_visit = shop.every(Visit, number=1)[0]
        assert service_of(shop, open_visit.id).instrument.fret_condition == (now or "unknown")
