"""The shop's lists by hand: what is refused stays where it was typed, what was deleted comes back."""

import re
from datetime import timedelta

import pytest
from starlette.testclient import TestClient

from breakangle.model.errors import CorrectInputError
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.services.records.edit import MOST_COUNT, delete
from breakangle.services.records.lists import add_kept, bring_back_kept, drop_kept, dropped, kept
from breakangle.storage.records.records import Edited, Gauge, Owner, Stock
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError
from shop_fixtures.people import ADA, BO, later
from web_fixtures.opened import workshop_of

pytest_plugins = ["shop_fixtures.shops", "web_fixtures.at_hand"]
FEELER = {"name": "feelers", "quantity": "gap", "spread": "0,02", "notes": "the old ones"}


def put(bench: TestClient, kind: str, row: Edited | None = None, /, **typed: str):  # type: ignore[no-untyped-def]
    return bench.post(f"/shop/lists/{kind}" + (f"/{row.id}" if row else ""), data=typed)


def owner(bench: TestClient, **typed: str) -> Owner:
    put(bench, "owner", None, **({"name": "Ilse Farn", "contact": "", "notes": ""} | typed))
    return workshop_of(bench).shop().every(Owner)[-1]


def test_a_clash_shows_what_was_typed_and_what_stands_there_and_may_be_kept(bench: TestClient):
    one = owner(bench)
    put(bench, "owner", one, name="Ilse Farn", contact="B was here", notes="", seen="1")
    clash = put(bench, "owner", one, name="Ilse Farn", contact="", notes="LONG <WORDS>", seen="1")
    assert clash.status_code == 409
    for words in ("was changed by", "B was here", 'value="LONG &lt;WORDS&gt;"', 'name="seen" value="2"'):
        assert words in clash.text
    assert "B was here" in bench.get(f"/shop/lists/owner/{one.id}").text
    put(bench, "owner", one, name="Ilse Farn", contact="both", notes="LONG <WORDS>", seen="2")
    assert [(x.contact, x.notes) for x in workshop_of(bench).shop().every(Owner)] == [
        ("both", "LONG <WORDS>")
    ]


def test_deleting_what_somebody_has_changed_is_refused_and_what_is_deleted_comes_back(bench: TestClient):
    one, shop = owner(bench), workshop_of(bench).shop()
    put(bench, "owner", one, name="Ilse Farn", contact="B was here", notes="", seen="1")
    late = put(bench, "owner", one, name="Ilse Farn", contact="", notes="", seen="1", drop="yes")
    assert late.status_code == 409
    assert 'value="B was here"' in late.text
    assert len(shop.every(Owner)) == 1
    gone = put(bench, "owner", one, seen="2", drop="yes").text
    assert shop.every(Owner) == ()
    back = re.search(r'action="(/shop/lists/owner/\w+/back)"', gone)
    assert back is not None
    for _ in range(2):
        assert bench.post(back[1]).status_code == 200
    assert [x.contact for x in shop.every(Owner)] == ["B was here"]


def test_what_was_typed_over_a_deleted_row_is_still_there(bench: TestClient):
    one = owner(bench)
    delete(workshop_of(bench).shop(), "owner", one.id, ADA)
    answer = put(bench, "owner", one, name="Ilse Farn", contact="", notes="pays late", seen="1")
    assert answer.status_code == 404
    assert 'id="new-notes" name="notes" value="pays late"' in answer.text


@pytest.mark.parametrize("kind, typed, sentence", [
    ("gauge", FEELER | {"quantity": "zzz"}, "one of"),
    ("gauge", FEELER | {"spread": "0"}, "a number from 0.001 to 5 mm"),
    ("gauge", FEELER | {"spread": "thick"}, "the ± is"),
    ("price", {"kind": "part", "words": "neck", "amount": "dear"}, "the price is"),
    ("stock", {"words": "set", "held_count": "99999999999999999999", "least_count": "1"}, "from 0 to 2147483647"),
    ("stock", {"words": "set", "held_count": "1", "least_count": "3000000000"}, "from 0 to 2147483647"),
])  # fmt: skip
def test_a_row_that_is_refused_keeps_what_was_typed(
    bench: TestClient, kind: str, typed: dict[str, str], sentence: str
):
    answer = put(bench, kind, None, **typed)
    assert answer.status_code == 422
    assert sentence in answer.text.lower()
    for name, text in typed.items():
        if name not in ("kind", "quantity"):
            assert f'id="new-{name}" name="{name}" value="{text}"' in answer.text
    if kind == "gauge":
        assert f'<option value="{typed["quantity"]}" selected>' in answer.text
    assert not kept(workshop_of(bench).shop(), kind)


def test_a_row_typed_over_keeps_what_was_typed_too(bench: TestClient):
    put(bench, "stock", None, words="set", held_count="3", least_count="1")
    (one,) = workshop_of(bench).shop().every(Stock)
    for count in ("3000000000", "-1", "many", "9" * 400):
        answer = put(bench, "stock", one, words="set", held_count=count, least_count="1", seen="1")
        assert answer.status_code == 422
        assert f'id="{one.id}-held_count" name="held_count" value="{count}"' in answer.text
    assert workshop_of(bench).shop().every(Stock) == (one,)


def test_a_gauge_reads_what_there_is_to_read_with_a_spread_a_reading_may_have(shop: Shop):
    for spread in ("inf", "nan", "-1", "0", "0.0005", "5.1"):
        with pytest.raises(CorrectInputError):
            add_kept(shop, ADA, "gauge", FEELER | {"spread": spread})
    add_kept(shop, ADA, "gauge", {"name": "tuner", "quantity": "pitch", "spread": "50"})
    for name in reading_kinds():
        add_kept(shop, ADA, "gauge", FEELER | {"quantity": name, "spread": ""})
    (most,) = [add_kept(shop, ADA, "gauge", FEELER | {"spread": "5"})]
    assert isinstance(most, Gauge)
    assert most.spread == 5.0


def test_the_largest_count_is_stored_on_either_engine(shop: Shop):
    made = add_kept(shop, ADA, "stock", {"words": "set", "held_count": str(MOST_COUNT), "least_count": "0"})
    assert isinstance(made, Stock)
    assert made.held_count == MOST_COUNT
    with pytest.raises(CorrectInputError):
        add_kept(shop, ADA, "stock", {"words": "sets", "held_count": str(MOST_COUNT + 1), "least_count": "0"})


def test_thirty_days_long_a_row_can_be_brought_back(shop: Shop):
    made = add_kept(shop, ADA, "stock", {"words": "set", "held_count": "3", "least_count": "1"})
    with pytest.raises(EditedMeanwhileError):
        drop_kept(shop, BO, "stock", made.id, made.version + 1)
    drop_kept(shop, ADA, "stock", made.id, made.version)
    assert [one.id for one in dropped(shop, "stock", ADA.at + timedelta(days=30))] == [made.id]
    assert dropped(shop, "stock", ADA.at + timedelta(days=31)) == ()
    with pytest.raises(CorrectInputError, match="31 days ago"):
        bring_back_kept(shop, later(days=31), "stock", made.id)
    like = add_kept(shop, ADA, "stock", {"words": "set", "held_count": "1", "least_count": "1"})
    with pytest.raises(CorrectInputError, match="on the shelf already"):
        bring_back_kept(shop, BO, "stock", made.id)
    drop_kept(shop, ADA, "stock", like.id)
    assert bring_back_kept(shop, BO, "stock", made.id).deleted_at is None
    assert [one.id for one in kept(shop, "stock")] == [made.id]
    assert bring_back_kept(shop, BO, "stock", made.id).changed_by == "Bo"
