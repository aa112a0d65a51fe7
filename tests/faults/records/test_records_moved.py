"""Records that are gone, empty, another's or moved while they are open: said, and nothing acknowledged."""

import json
import shutil
import urllib.error
import urllib.request

import pytest

from breakangle.cli.main import main
from breakangle.model.errors import CorrectInputError
from breakangle.services.visits.entries import take_reading
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.copies import make_backup
from breakangle.storage.connection.lease import hold, holder_of
from breakangle.storage.files.backup_listing import BACKUPS, backups
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Visit
from breakangle.storage.schema.errors import ShopDamagedError, ShopMissingError, ShopMovedError
from shop_fixtures.filled import fill
from shop_fixtures.people import ADA, BO, GAP, START
from web_fixtures.process import Served


@pytest.fixture
def folder(tmp_path):
    shop = shop_at(tmp_path / "shop")
    fill(shop)
    make_backup(shop, START)
    shop.close()
    return tmp_path / "shop"


def _empty(folder):
    (folder / "shop.db").write_bytes(b"")


def _gone(folder):
    (folder / "shop.db").unlink()


def _garbage(folder):
    (folder / "shop.db").write_bytes(b"\xa5" * 50_000)


def _truncated(folder):
    content = (folder / "shop.db").read_bytes()
    (folder / "shop.db").write_bytes(content[: len(content) // 2])


def _another(folder):
    other = shop_at(folder.parent / "other")
    fill(other)
    other.close()
    shutil.copy2(other.folder / "shop.db", folder / "shop.db")


HURTS = {"empty": _empty, "gone": _gone, "garbage": _garbage, "truncated": _truncated, "another": _another}


@pytest.mark.parametrize("hurt", HURTS)
def test_what_is_no_shop_beside_backups_is_an_alarm_with_the_way_back(folder, hurt, monkeypatch, capsys):
    HURTS[hurt](folder)
    with pytest.raises(ShopDamagedError) as refused:
        shop_at(folder).every(Visit)
    assert "breakangle restore" in str(refused.value)
    monkeypatch.setenv("BREAKANGLE_DATA", str(folder))
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    # Step 1: the doctor names the newest good backup; step 2: it is put back.
    assert main(["doctor"]) == 2
    said = capsys.readouterr().out
    command = next(line for line in said.splitlines() if line.startswith("Put it back: breakangle "))
    assert main(command.removeprefix("Put it back: breakangle ").split()) == 0
    shop = shop_at(folder)
    assert len(entries_of(shop, shop.every(Visit)[0].id)) > 0
    shop.close()


def test_a_folder_without_backups_says_that_the_file_is_gone(tmp_path):
    shop_at(tmp_path / "shop").close()
    (tmp_path / "shop" / "shop.db").unlink()
    with pytest.raises(ShopMissingError, match="to begin a new shop, move"):
        shop_at(tmp_path / "shop")


def _deleted(folder):
    shutil.rmtree(folder)


def _renamed(folder):
    folder.rename(folder.with_name("elsewhere"))


def _replaced(folder):
    content = (folder / "shop.db").read_bytes()
    for part in folder.glob("shop.db*"):
        part.unlink()
    (folder / "shop.db").write_bytes(content)


@pytest.mark.parametrize("move", [_deleted, _renamed, _replaced])
def test_nothing_is_acknowledged_once_the_open_file_is_not_at_its_place(folder, move):
    shop = shop_at(folder)
    visit = shop.every(Visit)[0]
    take_reading(shop, visit.id, GAP, ADA)
    move(folder)
    for _ in range(3):
        with pytest.raises(ShopMovedError, match="shop"):
            take_reading(shop, visit.id, GAP, BO)
    with pytest.raises(ShopMovedError):
        shop.every(Visit)
    shop.close()


def posted(served: Served, count: int = 1) -> list[int]:
    """Post readings and return each answer's code."""
    codes = []
    for _ in range(count):
        request = urllib.request.Request(
            f"{served.url}/api/visits/1/readings",
            json.dumps(GAP).encode(),
            {"content-type": "application/json"},
        )
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                codes.append(answer.status)
        except urllib.error.HTTPError as error:
            codes.append(error.code)
    return codes


def page(served: Served) -> tuple[int, str]:
    try:
        with urllib.request.urlopen(f"{served.url}/", timeout=30) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


def test_a_server_loses_nothing_silently_and_leads_back(folder):
    served = Served(folder)
    served.start()
    try:
        assert posted(served) == [201]
        kept = folder.with_name("elsewhere")
        folder.rename(kept)
        assert posted(served, 5) == [503] * 5
        kept.rename(folder)
        assert posted(served) == [201]
        for part in folder.glob("shop.db*"):
            part.unlink()
        assert posted(served, 3) == [503] * 3
        code, text = page(served)
        assert code == 503
        assert "The shop cannot be opened" in text
        newest = backups(folder / BACKUPS)[0].path.name
        assert f"/shop/backups/{newest}/restore" in text
        request = urllib.request.Request(f"{served.url}/shop/backups/{newest}/restore", b"", method="POST")
        with urllib.request.urlopen(request, timeout=60) as answer:
            assert answer.status == 200
        assert posted(served) == [201]
    finally:
        served.stop()


def test_a_server_for_the_network_starts_on_a_damaged_shop_and_leads_back(folder):
    """No code can be made for another device then; this computer must get its page all the same."""
    (folder / "shop.db").write_bytes(b"garbage" * 1000)
    served = Served(folder, ("--network",))
    served.start()
    try:
        code, text = page(served)
        assert code == 503
        assert f"/shop/backups/{backups(folder / BACKUPS)[0].path.name}/restore" in text
    finally:
        served.stop()


def test_one_server_at_a_time_and_a_takeover_that_is_asked_for(tmp_path):
    first = hold(tmp_path, "http://127.0.0.1:1")
    assert first is not None
    with pytest.raises(CorrectInputError, match="--take-over"):
        hold(tmp_path, "http://127.0.0.1:2")
    first.check()
    second = hold(tmp_path, "http://127.0.0.1:2", take_over=True)
    assert second is not None
    second.check()
    with pytest.raises(ShopMovedError, match="taken this shop over"):
        first.check()
    first.end()
    assert holder_of(tmp_path) == second.holder
    second.end()
    assert holder_of(tmp_path) is None


def test_a_server_that_was_killed_holds_nobody_up(tmp_path):
    served = Served(tmp_path)
    served.start()
    served.kill()
    assert holder_of(tmp_path) is not None
    served.start()
    served.stop()
    assert holder_of(tmp_path) is None
