"""The bill on the screen and on paper say the same, and an amount that could be two is asked about."""

import re
from decimal import Decimal

import pytest
from starlette.testclient import TestClient

from breakangle.storage.records.records import Line, Price
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]


def billed(bench: TestClient, amount: str, **given: str) -> int:
    line = {"kind": "part", "words": "neck", "amount": amount, "quantity": "1"} | given
    return bench.post("/visits/1/lines", data=line).status_code


def set_to(bench: TestClient, **settings: str) -> None:
    for name, value in settings.items():
        assert bench.post("/shop/settings", data={"name": name, "value": value}).status_code == 200


def total_of(bench: TestClient) -> str:
    """Return the sheet's table of lines, as words."""
    found = re.search(r"<tbody>.*?</tfoot>", bench.get("/visits/1").text, re.DOTALL)
    assert found is not None
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", found[0]))


def test_thousands_are_billed_as_the_screen_writes_them_and_never_guessed(first_sheet: TestClient):
    refused = first_sheet.post("/visits/1/lines", data={"kind": "part", "words": "neck", "amount": "1,250"})
    assert refused.status_code == 422
    assert "1.25 or 1250" in refused.text
    assert [billed(first_sheet, amount) for amount in ("1,250.00", "1.250,00", "1 250,00", "1250")] == [
        200
    ] * 4
    assert billed(first_sheet, "9", quantity="1,250") == 422
    assert [one.amount for one in workshop_of(first_sheet).shop().every(Line)] == [Decimal(1250)] * 4


def test_the_screen_has_the_paper_s_digits_and_percent(first_sheet: TestClient):
    set_to(first_sheet, currency="KWD", currency_digits="3", tax_percent="8,1")
    assert billed(first_sheet, "1.235") == 200
    # By hand: 8.1 % of 1.235 is 0.100035.
    told = total_of(first_sheet)
    for words in ("Tax, 8.1 % 0.100", "Net 1.235", "Total 1.335"):
        assert words in told
    paper = first_sheet.get("/visits/1/paper/hand-back.txt").text
    assert "1.335" in paper
    assert "0.100" in first_sheet.get("/visits/1/paper/hand-back.html").text


@pytest.mark.parametrize("digits, shown", [("0", "Total 1,250"), ("2", "Total 1,250.00")])
def test_digits_are_the_setting_s(first_sheet: TestClient, digits: str, shown: str):
    set_to(first_sheet, currency_digits=digits)
    assert billed(first_sheet, "1250") == 200
    assert f"{shown} " in total_of(first_sheet)


def test_a_price_of_the_list_goes_to_the_bill_and_back_into_its_box_unchanged(first_sheet: TestClient):
    assert (
        first_sheet.post(
            "/shop/lists/price", data={"kind": "part", "words": "pin", "amount": "1.3350"}
        ).status_code
        == 200
    )
    shop = workshop_of(first_sheet).shop()
    (pin,) = shop.every(Price)
    box = re.search(
        rf'id="{pin.id}-amount" name="amount" value="([^"]*)"', first_sheet.get("/shop/lists/price").text
    )
    sent = re.search(r'type="hidden" name="amount" value="([^"]*)"', first_sheet.get("/visits/1").text)
    assert box is not None
    assert sent is not None
    kept = {"kind": "part", "words": "pin", "amount": box[1], "seen": str(pin.version)}
    assert first_sheet.post(f"/shop/lists/price/{pin.id}", data=kept).status_code == 200
    assert billed(first_sheet, sent[1]) == 200
    assert shop.every(Price)[0].amount == shop.every(Line)[0].amount == Decimal("1.335")
    refused = first_sheet.post(f"/shop/lists/price/{pin.id}", data=kept | {"amount": "2,500", "seen": "2"})
    assert refused.status_code == 422
    assert "2.5 or 2500" in refused.text
