"""The shelf of strings, on both engines: put there, found for wished pulls, put on an instrument, counted, low."""

from decimal import Decimal

import numpy as np
import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.model.service_file import ServiceFileError
from breakangle.services.service_files.example import example_service
from breakangle.services.strings.shelf import add_stock
from breakangle.services.strings.sizes import chosen, find_gauges
from breakangle.services.strings.stock import (
    add_strings,
    low_strings,
    pack_on,
    shelf_strings,
    strings_on_shelf,
)
from breakangle.services.strings.string_set import strings
from breakangle.services.swap.comparison import swap
from breakangle.services.visits.used_parts import use_stock, used_at
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.storage.records.records import Stock
from shop_fixtures.people import ADA

pytest_plugins = ["shop_fixtures.shops"]
PACK = {
    "kind": "pack",
    "cost": "6.40",
    "strings": [
        {"string": 1, "make": "plain-steel", "diameter_mm": 0.2794},
        {"string": 2, "make": "plain-steel", "diameter_mm": 0.3556},
        {"string": 3, "make": "plain-steel", "diameter_mm": 0.4572},
        {"string": 4, "make": "wound-steel", "diameter_mm": 0.7112, "unit_mass_g_per_m": 2.68},
        {"string": 5, "make": "wound-steel", "diameter_mm": 0.9652},
        {"string": 6, "make": "wound-steel", "diameter_mm": 1.2446},
    ],
}
SINGLE = {"kind": "single", "cost": "0.9", "strings": [{"make": "plain-steel", "diameter_mm": 0.2667}]}


@pytest.fixture
def stocked(shop):
    add_strings(shop, ADA, "steel, eleven to forty-nine", PACK, 3, 2)
    add_strings(shop, ADA, "plain steel, ten and a half", SINGLE, 1, 4)
    add_stock(shop, ADA, "bone nut blank", 5)
    return shop


def test_packs_and_singles_have_cost_worth_and_a_least(stocked):
    found = {one.record.words: one for one in strings_on_shelf(stocked)}
    assert list(found) == ["steel, eleven to forty-nine", "plain steel, ten and a half"]
    pack = found["steel, eleven to forty-nine"]
    assert (pack.cost, pack.worth, pack.low) == (Decimal("6.40"), Decimal("19.20"), False)
    assert [one.record.words for one in low_strings(strings_on_shelf(stocked))] == [
        "plain steel, ten and a half"
    ]
    assert len(shelf_strings(stocked)) == 7


def test_a_visit_takes_a_pack_and_what_it_used_is_counted(stocked):
    record = add_instrument(stocked, ADA, example_service().instrument)
    visit = open_visit(stocked, ADA, record)
    for _ in range(2):
        pack = strings_on_shelf(stocked)[0]
        use_stock(stocked, visit, pack.record, 1, ADA, str(pack.cost))
    assert [one.record.words for one in low_strings(strings_on_shelf(stocked))] == [
        "steel, eleven to forty-nine", "plain steel, ten and a half",
    ]  # fmt: skip
    used = used_at(stocked, visit.id)
    assert sum(one.amount for one in used) == Decimal("12.80")
    assert [one.count for one in used] == [1, 1]


def test_a_pack_from_the_shelf_is_swapped_on(stocked):
    service = example_service()
    pack, single = strings_on_shelf(stocked)
    new = pack_on(pack, service.instrument_now().in_order())
    assert [one.note for one in new] == ["E4", "B3", "G3", "D3", "A2", "E2"]
    assert new[3].unit_mass_g_per_m == 2.68
    found = swap(service, new)
    assert found.pull_change_n.value > 30.0
    assert found.new.strings[3].unit_mass_from == "printed"
    with pytest.raises(CorrectInputError, match="strings 1 to 6"):
        pack_on(single, service.instrument_now().in_order())


def test_sizes_are_found_on_the_shelf_or_in_the_trades_range(stocked):
    service = example_service()
    shelf = shelf_strings(stocked)
    first = find_gauges(service, {1: 79.0}, shelf=shelf)[0]
    assert first.best is not None
    assert first.best.candidate.words == "plain steel, ten and a half"
    assert first.best.candidate.held == 1
    ours = find_gauges(service)
    pulls = [one.best.tension_n.value for one in ours if one.best is not None]
    before = [one.tension_n.value for one in strings(service).strings]
    assert len(pulls) == 6
    assert max(pulls) / min(pulls) < 1.06 < max(before) / min(before)
    assert sum(pulls) == pytest.approx(sum(before), rel=0.03)
    after = swap(service, chosen(service, ours)).new
    assert after.spread_ratio < 0.06


def test_own_balance_and_total():
    service = example_service()
    shares = {1: 0.9, 6: 1.2}
    found = find_gauges(service, total_n=400.0, balance=shares)
    assert sum(one.wished_n for one in found) == pytest.approx(400.0)
    assert found[0].wished_n / found[2].wished_n == pytest.approx(0.9)
    assert found[5].wished_n / found[2].wished_n == pytest.approx(1.2)
    for one in found:
        assert one.best is not None
        off = [abs(np.log1p(each.off_ratio)) for each in (one.best, *one.others)]
        assert off == sorted(off)
        assert one.best.most_breaking_share < 0.9


def test_nothing_that_would_break_is_offered():
    first = find_gauges(example_service(), {1: 500.0, 2: 60.0, 3: 60.0, 4: 60.0, 5: 60.0, 6: 60.0})[0]
    assert first.best is None or first.best.most_breaking_share < 0.9


@pytest.mark.parametrize(
    ("wrong", "place"),
    [
        ({"kind": "box"}, "$.kind"),
        ({"cost": "-3"}, "$.cost"),
        ({"strings": []}, "$.strings"),
        ({"strings": [{"make": "cheese", "diameter_mm": 0.3}]}, "$.strings[0].make"),
        ({"strings": [{"make": "plain-steel", "diameter_mm": 30}]}, "$.strings[0].diameter_mm"),
    ],
)
def test_wrong_strings_do_not_get_on_the_shelf(shop, wrong, place):
    with pytest.raises(ServiceFileError) as refused:
        add_strings(shop, ADA, "odd", SINGLE | wrong, 1)
    assert place in str(refused.value)
    assert shop.every(Stock) == ()


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"wished_n": {7: 70.0}}, "strings 1 to 6"),
        ({"wished_n": {1: -3.0}}, "from 5 to 500 N"),
        ({"balance": {1: 90.0}}, "a share of 90"),
        ({"total_n": 6.0}, "from 5 to 500 N"),
    ],
)
def test_wishes_that_cannot_be_are_refused(asked, told):
    with pytest.raises(CorrectInputError, match=told):
        find_gauges(example_service(), **asked)
