"""A step's form sent twice moves once: no step is done that nobody saw."""

import re

import pytest
from starlette.testclient import TestClient

from breakangle.services.procedures.at_visit import run_next, run_seen, start_run
from breakangle.storage.records.records import Run, Visit
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]


@pytest.fixture
def run(first_sheet: TestClient) -> str:
    """Return the address of a run of ten steps, at its first."""
    shop = workshop_of(first_sheet).shop()
    (visit,) = shop.every(Visit)
    return f"/visits/1/steps/{start_run(shop, ADA, visit.id, 'restring').begun.id}"


def form_of(page: str) -> dict[str, str]:
    """Return what the step's form sends besides the button."""
    form = re.search(r'<form[^>]*class="row moves">.*?</form>', page, re.DOTALL)
    assert form is not None
    return dict(re.findall(r'type="hidden" name="([^"]*)" value="([^"]*)"', form[0]))


def at(page: str) -> int:
    found = re.search(r"step (\d+) of 10", page)
    assert found is not None
    return int(found[1])


@pytest.mark.parametrize("move", ["next", "anyway", "leave"])
def test_a_move_sent_twice_is_made_once(first_sheet: TestClient, run: str, move: str):
    first = first_sheet.get(run).text
    assert at(first) == 1
    sent = form_of(first) | {"move": move}
    pages = [first_sheet.post(run, data=sent) for _ in range(2)]
    assert [(one.status_code, at(one.text)) for one in pages] == [(200, 2), (200, 2)]
    onward = first_sheet.post(run, data=form_of(pages[1].text) | {"move": "anyway"})
    assert at(onward.text) == 3


def test_looking_at_steps_moves_nothing_and_without_its_step_nothing_moves(first_sheet: TestClient, run: str):
    second = first_sheet.post(run, data=form_of(first_sheet.get(run).text) | {"move": "next"}).text
    assert at(second) == 2
    step = form_of(second)["step"]
    for link in re.findall(r'href="[^"]*(\?at=[^"]+)"', second):
        assert first_sheet.get(f"{run}{link}").status_code == 200
    assert form_of(first_sheet.get(run).text)["step"] == step
    for move in ("next", "all", "leave", "anyway", "undo", "redo"):
        assert at(first_sheet.post(run, data={"move": move}).text) == 2


def test_what_was_marked_is_taken_back_once_and_put_back_as_it_was(first_sheet: TestClient, run: str):
    first = form_of(first_sheet.get(run).text)
    done = first_sheet.post(run, data=first | {"move": "all"}).text
    assert "10 steps at once" in done
    shop = workshop_of(first_sheet).shop()
    marks = run_seen(shop, shop.every(Run)[0].id, ADA.at).way.marks
    undo = dict(re.findall(r'name="(step)" value="([^"]*)"', done)) | {"move": "undo"}
    back = [first_sheet.post(run, data=undo).text for _ in range(2)]
    assert [at(one) for one in back] == [1, 1]
    assert run_seen(shop, shop.every(Run)[0].id, ADA.at).way.marks == {}
    first_sheet.post(run, data={"step": next(iter(marks)), "move": "redo"})
    assert run_seen(shop, shop.every(Run)[0].id, ADA.at).way.marks == marks


def test_a_procedure_that_is_only_looked_at_is_not_begun_and_one_sent_twice_begins_once(
    first_sheet: TestClient,
):
    shop = workshop_of(first_sheet).shop()
    looked = first_sheet.get("/visits/1/procedures/restring")
    assert at(looked.text) == 1
    assert shop.every(Run) == ()
    sent = form_of(looked.text) | {"move": "next"}
    assert [at(first_sheet.post(looked.url.path, data=sent).text) for _ in range(2)] == [2, 2]
    assert len(shop.every(Run)) == 1


def test_the_last_step_sent_twice_is_no_error(first_sheet: TestClient, run: str):
    sent = form_of(first_sheet.get(run).text) | {"move": "all"}
    for _ in range(2):
        assert "finished" in first_sheet.post(run, data=sent).text


def test_two_presses_at_the_same_moment_move_once(
    first_sheet: TestClient, run: str, monkeypatch: pytest.MonkeyPatch
):
    assert at(first_sheet.get(run).text) == 1
    shop = workshop_of(first_sheet).shop()
    (record,) = shop.every(Run)
    step = run_seen(shop, record.id, ADA.at).seen.step
    assert step is not None
    change = Shop.change

    def other_first(shop, seen, stamp, /, **values):  # type: ignore[no-untyped-def]
        monkeypatch.setattr(Shop, "change", change)
        run_next(shop, stamp, record.id, step_id=step.id)
        return change(shop, seen, stamp, **values)

    monkeypatch.setattr(Shop, "change", other_first)
    assert run_next(shop, ADA, record.id, step_id=step.id).seen.number == 2
    assert run_seen(shop, record.id, ADA.at).seen.number == 2
