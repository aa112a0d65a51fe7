"""Pages that are answered as they were: never without a change that was acknowledged before they were asked for."""

import re
import threading
import time
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import pytest
from httpx2 import Response
from sqlalchemy import text
from starlette.testclient import TestClient

from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.connection.changes import RECORDS, changes
from breakangle.storage.connection.glance import OF_INSTRUMENT, told
from breakangle.storage.records.records import Visit
from breakangle.web.page_cache import answers
from breakangle.web.page_cache.kept import Kept, KeptAnswers
from breakangle.web.pages.sheet import sheet as sheet_pages
from shop_fixtures.people import ADA, GAP
from web_fixtures.opened import workshop_of

pytest_plugins = ["shop_fixtures.shops", "web_fixtures.at_hand"]

KEY = re.compile(r'(?<=name="key" value=")[0-9a-f]{24}')
WRITES = {
    "a reading": ("/visits/1/readings/one", {"box": "gap_6_5_h1", "text": "0.21 mm"}),
    "the complaint": ("/visits/1/words", {"complaint": "buzzes in March", "notes": "", "was_complaint": ""}),
    "a line of the bill": (
        "/visits/1/lines",
        {"kind": "labour", "words": "half an hour more", "amount": "25"},
    ),
    "the state": ("/visits/1/state", {"state": "on the bench", "seen": "waiting"}),
    "a setting": ("/shop/settings", {"name": "currency", "value": "CHF"}),
    "an owner": ("/shop/lists/owner", {"name": "Wren Alder", "contact": "", "notes": ""}),
    "the view": ("/view", {"units": "inch", "back": "/"}),
}


def pages_of(client: TestClient) -> list[str]:
    key = workshop_of(client).shop().every(Visit)[0].instrument_id
    lists = ["/", "/instruments", "/search?q=heron"]
    return [
        *lists,
        f"/instruments/{key}",
        *(
            f"/visits/1{part}"
            for part in ("", "/summary", "/readings", "/readings/asked", "/entries", "/plan")
        ),
    ]


def shown(client: TestClient) -> dict[str, str]:
    return {path: KEY.sub("", client.get(path).text) for path in pages_of(client)}


def test_every_page_is_as_if_made_anew_after_each_change(
    first_sheet: TestClient, monkeypatch: pytest.MonkeyPatch
):
    workshop_of(first_sheet).keeper.look()  # else it makes its first backup at some moment of this test
    shown(first_sheet)
    for what, (path, form) in WRITES.items():
        assert first_sheet.post(path, data=form).status_code == 200, what
        kept = shown(first_sheet)
        with monkeypatch.context() as patched:
            patched.setattr(answers, "may_be_kept", lambda path: False)
            fresh = shown(first_sheet)
        for page in fresh:
            assert kept[page].splitlines() == fresh[page].splitlines(), (what, page)


def test_page_is_answered_without_being_made_again(first_sheet: TestClient, monkeypatch: pytest.MonkeyPatch):
    before = first_sheet.get("/visits/1").text

    def made_again(*_: object) -> None:
        raise AssertionError("nothing had changed")

    monkeypatch.setattr(sheet_pages, "sheet_of", made_again)
    assert first_sheet.get("/visits/1").text == before
    with pytest.raises(AssertionError, match="nothing had changed"):
        first_sheet.get("/visits/1", headers={"accept-language": "de"})


def test_plan_that_is_kept_gives_out_a_key_of_its_own_each_time(first_sheet: TestClient):
    pages = [first_sheet.get("/visits/1/plan").text for _ in range(3)]
    keys = [set(KEY.findall(page)) for page in pages]
    assert all(len(one) == 1 for one in keys)
    assert len(set.union(*keys)) == 3
    assert len({KEY.sub("", page) for page in pages}) == 1


def test_change_by_another_program_is_in_the_next_page(first_sheet: TestClient):
    assert "by the command line" not in first_sheet.get("/visits/1").text
    other = shop_at(workshop_of(first_sheet).folder)
    other.change(other.every(Visit)[0], ADA, complaint="by the command line")
    other.close()
    assert "by the command line" in first_sheet.get("/visits/1").text


