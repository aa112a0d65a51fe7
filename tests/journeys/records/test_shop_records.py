"""Owners, instruments, visits and their entries, on both engines: versions, undo, deletion, search, numbers."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from breakangle.model.errors import BreakangleError, CorrectInputError
from breakangle.model.service_file import ServiceFileError
from breakangle.services.service_files.example import example_service
from breakangle.services.visits.entries import correct, do_adjustment, service_of, take_reading, undo
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.visits import (
    add_instrument,
    add_owner,
    history,
    instrument_of,
    open_visit,
    visit_numbered,
)
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.prices import set_setting, setting
from breakangle.storage.records.entries import entries_of, standing
from breakangle.storage.records.records import Gauge, InstrumentRecord, Owner, Visit
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.storage.schema.stamp import ID_LENGTH, Stamp, new_id
from breakangle.storage.search.search import search
from shop_fixtures.people import ADA, BO, GAP, ROD, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def visit(shop) -> Visit:
    owner = add_owner(shop, ADA, "Åse Holm", "ase@example.org")
    record = add_instrument(shop, ADA, example_service().instrument, owner, "inherited")
    return open_visit(shop, ADA, record, "buzzes low down", 20.0, 45.0)


def test_everything_says_who_and_when_and_with_which_gauge(shop, visit):
    gauge = shop.add(Gauge, ADA, name="feelers", quantity="gap", spread=0.02, notes="")
    entry = take_reading(shop, visit.id, GAP, BO, gauge.id)
    (kept,) = entries_of(shop, visit.id)
    assert kept == entry
    assert (kept.taken_by, kept.taken_at, kept.gauge_id) == ("Bo", BO.at, gauge.id)
    assert (visit.created_by, visit.opened_at, visit.state) == ("Ada", ADA.at, "waiting")
    with pytest.raises(NoSuchRecordError, match="gauge nowhere is not in this shop"):
        take_reading(shop, visit.id, GAP, BO, "nowhere")


def test_a_reading_is_superseded_with_a_reason_and_the_old_one_is_kept(shop, visit):
    old = take_reading(shop, visit.id, GAP, ADA)
    do_adjustment(shop, visit.id, ROD, ADA)
    new = correct(shop, old.id, GAP | {"mm": 1.6}, "the gauge was upside down", BO)
    assert (new.place, new.supersedes, new.taken_by) == (old.place, old.id, "Bo")
    assert old in entries_of(shop, visit.id)
    (reading,) = service_of(shop, visit.id).readings
    assert (reading.mm, reading.after) == (1.6, 0)
    with pytest.raises(CorrectInputError, match="no reason is given"):
        correct(shop, new.id, GAP, " ", BO)


def test_undo_brings_back_what_stood_and_withdraws_what_was_new(shop, visit):
    old = take_reading(shop, visit.id, GAP, ADA)
    new = correct(shop, old.id, GAP | {"mm": 1.6}, "misread", ADA)
    again = undo(shop, new.id, BO)
    assert service_of(shop, visit.id).readings[0].mm == 1.8
    undo(shop, undo(shop, again.id, BO).id, BO)
    assert service_of(shop, visit.id).readings[0].mm == 1.8
    turn = do_adjustment(shop, visit.id, ROD, ADA)
    undo(shop, turn.id, ADA)
    assert service_of(shop, visit.id).work == ()
    assert len(entries_of(shop, visit.id)) == 7


def test_new_strings_go_to_the_instrument_and_undone_they_leave_it(shop, visit):
    strings = [one.model_dump(exclude_unset=True) for one in example_service().instrument.strings]
    thicker = [one | {"diameter_mm": one["diameter_mm"] * 1.1} for one in strings]
    done = do_adjustment(shop, visit.id, {"adjust": "restring", "strings": thicker}, later(days=1))
    strung = shop.get(InstrumentRecord, visit.instrument_id)
    assert strung.strings_changed_at == later(days=1).at
    assert instrument_of(strung).in_order()[0].diameter_mm == pytest.approx(0.254 * 1.1)
    undo(shop, done.id, BO)
    assert instrument_of(shop.get(InstrumentRecord, visit.instrument_id)).in_order()[0].diameter_mm == 0.254


def test_two_who_correct_one_reading_both_see_both(shop, visit):
    old = take_reading(shop, visit.id, GAP, ADA)
    correct(shop, old.id, GAP | {"mm": 1.6}, "misread", ADA)
    with pytest.raises(EditedMeanwhileError, match="changed by Ada while you had it open") as both:
        correct(shop, old.id, GAP | {"mm": 1.7}, "misread", BO)
    assert '"mm":1.6' in both.value.theirs.body
    assert '"mm":1.7' in both.value.yours
    assert service_of(shop, visit.id).readings[0].mm == 1.6


def test_two_who_edit_one_sheet_both_see_both(shop, visit):
    first = shop.change(visit, ADA, notes="fret 9 is high")
    with pytest.raises(EditedMeanwhileError) as both:
        shop.change(visit, BO, notes="worn frets")
    assert (both.value.theirs.notes, both.value.yours) == ("fret 9 is high", {"notes": "worn frets"})
    chosen = shop.change(first, BO, notes="fret 9 is high; worn frets")
    assert [one["notes"] for one in shop.earlier(chosen)] == ["", "fret 9 is high"]
    assert shop.undo(chosen, ADA).notes == "fret 9 is high"


def test_the_database_itself_refuses_to_change_a_reading(shop, visit):
    from sqlalchemy import text
    from sqlalchemy.exc import DBAPIError

    take_reading(shop, visit.id, GAP, ADA)
    with pytest.raises(DBAPIError, match="never changed, only superseded"), shop.writing() as connection:
        connection.execute(text("UPDATE entry SET body = '{}'"))


def test_a_wrong_reading_is_refused_with_its_place_and_nothing_is_stored(shop, visit):
    with pytest.raises(ServiceFileError, match="a string from 1 to 6"):
        take_reading(shop, visit.id, GAP | {"string": 9}, ADA)
    with pytest.raises(ServiceFileError):
        do_adjustment(shop, visit.id, {"adjust": "rod", "turns": float("nan")}, ADA)
    assert entries_of(shop, visit.id) == ()


def test_a_deleted_thing_comes_back_for_thirty_days(shop, visit):
    gone = shop.delete(visit, ADA)
    assert shop.every(Visit) == ()
    with pytest.raises(NoSuchRecordError, match="is deleted"):
        take_reading(shop, visit.id, GAP, ADA)
    assert _found(shop, "buzzes") == set()
    back = shop.restore(Visit, visit.id, later(days=29.9))
    assert (back.deleted_at, back.version) == (None, gone.version + 1)
    assert _found(shop, "buzzes") == {visit.id}
    shop.delete(back, ADA)
    with pytest.raises(CorrectInputError, match="31 days ago"):
        shop.restore(Visit, visit.id, later(days=31))


def _found(shop, words: str) -> set[str]:
    with shop.reading() as connection:
        return {one.record_id for one in search(connection, words)}


def test_search_finds_owner_instrument_and_notes_by_beginnings_without_accents(shop, visit):
    (owner,) = shop.every(Owner)
    assert _found(shop, "ase hol") == {owner.id}
    assert _found(shop, "ÅSE") == {owner.id}
    assert _found(shop, "inherited") == {visit.instrument_id}
    assert _found(shop, "low buzz") == {visit.id}
    shop.change(visit, ADA, complaint="rattles")
    assert _found(shop, "buzz") == set()
    assert _found(shop, 'rat" OR *') == set()
    assert _found(shop, "rattles") == {visit.id}
    assert _found(shop, " ' \" * ") == set()


def test_states_of_work(shop, visit):
    for state in ("on the bench", "settling", "ready", "handed back"):
        visit = move_visit(shop, visit, state, later(days=2))
    assert (visit.state, visit.handed_back_at) == ("handed back", later(days=2).at)
    with pytest.raises(CorrectInputError, match="one of waiting, on the bench"):
        move_visit(shop, visit, "lost", ADA)


def test_sheets_are_numbered_without_gaps_even_where_storing_failed(shop, visit):
    record = shop.get(InstrumentRecord, visit.instrument_id)
    with pytest.raises(ServiceFileError):
        open_visit(shop, ADA, record, humidity_percent=400.0)
    with pytest.raises(CorrectInputError, match="cannot be stored"):
        open_visit(shop, ADA, record, complaint="a\0b")

    def one(minutes: int) -> int:
        return open_visit(shop, later(minutes=minutes), record).number

    with ThreadPoolExecutor(8) as pool:
        numbers = list(pool.map(one, range(16)))
    assert sorted(numbers) == list(range(2, 18))
    assert visit_numbered(shop, 17).number == 17
    assert len(history(shop, record.id)) == 17


def test_many_writers_of_one_visit_lose_no_reading(shop, visit):
    def one(count: int) -> str:
        return take_reading(shop, visit.id, GAP | {"mm": 1.0 + count / 1000}, later(minutes=count)).id

    with ThreadPoolExecutor(16) as pool:
        taken = list(pool.map(one, range(64)))
    kept = standing(entries_of(shop, visit.id))
    assert {entry.id for entry in kept} == set(taken)
    assert [entry.place for entry in kept] == list(range(1, 65))


def test_many_who_first_make_one_setting_are_told_and_one_of_them_made_it(shop):
    def one(percent: int) -> str | None:
        try:
            return set_setting(shop, "tax_percent", str(percent), ADA).value
        except BreakangleError as told:
            assert "\n" not in str(told)
            return None

    with ThreadPoolExecutor(8) as pool:
        made = [value for value in pool.map(one, range(8)) if value is not None]
    assert setting(shop, "tax_percent") in made


def test_a_nameless_hand_and_a_time_of_nowhere_are_refused():
    with pytest.raises(CorrectInputError, match="who made it"):
        Stamp(" ", ADA.at)
    with pytest.raises(CorrectInputError, match="no time zone"):
        Stamp("Ada", ADA.at.replace(tzinfo=None))


def test_names_of_records_sort_by_time():
    names = [new_id(later(minutes=one).at) for one in range(50)]
    assert sorted(names) == names
    assert {len(one) for one in names} == {ID_LENGTH}


def test_an_open_shop_is_found_again_as_it_was(tmp_path):
    shop = shop_at(tmp_path / "new" / "folder")
    owner = add_owner(shop, ADA, "Ada")
    shop.close()
    again = shop_at(tmp_path / "new" / "folder")
    assert again.every(Owner) == (owner,)
    again.close()


def test_search_finds_a_visit_by_the_work_that_stands_not_by_what_was_undone(shop, visit):
    shop.change(visit, ADA, complaint="")
    undone = do_adjustment(shop, visit.id, {"adjust": "tune"}, ADA)
    assert _found(shop, "tune") == {visit.id}
    undo(shop, undone.id, ADA)
    assert _found(shop, "tune") == set()
    wrong = do_adjustment(shop, visit.id, {"adjust": "tune"}, ADA)
    correct(shop, wrong.id, ROD, "it was the rod", ADA)
    assert (_found(shop, "tune"), _found(shop, "rod")) == (set(), {visit.id})
