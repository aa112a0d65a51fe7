"""Two who do the same at one moment: one is stored, the other is told; on both engines."""

import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest

from breakangle.model.errors import BreakangleError, CorrectInputError
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.services.intake.take_in import take_in_again
from breakangle.services.listening.live import LiveListening
from breakangle.services.listening.notes import Note
from breakangle.services.plans.done import Done, steps_done
from breakangle.services.readings.typed_readings import keep_typed, placed
from breakangle.services.service_files.example import example_service, example_text
from breakangle.services.strings.request import put_on_asked
from breakangle.services.strings.shelf import add_stock
from breakangle.services.visit_sheets.sheets import take_in
from breakangle.services.visits.entries import service_of, undo
from breakangle.services.visits.reading_places import Place
from breakangle.services.visits.service_files import Brought, bring_in
from breakangle.services.visits.used_parts import used_at
from breakangle.services.visits.visits import open_visit
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import InstrumentRecord, Owner, Stock, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp
from breakangle.web.forms.strings import strings_form
from breakangle.web.forms.take_in import visit_form
from shop_fixtures.people import ADA, BO, later

pytest_plugins = ["shop_fixtures.shops"]
ROUNDS = 5
BARE = example_service().model_copy(update={"readings": ()}).model_dump_json(exclude_unset=True).encode()


def take_in_as_a_person_does(shop: Shop, content: bytes, source: str, stamp: Stamp) -> Brought:
    # An owner of that name who is here already is asked about, and the person says that it is the same one.
    here = any(owner.name == "Ida Marlow" for owner in shop.every(Owner))
    return take_in(shop, stamp, content, source, "Ida Marlow", "buzzes", "same" if here else "")[0]


@pytest.fixture
def visit(shop) -> Visit:
    """Return a visit at which nothing was read or done yet."""
    return bring_in(shop, BARE, "a file", ADA).visit


def at_once(*calls: Callable[[], Any]) -> list[Any]:
    """Return what each gave or how it was refused, all begun at one moment."""
    ready = Barrier(len(calls))

    def one(call: Callable[[], Any]) -> Any:
        ready.wait()
        try:
            return call()
        except BreakangleError as refused:
            return refused

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(one, calls))


def refused(told: list[Any]) -> list[Any]:
    return [one for one in told if isinstance(one, BreakangleError)]


def test_a_step_that_two_make_at_one_moment_is_stored_once(shop, visit):
    turn = RodTurn(turns=0.25)
    for done in range(ROUNDS):
        told = at_once(
            *(
                lambda who=who, done=done: steps_done(
                    shop, visit, [Done(turn)], who, done_count=done, sent_key=f"{who.who}-{done}"
                )
                for who in (ADA, BO)
            )
        )
        assert len(service_of(shop, visit.id).work) == done + 1
        (clash,) = refused(told)
        assert isinstance(clash, EditedMeanwhileError)
        assert (json.loads(clash.theirs.body), clash.yours) == ({"adjust": "rod", "turns": 0.25}, turn)


def test_a_step_sent_again_with_its_key_is_answered_as_before_whatever_was_done_since(shop, visit):
    first = steps_done(shop, visit, [Done(RodTurn(turns=0.25))], ADA, done_count=0, sent_key="a")
    steps_done(shop, visit, [Done(RodTurn(turns=-0.125))], BO, done_count=1, sent_key="b")
    assert steps_done(shop, visit, [Done(RodTurn(turns=0.25))], ADA, done_count=0, sent_key="a") == first
    with pytest.raises(EditedMeanwhileError):  # the same step of another form is another one
        steps_done(shop, visit, [Done(RodTurn(turns=-0.125))], ADA, done_count=1, sent_key="c")
    assert len(service_of(shop, visit.id).work) == 2


def test_the_last_step_is_taken_back_once_where_two_take_it_back_at_one_moment(shop, visit):
    for done in range(4):
        steps_done(shop, visit, [Done(RodTurn(turns=0.125))], ADA, done_count=done)
    for left in (3, 2, 1):
        last = entries_of(shop, visit.id)[left].id
        told = at_once(*(lambda who=who, last=last: undo(shop, last, who) for who in (ADA, BO)))
        assert len(refused(told)) == 1
        assert len(service_of(shop, visit.id).work) == left


def test_a_box_that_two_fill_at_one_moment_holds_one_reading_and_the_other_is_told(shop, visit):
    for fret in range(2, 2 + ROUNDS):
        place = Place("gap", 3, fret, (1, 17))
        told = at_once(
            *(
                lambda who=who, text=text, place=place: keep_typed(
                    shop, visit, place, text, who, key=f"{who.who}-{place.key}"
                )
                for who, text in ((ADA, "0.20"), (BO, "0.24"))
            )
        )
        here = [entry for entry, one, _ in placed(shop, visit.id) if one == place]
        assert len(here) == 1
        (clash,) = refused(told)
        assert isinstance(clash, EditedMeanwhileError)
        assert (clash.theirs, clash.yours["mm"]) == (here[0], 0.24 if here[0].taken_by == "Ada" else 0.20)


