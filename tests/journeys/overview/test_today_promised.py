"""Today by what was promised: overdue said in words, whom to reach and how, and nobody named by an account."""

import re
from datetime import date, timedelta

import pytest
from starlette.testclient import TestClient

from breakangle.reference.families import family
from breakangle.reference.messages import words
from breakangle.services.history.drift import due
from breakangle.services.overview.today import today
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.visits import add_instrument, add_owner, open_visit
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA, START, later
from web_fixtures.opened import workshop_of

pytest_plugins = ["shop_fixtures.shops", "shop_fixtures.command_line", "web_fixtures.at_hand"]
DAY = START.astimezone().date()


def promised(shop: Shop, name: str, days: int | None, contact: str = "", on: date = DAY) -> Visit:
    owner = add_owner(shop, ADA, f"{name}'s owner", contact)
    record = add_instrument(shop, ADA, usual_instrument(family("electric-guitar"), name), owner)
    visit = open_visit(shop, ADA, record, "buzzes")
    if days is None:
        return visit
    return shop.change(visit, ADA, promised_on=(on + timedelta(days=days)).isoformat())


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (-3, "overdue by 3 days"),
        (-1, "overdue by a day"),
        (0, "promised for today"),
        (1, "promised for tomorrow"),
        (4, "promised in 4 days"),
    ],
)
def test_a_promise_is_said_in_words(shop, days, said):
    promised(shop, "Rook", days)
    day = today(shop, START)
    message = day.promise(day.work["waiting"][0])
    assert message is not None
    assert words(message) == said
    assert (message.severity == "care", bool(day.pressing)) == (days < 0, days <= 0)


def test_the_longest_overdue_comes_first_and_what_is_ready_is_not_overdue(shop):
    for name, days in (("Rook", None), ("Crake", 2), ("Knot", -2), ("Swift", -9)):
        visit = promised(shop, name, days)
    move_visit(shop, visit, "ready", later(days=1))
    day = today(shop, START)
    assert [one.instrument for one in day.work["waiting"]] == ["Knot", "Crake", "Rook"]
    assert [one.instrument for one in day.pressing] == ["Knot"]
    ready = day.promise(day.work["ready"][0])
    assert ready is not None
    assert words(ready).startswith("ready; promised for ")
    assert ready.severity == "note"


def test_due_names_only_what_left_the_workshop(shop):
    visit = promised(shop, "Rook", None)
    assert due(shop) == ()
    move_visit(shop, visit, "handed back", later(days=1))
    assert [one.instrument.name for one in due(shop)] == ["Rook"]
    open_visit(shop, later(days=2), due(shop)[0].instrument, "again")
    assert due(shop) == ()


def test_the_page_says_what_is_overdue_and_how_to_reach_its_owner(bench: TestClient):
    shop = workshop_of(bench).shop()
    promised(shop, "Knot", -2, "+44 1632 960 123", date.today())
    promised(shop, "Rook", 0, "ada@example.org; rings twice", date.today())
    page = bench.get("/").text
    pressing = page[page.index("Promised for today or before") : page.index('class="states"')]
    assert pressing.index("overdue by 2 days") < pressing.index("promised for today")
    assert '<a href="tel:+441632960123">+44 1632 960 123</a>' in pressing
    assert "ada@example.org; rings twice" in pressing
    assert "mailto:" not in pressing, "words that are no address are no link"


def test_an_account_is_no_person_and_a_name_is_asked_for(bench: TestClient, monkeypatch):
    monkeypatch.setenv("LOGNAME", "wsx-account")
    page = bench.get("/").text
    assert "wsx-account" not in page
    assert "<summary>Your name</summary>" in bench.get("/shop").text
    bench.post("/view", data={"who": "Ada", "back": "/shop"})
    assert "<summary>Ada</summary>" in bench.get("/shop").text


def test_welcome_says_in_two_sentences_what_this_is_for(bench: TestClient):
    said = re.search(r"<h1>Welcome</h1>\s*<p>(.*?)</p>", bench.get("/").text, re.DOTALL)
    assert said is not None
    assert said[1].count(". ") == 1
    assert "fretted instruments" in said[1]


def test_the_example_is_reached_from_a_shop_in_use(first_sheet: TestClient):
    assert 'action="/example-workshop"' in first_sheet.get("/").text


def test_the_command_line_says_it_too(run, taken_in):
    assert "overdue" not in run("today")
    run("visit", taken_in, "--promised", "2020-01-31")
    shown = run("today")
    assert shown.index("promised for today or before") < shown.index("sheet 1: overdue by ")


def test_a_visit_s_plan_is_read_as_a_page_and_as_json(run, taken_in):
    page = run("visit", taken_in, "--plan", "--units", "in")
    assert not page.lstrip().startswith("{")
    assert " in" in page
    assert re.search(r"\d mm(?! per)", page) is None
