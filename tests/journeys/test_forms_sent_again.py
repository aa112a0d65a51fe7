"""Forms that a person sends twice, by a double press or the way back: what they say is stored once."""

import html
import re
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from breakangle.desk.example import example_text
from breakangle.desk.shop_readings import service_of
from breakangle.desk.shop_shelf import add_stock
from breakangle.shop.records import Stock, Visit
from breakangle.shop.store import Shop
from breakangle.web.app import make_app
from breakangle.web.options import Options
from breakangle.web.workshops import Workshop
from shop_fixtures.people import ADA


@pytest.fixture(scope="module")
def served_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Return one app for all tests here, its routes built: they are built at the first request, with many warnings."""
    app = make_app(Options(tmp_path_factory.mktemp("first"), port=8320))
    with TestClient(app, base_url="http://127.0.0.1:8320", client=("127.0.0.1", 5000)) as client:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            assert client.get("/visits/1").status_code == 404
        yield client


@pytest.fixture
def bench(served_once: TestClient, tmp_path: Path) -> TestClient:
    """Return the app on a shop that is this test's own, with one visit in it."""
    own = workshop(served_once)
    own.replaced(lambda: setattr(own, "folder", tmp_path))
    served_once.cookies.clear()
    sent = served_once.post("/visits/new/import", files={"file": ("heron.json", example_text().encode())})
    assert sent.url.path == "/visits/1"
    return served_once


def workshop(bench: TestClient) -> Workshop:
    assert isinstance(bench.app, FastAPI)
    found: Workshop = bench.app.state.workshop
    return found


def form_in(page: str, action: str) -> dict[str, str]:
    """Return what the page's first posting form with this action sends when nothing is typed into it."""
    form = re.search(rf'<form method="post" action="{action}".*?</form>', page, re.DOTALL)
    assert form is not None
    found = re.findall(r'<input[^>]*name="([^"]*)"(?:[^>]*?value="([^"]*)")?', form[0])
    return {name: html.unescape(value) for name, value in found}


def work(shop: Shop) -> int:
    return len(service_of(shop, shop.every(Visit, number=1)[0].id).work)


def test_an_instrument_that_has_been_here_is_taken_in_once(bench: TestClient):
    shop = workshop(bench).shop()
    instrument = shop.every(Visit)[0].instrument_id
    page = bench.get(f"/visits/new?instrument={instrument}").text
    sent = form_in(page, "/visits/new") | {"complaint": "buzzes"}
    wrong = bench.post("/visits/new", data=sent | {"humidity_percent": "140"})
    assert wrong.status_code == 422
    assert form_in(wrong.text, "/visits/new")["key"] == sent["key"]
    for _ in range(2):
        assert bench.post("/visits/new", data=sent).url.path == "/visits/2"
    assert len(shop.every(Visit)) == 2
    later = form_in(bench.get(f"/visits/new?instrument={instrument}").text, "/visits/new")
    assert bench.post("/visits/new", data=later).url.path == "/visits/3"


def test_the_same_strings_again_are_put_on_once(bench: TestClient):
    shop = workshop(bench).shop()
    pack = add_stock(shop, ADA, "light set", 3)
    sent = form_in(bench.get("/visits/1/strings").text, "/visits/1/strings") | {"stock": pack.id}
    for _ in range(2):
        assert bench.post("/visits/1/strings", data=sent).url.path == "/visits/1/strings"
    assert (work(shop), shop.get(Stock, pack.id).held_count) == (1, 2)
    fresh = form_in(bench.get("/visits/1/strings").text, "/visits/1/strings")
    bench.post("/visits/1/strings", data=fresh)
    assert work(shop) == 2


def test_other_strings_are_put_on_once(bench: TestClient):
    shop = workshop(bench).shop()
    page = bench.get("/visits/1/strings/swap?diameter-1=0.28&key=old").text
    sent = form_in(page, "/visits/1/strings")
    assert sent["diameter-1"] == "0.28"
    assert sent["key"] != "old"
    for _ in range(2):
        assert bench.post("/visits/1/strings", data=sent).url.path == "/visits/1/strings"
    assert work(shop) == 1


def test_two_forms_of_one_plan_are_two_people_s(bench: TestClient):
    shop = workshop(bench).shop()
    first, second = (form_in(bench.get("/visits/1/plan").text, "/visits/1/plan/done") for _ in range(2))
    assert bench.post("/visits/1/plan/done", data=first).url.path == "/visits/1/plan"
    clash = bench.post("/visits/1/plan/done", data=second)
    assert clash.status_code == 409
    assert "has done something on this sheet" in clash.text
    assert work(shop) == 1
    bench.post("/visits/1/plan/done", data=form_in(clash.text, "/visits/1/plan/done"))
    assert work(shop) == 2
