"""A visit that was handed back and is opened again has its instrument as it was put right since; on both engines."""

import json
from datetime import UTC, datetime

import pytest

from breakangle.model.instrument import Instrument
from breakangle.model.service_file import ServiceFileError
from breakangle.services.intake.corrected_instrument import correct_by_names
from breakangle.services.intake.take_in import take_in_again, take_in_new
from breakangle.services.intake.typed_arrival import VisitTyped
from breakangle.services.records.edit import bring_back, delete, undo_edit
from breakangle.services.service_files.example import example_service
from breakangle.services.visit_sheets.sheets import bring_back_visit
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.service_files import bring_in, visit_text
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp
from breakangle.web.forms.take_in import new_form, visit_form

pytest_plugins = ["shop_fixtures.shops"]
NEW = {
    "kind": "electric-guitar", "name": "Dunlin", "scale_mm": "648", "frets": "22", "joint_fret": "17",
    "spread_nut_mm": "35", "spread_bridge_mm": "52", "board_radius_mm": "305", "gauge_1": ".010", "gauge_2": ".013",
    "gauge_3": ".017", "gauge_4": ".026", "gauge_5": ".036", "gauge_6": ".046", "turns_left": "1",
}  # fmt: skip
SECOND = {"string": 2, "note": "B3", "make": "plain-steel", "diameter_mm": 0.36}
RIGHT = {"scale_mm": "628.65", "gauge_1": ".009", "gauge_2": "0.35"}


def on(day: int, who: str = "Ada") -> Stamp:
    return Stamp(who, datetime(2026, 3, day, 9, tzinfo=UTC))


@pytest.fixture
def visit(shop: Shop) -> Visit:
    """Return a visit at which the rod was turned and a string changed, handed back."""
    made = take_in_new(shop, on(1), new_form(NEW), visit_form(NEW))
    do_adjustment(shop, made.id, {"adjust": "rod", "turns": 0.25}, on(1))
    do_adjustment(shop, made.id, {"adjust": "restring", "strings": [SECOND]}, on(1))
    return move_visit(shop, shop.get(Visit, made.id), "handed back", on(2))


def of(shop: Shop, visit: Visit) -> InstrumentRecord:
    return shop.get(InstrumentRecord, visit.instrument_id)


def sizes(found: Instrument) -> tuple[float, float, float, float | None]:
    strings = found.in_order()
    return found.scale_mm, strings[0].diameter_mm, strings[1].diameter_mm, found.rod.turns_left


def test_a_visit_opened_again_has_its_instrument_as_it_was_put_right(shop, visit):
    correct_by_names(shop, visit.number, RIGHT | {"turns_left": "2"}, on(3))
    there = service_of(shop, visit.id)
    assert sizes(there.instrument_now()) == (648.0, 0.254, 0.36, 0.75)
    assert visit_text(shop, visit.id)
    again = move_visit(shop, shop.get(Visit, visit.id), "on the bench", on(4))
    service = service_of(shop, visit.id)
    assert (again.state, again.handed_back_at) == ("on the bench", None)
    assert again == shop.get(Visit, visit.id)
    assert service.instrument_now() == instrument_of(of(shop, visit))
    assert sizes(service.instrument_now()) == (628.65, 0.2286, 0.35, 2.0)
    # As it came in: the string that was taken off is what it was, the rod had a quarter more to go.
    assert sizes(service.instrument) == (628.65, 0.2286, 0.3302, 2.25)
    assert of(shop, visit).strings_changed_at == on(1).at


def test_what_other_visits_that_were_handed_back_say_stays(shop, visit):
    second = take_in_again(shop, on(3), visit.instrument_id, VisitTyped())
    second = move_visit(shop, second, "handed back", on(4))
    correct_by_names(shop, visit.number, RIGHT, on(5))
    move_visit(shop, second, "ready", on(6))
    assert sizes(service_of(shop, second.id).instrument)[:3] == (628.65, 0.2286, 0.35)
    assert shop.get(Visit, visit.id) == visit
    assert sizes(service_of(shop, visit.id).instrument_now())[:3] == (648.0, 0.254, 0.36)


