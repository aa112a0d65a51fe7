"""Ways round a closed sheet: taking the amendment back, moving, lines beside, another shop's readings, wrong days."""

import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.services.documents.hand_back.amend import leave_amendment, open_amendment
from breakangle.services.documents.hand_back.close import Closes, close_visit, gate_of
from breakangle.services.documents.hand_back.frozen import closings_of, stored_sheet
from breakangle.services.records.edit import undo_edit
from breakangle.services.records.import_checks import RowsRead
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import do_adjustment, take_reading
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.prices import add_line
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Line, Visit
from breakangle.storage.schema.errors import EditedMeanwhileError, VisitClosedError
from shop_fixtures.people import ADA, GAP, ROD, later

pytest_plugins = ["shop_fixtures.shops"]


def closes(shop, visit: Visit) -> Closes:
    return Closes({one.key: "the owner wants it so" for one in gate_of(shop, visit)}, "Ada Reed", "a4")


def one_visit(shop) -> Visit:
    return shop.get(Visit, bring_in(shop, example_text().encode(), "a file", ADA).visit.id)


def closed(shop) -> Visit:
    visit = one_visit(shop)
    close_visit(shop, visit, later(minutes=60), closes(shop, visit))
    return shop.get(Visit, visit.id)


def test_an_amendment_is_neither_taken_back_nor_moved_away_with_what_was_written(shop):
    visit = closed(shop)
    open_amendment(shop, visit, "one more reading", later(minutes=70))
    take_reading(shop, visit.id, GAP, later(minutes=71))
    with pytest.raises(CorrectInputError, match="opened it for an amendment"):
        undo_edit(shop, "visit", visit.id, later(minutes=72))
    now = shop.get(Visit, visit.id)
    with pytest.raises(CorrectInputError, match="is open for an amendment"):
        move_visit(shop, now, "on the bench", later(minutes=73))
    assert shop.get(Visit, visit.id) == now
    assert now.handed_back_at == visit.handed_back_at


def test_undoing_the_closing_of_a_sheet_says_that_it_is_closed(shop):
    visit = closed(shop)
    with pytest.raises(VisitClosedError, match="open an amendment first"):
        undo_edit(shop, "visit", visit.id, later(minutes=70))


@pytest.mark.parametrize("what", ["a line of the bill", "words to the owner"])
def test_an_amendment_of_anything_on_the_sheet_is_not_left_unsaid(shop, what):
    visit = closed(shop)
    open_amendment(shop, visit, "forgotten", later(minutes=70))
    now = shop.get(Visit, visit.id)
    if what == "a line of the bill":
        add_line(shop, later(minutes=71), now, "labour", "set-up", "65")
    else:
        shop.change(now, later(minutes=71), owner_words="come again in spring")
    with pytest.raises(CorrectInputError, match="something was amended already"):
        leave_amendment(shop, shop.get(Visit, visit.id), later(minutes=72))
    close_visit(shop, shop.get(Visit, visit.id), later(minutes=73), closes(shop, visit))
    assert [one.reason for one in closings_of(shop, visit)] == ["", "forgotten"]


def test_a_line_added_while_the_sheet_is_made_is_not_signed_unseen(shop, monkeypatch):
    from breakangle.services.documents.hand_back import close

    visit, real = one_visit(shop), close.sheet_pages
    given = closes(shop, visit)

    def meanwhile(*told: object, **more: object):
        add_line(shop, later(minutes=59), visit, "labour", "set-up", "65")
        return real(*told, **more)

    monkeypatch.setattr(close, "sheet_pages", meanwhile)
    with pytest.raises(EditedMeanwhileError):
        close_visit(shop, visit, later(minutes=60), given)
    assert closings_of(shop, visit) == ()


def two_shops(new_shop, tmp_path):
    """Return two shops that hold the same open visit."""
    here, there = new_shop("here"), new_shop("there")
    visit = one_visit(here)
    brought(here, there, tmp_path / "first.zip")
    return here, there, visit


def brought(out_of, into, path):
    export_shop(out_of, path)
    return import_shop(into, path, RowsRead(path.name))


@pytest.mark.parametrize("what", ["a reading", "work", "a line of the bill"])
def test_what_another_bench_stored_does_not_land_on_a_closed_sheet_as_if_signed(new_shop, tmp_path, what):
    here, there, visit = two_shops(new_shop, tmp_path)
    close_visit(here, visit, later(minutes=60), closes(here, visit))
    signed = [stored_sheet(here, one) for one in closings_of(here, visit)]
    if what == "a reading":
        take_reading(there, visit.id, GAP, later(minutes=50))
    elif what == "work":
        do_adjustment(there, visit.id, ROD, later(minutes=50))
    else:
        add_line(there, later(minutes=50), there.get(Visit, visit.id), "labour", "set-up", "65")
    merged = brought(there, here, tmp_path / "theirs.zip")
    now = here.get(Visit, visit.id)
    assert merged.opened == [visit.number]
    assert (now.closed_at, now.amending) == (None, "what was stored at two places came together")
    assert now.handed_back_at is not None
    # Nothing that was stored there is lost, and what was signed stays as it was.
    assert {one.id for one in entries_of(there, visit.id)} <= {one.id for one in entries_of(here, visit.id)}
    assert len(here.every(Line)) == len(there.every(Line))
    assert [stored_sheet(here, one) for one in closings_of(here, visit)] == signed
    assert brought(there, here, tmp_path / "again.zip").opened == []
    close_visit(here, now, later(minutes=90), closes(here, now))
    assert [one.number for one in closings_of(here, visit)] == [1, 2]
    assert brought(here, there, tmp_path / "back.zip").opened == []
    assert there.get(Visit, visit.id).closed_at == here.get(Visit, visit.id).closed_at


def test_a_sheet_closed_elsewhere_says_when_more_was_read_here(new_shop, tmp_path):
    here, there, visit = two_shops(new_shop, tmp_path)
    take_reading(here, visit.id, GAP, later(minutes=50))
    close_visit(there, there.get(Visit, visit.id), later(minutes=60), closes(there, visit))
    assert brought(there, here, tmp_path / "theirs.zip").opened == [visit.number]
    assert here.get(Visit, visit.id).closed_at is None
    assert len(closings_of(here, visit)) == 1


def test_a_sheet_closed_elsewhere_comes_in_closed(new_shop, tmp_path):
    here, there, visit = two_shops(new_shop, tmp_path)
    close_visit(there, there.get(Visit, visit.id), later(minutes=60), closes(there, visit))
    assert brought(there, here, tmp_path / "theirs.zip").opened == []
    assert here.get(Visit, visit.id).closed_at == there.get(Visit, visit.id).closed_at


def test_nothing_is_read_on_a_day_on_which_the_instrument_was_not_here(shop):
    visit = closed(shop)
    open_amendment(shop, visit, "from the notebook", later(minutes=70))
    came = visit.opened_at.astimezone().date()
    for day in ("2020-05-01", later(days=20).at.date().isoformat()):
        for store, what in ((take_reading, GAP), (do_adjustment, ROD)):
            with pytest.raises(CorrectInputError, match=f"a day on which it was here: {came} to"):
                store(shop, visit.id, what, later(days=30), before=day)
    assert take_reading(shop, visit.id, GAP, later(days=30), before=came.isoformat()).entered_at is not None