def test_change_while_a_page_is_made_is_in_the_next(first_sheet: TestClient, monkeypatch: pytest.MonkeyPatch):
    shop, real = workshop_of(first_sheet).shop(), sheet_pages.sheet_of

    def changed_meanwhile(*given: object) -> object:
        told = real(*given)  # type: ignore[arg-type]
        shop.change(shop.every(Visit)[0], ADA, complaint="stored meanwhile")
        return told

    monkeypatch.setattr(sheet_pages, "sheet_of", changed_meanwhile)
    assert "stored meanwhile" not in first_sheet.get("/visits/1?removed=a").text
    monkeypatch.setattr(sheet_pages, "sheet_of", real)
    assert "stored meanwhile" in first_sheet.get("/visits/1?removed=a").text


def test_those_who_wait_for_a_page_are_answered_by_one_begun_after_they_asked(
    first_sheet: TestClient, monkeypatch: pytest.MonkeyPatch
):
    """Six ask while it is made, each after another change: each has its change, and the page is made once more."""
    shop, real, made = workshop_of(first_sheet).shop(), sheet_pages.sheet_of, list[int]()
    first_is_made, go_on = threading.Event(), threading.Event()

    def slowly(*given: object) -> object:
        told = real(*given)  # type: ignore[arg-type]
        made.append(1)
        if len(made) == 1:
            first_is_made.set()
            go_on.wait(30)
        return told

    def asked_after(number: int) -> Future[Response]:
        shop.change(shop.every(Visit)[0], ADA, complaint=" ".join(f"word{one}" for one in range(number)))
        asked = pool.submit(first_sheet.get, "/visits/1?removed=b")
        time.sleep(0.1)  # until it waits
        return asked

    monkeypatch.setattr(sheet_pages, "sheet_of", slowly)
    with ThreadPoolExecutor(7) as pool:
        first = pool.submit(first_sheet.get, "/visits/1?removed=b")
        assert first_is_made.wait(30)
        others = [asked_after(number) for number in range(1, 7)]
        go_on.set()
        assert "word0" not in first.result().text
        assert all(f"word{number}" in one.result().text for number, one in enumerate(others))
    assert len(made) == 2


def test_counter_is_raised_by_every_change_but_those_that_a_mark_tells_of(shop):
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit

    def counted() -> tuple[int, object]:
        with shop.reading() as connection:
            entries = [row for row in told(connection, OF_INSTRUMENT, visit.instrument_id) if row[2]]
            return changes(connection)[RECORDS], entries

    count, mark = counted()
    take_reading(shop, visit.id, GAP, ADA)
    assert counted()[0] == count
    assert counted()[1] != mark
    shop.change(shop.get(Visit, visit.id), ADA, handed_back_at=ADA.at, state="handed back")
    assert counted()[0] == count + 1
    take_reading(shop, visit.id, GAP | {"mm": 1.7}, ADA)  # of a visit that is over: it teaches other necks
    assert counted()[0] == count + 2
    with pytest.raises(ZeroDivisionError), shop.writing() as connection:
        connection.execute(text("UPDATE visit SET notes = 'undone'"))
        raise ZeroDivisionError
    assert counted()[0] == count + 2
    with shop.writing() as connection:
        connection.execute(text("UPDATE visit SET notes = 'by hand'"))
    assert counted()[0] == count + 3


def test_answers_kept_give_way_and_large_ones_are_not_kept(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("breakangle.web.page_cache.kept.MOST_BYTES", 25)
    monkeypatch.setattr("breakangle.web.page_cache.kept.LARGEST_BYTES", 12)
    kept = KeptAnswers()
    for key in (1, 2, 3):
        kept.put(key, Kept((key,), {}, b"x" * 10))
        kept.get(1, (1,))
    assert [kept.get(key, (key,)) is not None for key in (1, 2, 3)] == [True, False, True]
    kept.put(3, Kept((4,), {}, b"x" * 13))
    assert kept.get(3, (4,)) is None
    assert kept.get(1, (2,)) is None


def test_page_of_a_shop_put_in_another_place_is_made_anew(first_sheet: TestClient, tmp_path: Path):
    assert first_sheet.get("/visits/1").status_code == 200
    workshop = workshop_of(first_sheet)
    workshop.replaced(lambda: setattr(workshop, "folder", tmp_path / "other"))
    assert first_sheet.get("/visits/1").status_code == 404
