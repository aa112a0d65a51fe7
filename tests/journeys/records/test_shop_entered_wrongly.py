"""What is entered wrongly at the command line or in a list is refused in a sentence, and nothing of it is stored."""

import json
from pathlib import Path

import pytest

from breakangle.cli.main import main
from breakangle.model.errors import CorrectInputError
from breakangle.services.records import copies_apart
from breakangle.services.records.edit import edit
from breakangle.services.records.lists import add_kept
from breakangle.services.records.upkeep import exported
from breakangle.services.service_files.example import example_service, example_text
from breakangle.services.strings.shelf import MOST_COUNT, add_stock, count_stock
from breakangle.services.strings.stock import add_strings
from breakangle.services.visits.used_parts import use_stock
from breakangle.services.visits.visits import add_instrument, add_owner, open_visit
from breakangle.services.workshop.opening import backed_up, shop_at
from breakangle.services.workshop.prices import add_price, set_setting
from breakangle.storage.backup.copies import make_backup
from breakangle.storage.files.backup_listing import BACKUPS, backups
from breakangle.storage.records.records import Gauge, Stock
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import ShopOutOfReachError
from shop_fixtures.people import ADA, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the data folder of a shop with the example instrument as sheet 1."""
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BREAKANGLE_WHO", "Ada")
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    (tmp_path / "in.json").write_text(example_text(), encoding="utf-8")
    assert main(["take-in", str(tmp_path / "in.json")]) == 0
    return tmp_path / "data"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("read 1 nonsense x=1 --gauge Typo", "nonsense"),
        ("read 1 gap string=19 --gauge Typo", "it must be a whole number from 1 to 18"),
        ("due --days 99999999999", "at most"),
        ("due --days 3000000", "at most"),
        ("take-in", "neither a file nor --again"),
        ("take-in in.json --humidity 50", "write it into the file"),
        ("take-in --again 1 --owner Ida", "has its owner already"),
        ("packs --add set ² 1 --sizes .010in", "a whole number"),
        ("packs --add set 99999999999 1 --sizes .010in", "a whole number"),
        ("packs --add set 1 1 --sizes .010in --cost -3", "what one costs"),
        ("stock --add set 99999999999 1", "a whole number"),
        ("restore absent", "`breakangle restore` lists"),
        ("import absent.zip", "absent.zip cannot be read: no such file"),
    ],
)
def test_the_command_line_says_what_is_wrong_and_stores_nothing(folder, capsys, words, told):
    capsys.readouterr()
    assert main(words.split()) == 2
    assert told in capsys.readouterr().err
    shop = shop_at(folder)
    assert (shop.every(Gauge), shop.every(Stock)) == ((), ())
    shop.close()


@pytest.mark.usefixtures("folder")
def test_an_owner_without_a_name_leaves_no_visit_behind(capsys, tmp_path):
    other = json.loads(example_text())
    other["instrument"]["name"] = "Another"
    (tmp_path / "other.json").write_text(json.dumps(other), encoding="utf-8")
    assert main(["take-in", str(tmp_path / "other.json"), "--owner", " "]) == 2
    capsys.readouterr()
    assert main(["visits"]) == 0
    assert "Another" not in capsys.readouterr().out


def test_a_reading_at_the_command_line_is_as_sure_as_its_gauge(folder, capsys):
    shop = shop_at(folder)
    add_kept(shop, ADA, "gauge", {"name": "feelers", "quantity": "gap", "spread": "0.02", "notes": ""})
    shop.close()
    capsys.readouterr()
    gap = ["read", "1", "gap", "string=6", "fret=12", "held=1", "mm=1.8", "--gauge", "feelers"]
    assert main(gap) == 0
    assert json.loads(capsys.readouterr().out.split(" ", 1)[1])["uncertainty_mm"] == 0.02
    assert main([*gap[:-2], "uncertainty_mm=0.1", *gap[-2:]]) == 0
    assert json.loads(capsys.readouterr().out.split(" ", 1)[1])["uncertainty_mm"] == 0.1


@pytest.mark.usefixtures("folder")
def test_a_word_that_is_not_understood_is_kept_and_said(capsys):
    assert main(["read", "1", "gap", "string=6", "fret=12", "held=1", "mm=1.8", "uncertainty=0.1"]) == 0
    assert "not understood: $.uncertainty" in capsys.readouterr().err


@pytest.mark.usefixtures("folder")
def test_the_shops_lines_stay_when_only_its_name_is_changed(capsys):
    assert main(["heading", "--name", "Marram", "--line", "1 Quay"]) == 0
    assert main(["heading", "--name", "Marram and Son"]) == 0
    assert "1 Quay" in capsys.readouterr().out.splitlines()[-2]
    assert main(["heading", "--line", ""]) == 0
    assert "1 Quay" not in capsys.readouterr().out


def test_a_row_typed_over_keeps_its_name_and_what_is_possible(shop: Shop):
    rows = {
        "owner": add_owner(shop, ADA, "Ida Marlow").id,
        "gauge": add_kept(shop, ADA, "gauge", {"name": "ruler", "quantity": "gap"}).id,
        "price": add_price(shop, ADA, "labour", " set-up ", "65").id,
        "stock": add_stock(shop, ADA, " set ", 3, 1).id,
        "instrument": add_instrument(shop, ADA, example_service().instrument).id,
    }
    add_stock(shop, ADA, "other", 3, 1)
    for kind, typed, told in (
        ("owner", {"name": " "}, "no name"),
        ("gauge", {"name": ""}, "no name"),
        ("price", {"words": ""}, "no name"),
        ("price", {"kind": "gift"}, "labour or part"),
        ("stock", {"words": "other"}, "on the shelf already"),
        ("instrument", {"playing_hours_per_week": "-5"}, "from 0 to 168"),
        ("instrument", {"playing_hours_per_week": "169"}, "from 0 to 168"),
    ):
        with pytest.raises(CorrectInputError, match=told):
            edit(shop, kind, rows[kind], typed, ADA, None)
    edit(shop, "stock", rows["stock"], {"words": "set", "held_count": "4"}, ADA, None)
    assert [(one.words, one.held_count) for one in shop.every(Stock)] == [("set", 4), ("other", 3)]
    with pytest.raises(CorrectInputError, match="on the shelf already"):
        add_stock(shop, ADA, "set ", 1)
    with pytest.raises(CorrectInputError, match="no words"):
        add_price(shop, ADA, "labour", " ", "65")


def test_a_count_is_one_that_either_engine_holds(shop: Shop):
    with pytest.raises(CorrectInputError, match="a whole number from 0"):
        add_stock(shop, ADA, "set", MOST_COUNT + 1)
    add_stock(shop, ADA, "set", MOST_COUNT)
    with pytest.raises(CorrectInputError, match="at most"):
        count_stock(shop, ADA, "set", 1)


@pytest.mark.usefixtures("folder")
def test_what_strings_cost_is_typed_as_money_is(capsys):
    assert main(["packs", "--add", "first", "3", "1", "--sizes", ".010in", "--cost", "1,50"]) == 0
    assert "first  1.50 each" in capsys.readouterr().out


def test_strings_on_the_shelf_are_there_at_once_with_what_they_are(shop: Shop):
    single = {"kind": "single", "strings": [{"make": "plain-steel", "diameter_mm": 0.254}], "cost": "1.25"}
    made = add_strings(shop, ADA, "first", single, 3)
    assert (made.record.version, made.cost) == (1, made.worth and made.worth / 3)


def test_a_part_is_priced_to_the_coin_of_the_shops_currency(shop: Shop):
    set_setting(shop, "currency_digits", "3", ADA)
    record = add_instrument(shop, ADA, example_service().instrument)
    blank = add_stock(shop, ADA, "nut blank", 2)
    used = use_stock(shop, open_visit(shop, ADA, record), blank, 1, ADA, "1.250")
    assert str(used.amount) == "1.250"


def test_an_old_backup_that_cannot_be_removed_keeps_nobody_from_working(folder, monkeypatch):
    shop = shop_at(folder)
    for day in range(12):
        make_backup(shop, later(days=day).at)
    count = len(backups(shop.folder / BACKUPS))

    def refuse(path, ignore_errors=False, **others):
        del path, others
        if not ignore_errors:
            raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("breakangle.storage.files.backup_listing.shutil.rmtree", refuse)
    assert backed_up(shop, later(days=400).at) == ""
    assert len(backups(shop.folder / BACKUPS)) == count + 1
    shop.close()


def test_an_export_that_cannot_be_made_leaves_nothing_behind(shop: Shop, tmp_path, monkeypatch):
    def full(*given):
        del given
        raise ShopOutOfReachError("no room", "", "make room")

    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setattr(copies_apart, "export_shop", full)
    with pytest.raises(ShopOutOfReachError):
        exported(shop)
    assert not list(tmp_path.glob("breakangle-*"))