def test_an_older_visit_opened_again_is_put_right_and_keeps_its_own_strings_and_turns(shop, visit):
    second = take_in_again(shop, on(3), visit.instrument_id, VisitTyped())
    do_adjustment(shop, second.id, {"adjust": "rod", "turns": 0.5}, on(3))
    correct_by_names(shop, visit.number, {"gauge_1": ".009"}, on(4))
    before = of(shop, visit)
    again = move_visit(shop, visit, "on the bench", on(5))
    assert sizes(service_of(shop, visit.id).instrument_now()) == (648.0, 0.2286, 0.36, 0.75)
    again = move_visit(shop, again, "handed back", on(6))
    thick = SECOND | {"diameter_mm": 0.4}
    do_adjustment(shop, second.id, {"adjust": "restring", "strings": [thick]}, on(7))
    correct_by_names(shop, visit.number, {"scale_mm": "628.65"}, on(8))
    again = move_visit(shop, again, "on the bench", on(9))
    assert sizes(service_of(shop, visit.id).instrument_now()) == (628.65, 0.2286, 0.36, 0.75)
    assert sizes(instrument_of(of(shop, visit))) == (628.65, 0.2286, 0.4, 0.25)
    # Both are open now: what is put right of a string is put right where that string was on.
    correct_by_names(shop, visit.number, {"gauge_2": "0.41", "gauge_3": "0.5", "turns_left": "3"}, on(10))
    assert sizes(service_of(shop, visit.id).instrument_now()) == (628.65, 0.2286, 0.36, 0.75)
    assert sizes(service_of(shop, second.id).instrument_now()) == (628.65, 0.2286, 0.41, 3.0)
    assert service_of(shop, visit.id).instrument.in_order()[2].diameter_mm == 0.5
    assert before.owner_id == of(shop, visit).owner_id


def test_a_visit_opened_again_by_undoing_or_by_bringing_it_back_is_put_right_too(shop, visit):
    correct_by_names(shop, visit.number, {"scale_mm": "628.65"}, on(3))
    undo_edit(shop, "visit", visit.id, on(4))
    assert shop.get(Visit, visit.id).state == "waiting"
    assert service_of(shop, visit.id).instrument.scale_mm == 628.65
    for scale_mm, back in (
        (640.0, lambda: bring_back(shop, "visit", visit.id, on(6))),
        (641.0, lambda: bring_back_visit(shop, visit.number, on(6))),
    ):
        number = take_in_again(shop, on(5), visit.instrument_id, VisitTyped()).number
        delete(shop, "visit", visit.id, on(5))
        correct_by_names(shop, number, {"scale_mm": str(scale_mm)}, on(5))
        back()
        assert service_of(shop, visit.id).instrument.scale_mm == scale_mm


def test_a_visit_whose_readings_cannot_be_of_the_instrument_stays_handed_back(shop):
    made = take_in_new(shop, on(1), new_form(NEW), visit_form(NEW))
    take_reading(shop, made.id, {"quantity": "gap", "string": 1, "fret": 22, "held": [1], "mm": 1.0}, on(1))
    visit = move_visit(shop, made, "handed back", on(2))
    correct_by_names(shop, 1, {"frets": "21"}, on(3))
    with pytest.raises(ServiceFileError, match=r"sheet 1.*fret"):
        move_visit(shop, visit, "on the bench", on(4))
    assert shop.get(Visit, visit.id) == visit


def test_where_nothing_was_put_right_a_visit_opened_again_is_as_it_was(shop):
    data = json.loads(example_service().model_dump_json(exclude_unset=True))
    data["instrument"]["rod"] = {"kind": "single", "turns_left": None}
    data["work"] = [{"adjust": "rod", "turns": 0.1}] * 3
    content = json.dumps(data).encode()
    visit = bring_in(shop, content, "a file", on(1)).visit
    visit = move_visit(shop, visit, "handed back", on(2))
    again = move_visit(shop, visit, "on the bench", on(3))
    assert (again.body, again.version) == (visit.body, visit.version + 1)
    assert not bring_in(shop, content, "a file", on(4)).new_visit


def test_a_visit_said_to_be_handed_back_twice_went_back_the_first_time(shop, visit):
    assert move_visit(shop, visit, "handed back", on(9)) == shop.get(Visit, visit.id) == visit
    assert visit.handed_back_at == on(2).at
