"""Copies of a whole shop made beside the server's own work: as good; a backup is made here where that breaks off."""

import json
import os
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

import pytest

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.records import copies_apart
from breakangle.services.records.copies_apart import backed_up_apart, exported_apart, imported_apart
from breakangle.services.records.upkeep import why_not_good
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workers.process import in_process
from breakangle.services.workers.queue import Queue
from breakangle.storage.backup.keeper import Keeper
from breakangle.storage.connection.lease import Holder, hold
from breakangle.storage.connection.moment import one_moment
from breakangle.storage.files.blobs import write_whole
from breakangle.storage.records.records import Visit
from breakangle.storage.schema.errors import ShopMovedError, ShopOutOfReachError
from shop_fixtures.people import ADA

pytest_plugins = ["shop_fixtures.shops"]


def made_by(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Return where the number of the process that makes a backup here will be put."""
    here, real = list[int](), copies_apart.backed_up

    def told(*given: object) -> object:
        here.append(os.getpid())
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(copies_apart, "backed_up", told)
    return here


def test_the_keeper_of_a_server_makes_a_backup_of_records_on_a_server_elsewhere(shop, monkeypatch):
    bring_in(shop, example_text().encode(), "a file", ADA)
    monkeypatch.setattr(Queue, "apart", True)
    here = made_by(monkeypatch)
    made = Keeper(lambda: shop, lambda: ADA.at, backed_up_apart).look()
    assert made is not None
    assert not why_not_good(made.path)
    assert made.counts["visit"] == 1
    assert here == ([os.getpid()] if shop.is_file else [])


def test_where_that_process_breaks_off_the_backup_is_made_here(shop, monkeypatch):
    """Of records in a file it is made here anyway: no process is begun that could break off."""
    bring_in(shop, example_text().encode(), "a file", ADA)
    monkeypatch.setattr(Queue, "apart", True)

    begun = list[object]()

    def broken(work: object, *_: object) -> None:
        begun.append(work)
        raise ChooseAnotherFileError("it broke off", "", "")

    monkeypatch.setattr(copies_apart, "in_process", broken)
    here = made_by(monkeypatch)
    assert not why_not_good(backed_up_apart(shop, ADA.at).path)
    assert here == [os.getpid()]
    assert begun == ([] if shop.is_file else [copies_apart._backed_up])


def test_an_export_that_breaks_off_is_said_as_an_export(shop, tmp_path, monkeypatch):
    monkeypatch.setattr(Queue, "apart", True)

    def broken(*_: object) -> None:
        raise ChooseAnotherFileError("this file takes too much memory", "", "choose a smaller file")

    monkeypatch.setattr(copies_apart, "in_process", broken)
    with pytest.raises(ShopOutOfReachError, match="the export broke off; try again") as told:
        exported_apart(shop, tmp_path / "shop.zip")
    assert "this file" not in str(told.value)


def test_an_export_made_elsewhere_is_the_same_to_the_byte(shop, tmp_path, monkeypatch):
    bring_in(shop, example_text().encode(), "a file", ADA)
    apart = list[object]()

    def counted(work: Callable[..., object], *given: Any) -> object:
        apart.append(work)
        return in_process(work, *given)

    monkeypatch.setattr(copies_apart, "in_process", counted)
    exported_apart(shop, tmp_path / "here.zip")
    assert apart == []
    monkeypatch.setattr(Queue, "apart", True)
    exported_apart(shop, tmp_path / "elsewhere.zip")
    assert apart == [copies_apart._exported]
    assert (tmp_path / "elsewhere.zip").read_bytes() == (tmp_path / "here.zip").read_bytes()


def test_an_export_that_cannot_be_written_is_said_in_the_same_sentence(shop, tmp_path, monkeypatch):
    monkeypatch.setattr(Queue, "apart", True)
    with pytest.raises(ShopOutOfReachError, match="cannot be written: no such file or directory"):
        exported_apart(shop, tmp_path / "nowhere" / "shop.zip")


def test_a_shop_brought_in_by_the_server_is_read_elsewhere_and_stored_whole(new_shop, tmp_path, monkeypatch):
    from_here, into = new_shop("from"), new_shop("into")
    bring_in(from_here, example_text().encode(), "a file", ADA)
    exported_apart(from_here, tmp_path / "shop.zip")
    apart = list[object]()

    def counted(work: Callable[..., object], *given: Any, gentle: bool) -> object:
        apart.append((work, gentle))
        return in_process(work, *given, gentle=gentle)

    monkeypatch.setattr(copies_apart, "in_process", counted)
    monkeypatch.setattr(Queue, "apart", True)
    with one_moment():
        assert into.every(Visit) == ()
        merged = imported_apart(into, tmp_path / "shop.zip", "this file")
        assert into.every(Visit) == from_here.every(Visit)  # in the same request, not as it was before
    assert merged.added_count > 1
    assert apart == [(copies_apart._imported, False)]  # others wait for what it holds
    whole = (tmp_path / "shop.zip").read_bytes()
    (tmp_path / "cut.zip").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(ChooseAnotherFileError, match="no whole-shop export, or is damaged"):
        imported_apart(into, tmp_path / "cut.zip", "this file")


def test_what_is_brought_in_elsewhere_is_not_stored_once_another_server_has_the_shop(
    new_shop, tmp_path, monkeypatch
):
    from_here, into = new_shop("from"), new_shop("into")
    bring_in(from_here, example_text().encode(), "a file", ADA)
    exported_apart(from_here, tmp_path / "shop.zip")
    ours = hold(into.folder, "http://127.0.0.1:1")
    assert ours is not None
    theirs = Holder("another", 1, "another computer", "http://127.0.0.1:2")

    def taken_over(work: Callable[..., object], *given: Any, **more: Any) -> object:
        write_whole(into.folder / "serving.json", json.dumps(asdict(theirs)).encode())
        return in_process(work, *given, **more)

    monkeypatch.setattr(copies_apart, "in_process", taken_over)
    monkeypatch.setattr(Queue, "apart", True)
    with pytest.raises(ShopMovedError, match="another server has taken this shop over"):
        imported_apart(into, tmp_path / "shop.zip", "this file")
    assert into.every(Visit) == ()
    ours.end()
