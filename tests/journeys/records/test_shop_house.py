"""The shop's own house targets: what coming visits begin with, on both engines."""

import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.planning.buzz.try_out import Wish
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.services.service_files.example import example_service
from breakangle.services.strings.shelf import set_targets
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.services.workshop.house_targets import HouseTargets, house_targets, set_house_targets
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA, later

pytest_plugins = ["shop_fixtures.shops"]

KIND = "electric-guitar"
OWN = {"relief_mm": "0.2", "action_low_mm": "1.6", "action_high_mm": ".05in"}


def wanted(shop: Shop, visit_id: str) -> dict[tuple[str, int], float]:
    targets = service_of(shop, visit_id).targets
    assert targets is not None
    return {(trade_name(one), one.string): one.mm for one in targets.wanted if isinstance(one, GapTarget)}


def test_until_something_is_said_the_tables_figures_stand(shop: Shop):
    found = house_targets(shop, KIND)
    assert (found.hand, found.own, found.changed) == ("medium", Wish(), False)
    record = add_instrument(shop, ADA, example_service().instrument)
    assert service_of(shop, open_visit(shop, later(1), record).id).targets is None


def test_a_coming_visit_begins_with_the_shops_figures_from_edge_to_edge(shop: Shop):
    set_house_targets(shop, ADA, KIND, "light", OWN)
    record = add_instrument(shop, ADA, example_service().instrument)
    visit = open_visit(shop, later(1), record)
    found = wanted(shop, visit.id)
    lowest = max(string for name, string in found if name == "action")
    assert found["action", lowest] == pytest.approx(1.6)
    assert found["action", 1] == pytest.approx(1.27)
    middle = [found["action", string] for string in range(1, lowest + 1)]
    assert middle == sorted(middle)
    assert {mm for (name, _), mm in found.items() if name == "relief"} == {0.2}
    assert "nut clearance" not in {name for name, _ in found}
    targets = service_of(shop, visit.id).targets
    assert targets is not None
    assert targets.hand == "light"


def test_an_instruments_own_wishes_come_first(shop: Shop):
    set_house_targets(shop, ADA, KIND, "light", OWN)
    record = add_instrument(shop, ADA, example_service().instrument)
    record = set_targets(shop, record, {"hand": "heavy"}, later(1))
    targets = service_of(shop, open_visit(shop, later(2), record).id).targets
    assert targets is not None
    assert (targets.hand, targets.wanted) == ("heavy", ())


def test_said_again_the_last_word_stands_and_an_empty_box_is_the_tables(shop: Shop):
    set_house_targets(shop, ADA, KIND, "light", OWN)
    found: HouseTargets = set_house_targets(shop, later(1), KIND, "medium", {"relief_mm": " "})
    assert not found.changed


@pytest.mark.parametrize(
    ("kind", "hand", "typed"),
    [
        ("no-such-kind", "light", {}),
        (KIND, "fierce", {}),
        (KIND, "light", {"relief_mm": "-1"}),
        (KIND, "light", {"relief_mm": "lots"}),
        (KIND, "light", {"action_low_mm": "1.5"}),
        (KIND, "light", {"nut_high_mm": "0.05"}),
    ],
)
def test_what_cannot_be_right_is_refused_and_nothing_is_kept(shop: Shop, kind, hand, typed):
    with pytest.raises(CorrectInputError):
        set_house_targets(shop, ADA, kind, hand, typed)
    assert not house_targets(shop, KIND).changed
