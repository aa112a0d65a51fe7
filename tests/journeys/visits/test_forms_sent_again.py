"""Forms that a person sends twice, by a double press or the way back: what they say is stored once."""

import html
import re

from starlette.testclient import TestClient

from breakangle.services.strings.shelf import add_stock
from breakangle.services.visits.entries import service_of
from breakangle.storage.records.records import Stock, Visit
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]


def form_in(page: str, action: str) -> dict[str, str]:
    """Return what the page's first posting form with this action sends when nothing is typed into it."""
    form = re.search(rf'<form method="post" action="{action}".*?</form>', page, re.DOTALL)
    assert form is not None
    found = re.findall(r'<input[^>]*name="([^"]*)"(?:[^>]*?value="([^"]*)")?', form[0])
    return {name: html.unescape(value) for name, value in found}


def work(shop: Shop) -> int:
    return len(service_of(shop, shop.every(Visit, number=1)[0].id).work)


def test_an_instrument_that_has_been_here_is_taken_in_once(first_sheet: TestClient):
    shop = workshop_of(first_sheet).shop()
    instrument = shop.every(Visit)[0].instrument_id
    page = first_sheet.get(f"/visits/new?instrument={instrument}").text
    sent = form_in(page, "/visits/new") | {"complaint": "buzzes"}
    wrong = first_sheet.post("/visits/new", data=sent | {"humidity_percent": "140"})
    assert wrong.status_code == 422
    assert form_in(wrong.text, "/visits/new")["key"] == sent["key"]
    for _ in range(2):
        assert first_sheet.post("/visits/new", data=sent).url.path == "/visits/2"
    assert len(shop.every(Visit)) == 2
    later = form_in(first_sheet.get(f"/visits/new?instrument={instrument}").text, "/visits/new")
    assert first_sheet.post("/visits/new", data=later).url.path == "/visits/3"


def test_the_same_strings_again_are_put_on_once(first_sheet: TestClient):
    shop = workshop_of(first_sheet).shop()
    pack = add_stock(shop, ADA, "light set", 3)
    sent = form_in(first_sheet.get("/visits/1/strings").text, "/visits/1/strings") | {"stock": pack.id}
    for _ in range(2):
        assert first_sheet.post("/visits/1/strings", data=sent).url.path == "/visits/1/strings"
    assert (work(shop), shop.get(Stock, pack.id).held_count) == (1, 2)
    fresh = form_in(first_sheet.get("/visits/1/strings").text, "/visits/1/strings")
    first_sheet.post("/visits/1/strings", data=fresh)
    assert work(shop) == 2


def test_other_strings_are_put_on_once(first_sheet: TestClient):
    shop = workshop_of(first_sheet).shop()
    page = first_sheet.get("/visits/1/strings/swap?diameter-1=0.28&key=old").text
    sent = form_in(page, "/visits/1/strings")
    assert sent["diameter-1"] == "0.28"
    assert sent["key"] != "old"
    for _ in range(2):
        assert first_sheet.post("/visits/1/strings", data=sent).url.path == "/visits/1/strings"
    assert work(shop) == 1


def test_two_forms_of_one_plan_are_two_people_s(first_sheet: TestClient):
    shop = workshop_of(first_sheet).shop()
    first, second = (form_in(first_sheet.get("/visits/1/plan").text, "/visits/1/plan/done") for _ in range(2))
    first, second = (
        {name: one[name] for name in ("step:1", "done:1", "done_count", "key")} for one in (first, second)
    )
    assert first_sheet.post("/visits/1/plan/done", data=first).url.path == "/visits/1/plan"
    clash = first_sheet.post("/visits/1/plan/done", data=second)
    assert clash.status_code == 409
    assert "has done something on this sheet" in clash.text
    assert work(shop) == 1
    first_sheet.post("/visits/1/plan/done", data=form_in(clash.text, "/visits/1/plan/done"))
    assert work(shop) == 2