def test_a_reading_that_two_take_again_at_one_moment_is_superseded_once(shop, visit):
    place = Place("gap", 3, 9, (1, 17))
    seen = keep_typed(shop, visit, place, "0.20", ADA).entry.id
    told = at_once(
        lambda: keep_typed(shop, visit, place, "0.22", ADA, seen=seen),
        lambda: keep_typed(shop, visit, place, "", BO, seen=seen),
    )
    here = [entry for entry, one, _ in placed(shop, visit.id) if one == place]
    assert [json.loads(one.body)["mm"] for one in here] == [0.22]
    # Ada first: what Bo saw does not stand any more. Bo first: the box was empty when Ada's reading came.
    assert (here[0].supersedes is None) == (not refused(told))


def test_a_note_that_two_browsers_hear_at_one_moment_stands_once(shop, visit):
    ears = [LiveListening(shop, visit.id, 44_100, "open") for _ in range(2)]
    for string, hz in {6: 82.0, 5: 110.0, 4: 147.0, 3: 196.0, 2: 247.0}.items():
        note = Note(string, 0)
        told = at_once(
            *(
                lambda ear=ear, note=note, hz=hz, at=at: ear._entry(
                    note, hz + at / 10, 0.3, later(minutes=at)
                )
                for at, ear in enumerate(ears)
            )
        )
        assert not refused(told)
        standing = [one for one in service_of(shop, visit.id).readings if one.string == string]
        assert len(standing) == 1


def test_the_last_pack_goes_on_one_instrument_and_nothing_is_stored_of_the_other(shop, visit):
    record = shop.get(InstrumentRecord, visit.instrument_id)
    for number in range(ROUNDS):
        pack = add_stock(shop, ADA, f"set {number}", 1)
        visits = [open_visit(shop, ADA, record) for _ in range(2)]
        typed = strings_form({"every": "yes", "stock": pack.id})
        told = at_once(
            *(
                lambda one=one, typed=typed: put_on_asked(
                    shop, one, service_of(shop, one.id).instrument_now(), typed, BO
                )
                for one in visits
            )
        )
        work = [len(service_of(shop, one.id).work) for one in visits]
        used = [len(used_at(shop, one.id)) for one in visits]
        assert sorted(work) == [0, 1]
        assert used == work
        assert [type(one) for one in refused(told)] == [CorrectInputError]
        assert shop.get(Stock, pack.id).held_count == 0


def test_strings_are_not_stored_where_the_shelf_has_none(shop, visit):
    now = service_of(shop, visit.id).instrument_now()
    pack = add_stock(shop, ADA, "set", 0)
    with pytest.raises(CorrectInputError, match="0 are there"):
        put_on_asked(shop, visit, now, strings_form({"every": "yes", "stock": pack.id}), BO, key="k")
    assert service_of(shop, visit.id).work == ()
    shop.change(pack, ADA, held_count=1)
    put_on_asked(shop, visit, now, strings_form({"every": "yes", "stock": pack.id}), BO, key="k")
    assert len(service_of(shop, visit.id).work) == 1


@pytest.mark.parametrize("typed", [{"every": "yes"}, {"diameter-1": "0.28"}])
def test_strings_put_on_are_stored_once_however_often_they_are_sent(shop, visit, typed):
    pack = add_stock(shop, ADA, "set", 5)
    typed = typed | {"stock": pack.id}

    def once() -> str:
        now = service_of(shop, visit.id).instrument_now()
        return put_on_asked(shop, visit, now, strings_form(typed), ADA, key="k").id

    assert len({*at_once(once, once, once), once()}) == 1
    assert len(service_of(shop, visit.id).work) == 1
    assert shop.get(Stock, pack.id).held_count == 4


def test_an_instrument_taken_in_again_is_taken_in_once_however_often_it_is_sent(shop, visit):
    typed = {"complaint": "buzzes", "notes": "case left here", "humidity_percent": "44", "hand": "heavy"}

    def once() -> str:
        return take_in_again(shop, ADA, visit.instrument_id, visit_form(typed), "k").id

    (key,) = {*at_once(once, once, once), once()}
    assert len(shop.every(Visit)) == 2
    kept = shop.get(Visit, key)
    assert (kept.complaint, kept.notes, kept.humidity_percent) == ("buzzes", "case left here", 44.0)
    assert json.loads(kept.body)["targets"]["hand"] == "heavy"
    assert json.loads(kept.body)["room"] == {"humidity_percent": 44.0}


@pytest.mark.parametrize("brings", [bring_in, take_in_as_a_person_does])
def test_a_service_file_brought_in_by_several_at_one_moment_is_one_visit(shop, brings):
    for number in range(ROUNDS):
        data = json.loads(example_text())
        data["instrument"]["name"] = f"Plover {number}"
        content = json.dumps(data).encode()
        told = at_once(
            *(lambda who=who, content=content: brings(shop, content, "a file", who) for who in (ADA, BO, ADA))
        )
        assert not refused(told)
        assert sorted((one.new_visit, one.added_count) for one in told) == [
            (False, 0),
            (False, 0),
            (True, 27),
        ]
        assert len({one.visit.id for one in told}) == 1
        assert len(shop.every(InstrumentRecord)) == len(shop.every(Visit)) == number + 1
        assert len(entries_of(shop, told[0].visit.id)) == 27
    assert len(shop.every(Owner)) == (brings is not bring_in)
