"""Strings and parts a visit used, procedures and their runs, on both engines."""

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.services.overview.exports import csv_text
from breakangle.services.records.edit import bring_back, delete, edit, undo_edit
from breakangle.services.strings.shelf import add_stock, to_order
from breakangle.services.visits.used_parts import (
    put_back,
    put_back_by_words,
    use_by_words,
    use_stock,
    used_at,
)
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.records.records import Procedure, Run, Stock, Used, Visit
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from shop_fixtures.filled import fill
from shop_fixtures.people import ADA, BO, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def visit(shop) -> Visit:
    return fill(shop)


@pytest.fixture
def strings(shop) -> Stock:
    return add_stock(shop, ADA, "plain steel set, light", 5, 2)


def test_what_a_visit_uses_leaves_the_shelf(shop, visit, strings):
    used = use_stock(shop, visit, strings, 3, BO, "12,50")
    assert (used.words, used.count, used.amount) == ("plain steel set, light", 3, Decimal("12.50"))
    assert (used.visit_id, used.stock_id, used.created_by) == (visit.id, strings.id, "Bo")
    assert shop.get(Stock, strings.id).held_count == 2
    assert to_order(shop) == ()
    use_stock(shop, visit, strings, 1, later(minutes=6))
    assert [one.words for one in to_order(shop)] == ["plain steel set, light"]
    assert [one.count for one in used_at(shop, visit.id)] == [3, 1]


def test_the_shelf_is_never_below_zero_and_nothing_is_written_then(shop, visit, strings):
    with pytest.raises(
        CorrectInputError, match=r"6 of plain steel set, light are taken; 5 are there; order more"
    ):
        use_stock(shop, visit, strings, 6, ADA)
    for count in (0, -2, 10_001):
        with pytest.raises(CorrectInputError, match="a whole number from 1"):
            use_stock(shop, visit, strings, count, ADA)
    with pytest.raises(CorrectInputError, match='the price is "dear"'):
        use_stock(shop, visit, strings, 1, ADA, "dear")
    shop.delete(visit, ADA)
    with pytest.raises(NoSuchRecordError, match="is deleted"):
        use_stock(shop, visit, strings, 1, ADA)
    assert shop.get(Stock, strings.id) == strings
    assert used_at(shop, visit.id) == ()


def test_many_who_take_at_one_moment_get_what_there_was_and_no_more(shop, visit, strings):
    def one(_: int) -> bool:
        try:
            use_stock(shop, visit, strings, 1, ADA)
        except CorrectInputError:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(one, range(12))) == 5
    assert shop.get(Stock, strings.id).held_count == 0
    assert len(used_at(shop, visit.id)) == 5


def test_what_was_not_used_after_all_lies_on_the_shelf_again(shop, visit, strings):
    used = use_stock(shop, visit, strings, 3, ADA)
    gone = put_back(shop, used, BO)
    assert (gone.deleted_at, used_at(shop, visit.id)) == (BO.at, ())
    assert shop.get(Stock, strings.id).held_count == 5
    with pytest.raises(EditedMeanwhileError):
        put_back(shop, used, BO)
    assert shop.get(Stock, strings.id).held_count == 5


def test_what_a_visit_took_is_not_undone_at_the_shelf_alone(shop, visit, strings):
    edit(shop, "stock", strings.id, {"held_count": "7"}, BO, None)
    use_stock(shop, visit, shop.get(Stock, strings.id), 3, later(minutes=6))
    told = (
        r'"plain steel set, light" was not an edit: sheet 1 took 3 of it; 4 are there; what it did not use: '
    )
    for _ in range(2):
        with pytest.raises(CorrectInputError, match=told + r"breakangle stock --put-back .* --for 1"):
            undo_edit(shop, "stock", strings.id, later(minutes=7))
    assert (shop.get(Stock, strings.id).held_count, used_at(shop, visit.id)[0].count) == (4, 3)
    assert put_back_by_words(shop, 1, strings.words, later(minutes=8)).count == 3
    with pytest.raises(CorrectInputError, match=r"sheet 1 put 3 of it back; 7 are there"):
        undo_edit(shop, "stock", strings.id, later(minutes=9))
    with pytest.raises(CorrectInputError, match=r'sheet 1 used no "plain steel set, light"; it used nothing'):
        put_back_by_words(shop, 1, strings.words, later(minutes=9))
    assert (shop.get(Stock, strings.id).held_count, used_at(shop, visit.id)) == (7, ())


def test_an_edit_made_after_a_visit_took_is_undone_with_the_count_as_it_is(shop, visit, strings):
    use_stock(shop, visit, strings, 3, BO)
    for typed in ({"words": "light set"}, {"held_count": "1"}):
        edit(shop, "stock", strings.id, typed, later(minutes=6), None)
        undo_edit(shop, "stock", strings.id, later(minutes=7))
    kept = shop.get(Stock, strings.id)
    assert (kept.words, kept.held_count) == (strings.words, 2)
    use_by_words(shop, 1, kept.words, 1, later(minutes=8))
    edit(shop, "stock", strings.id, {"words": "light set"}, later(minutes=9), None)
    assert put_back_by_words(shop, 1, "light set", later(minutes=10)).count == 1  # under its new name
    assert put_back_by_words(shop, 1, strings.words, later(minutes=10)).count == 3


def test_nothing_is_on_the_shelf_twice_after_putting_back(shop, strings):
    edit(shop, "stock", strings.id, {"words": "light set"}, BO, None)
    add_stock(shop, BO, strings.words, 1)
    with pytest.raises(CorrectInputError, match="is on the shelf already"):
        undo_edit(shop, "stock", strings.id, BO)
    delete(shop, "stock", strings.id, BO)
    add_stock(shop, BO, "light set", 1)
    with pytest.raises(CorrectInputError, match="is on the shelf already"):
        bring_back(shop, "stock", strings.id, BO)
    assert len(shop.every(Stock)) == 2


def test_procedures_runs_and_what_was_used_go_out_and_in(new_shop, shop, visit, strings, tmp_path):
    own = shop.add(Procedure, ADA, name="my set-up", body='{"steps": []}')
    run = shop.add(Run, ADA, visit_id=visit.id, procedure=own.id, body='{"at": 0}')
    run = shop.change(run, BO, body='{"at": 1}')
    used = use_stock(shop, visit, strings, 2, BO, "9.90")
    export_shop(shop, tmp_path / "first.zip")
    other = new_shop("other")
    import_shop(other, tmp_path / "first.zip")
    assert other.every(Procedure) == (own,)
    assert other.every(Run) == (run,)
    assert other.every(Used) == (used,)
    assert other.earlier(run)[0]["body"] == '{"at": 0}'
    export_shop(other, tmp_path / "second.zip")
    assert (tmp_path / "first.zip").read_bytes() == (tmp_path / "second.zip").read_bytes()
    assert "9.90" in csv_text(other, "used")
    assert "my set-up" in csv_text(other, "procedures")
    assert run.id in csv_text(other, "runs")
