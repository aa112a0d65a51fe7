"""Time and price of work: minutes by its steps, lines of the price list by its name, labour by the hour by quarters."""

import re

import pytest
from starlette.testclient import TestClient

from breakangle.procedures.shelf import own_procedures
from breakangle.reference.families import family
from breakangle.services.procedures.quote import _alike
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.service_written import write_service

pytest_plugins = ["web_fixtures.at_hand", "shop_fixtures.shops", "shop_fixtures.command_line"]


@pytest.mark.parametrize(
    ("price", "name", "same"),
    [
        ("Refret, six strings", "refret", True),
        ("Partial refret", "refret", True),
        ("New nut, bone", "Make a nut", True),
        ("Fret levelling", "fret levelling", True),
        ("Level the frets and crown", "level the frets", True),
        ("Set-up", "refret", False),
        ("Strings", "nut", False),
        ("Fret polish", "fret levelling", False),
    ],
)
def test_a_line_of_the_price_list_is_found_by_its_words(price, name, same):
    assert _alike(price, name.replace("Make a ", "")) is same


def test_the_verb_tells_minutes_and_charges_the_named_line(run, taken_in):
    run("prices", "--add", "labour", "Refret, nickel", "280.00")
    run("prices", "--add", "labour", "Bench hour", "60.00")
    said = run("quote", taken_in, "refret")
    least = sum(step.minutes for step in own_procedures()["refret"].steps if not step.when)
    told = float(re.search(r"about (\d+) min", said).group(1))
    assert least - 0.5 <= told <= least + 4.5, "steps for some instruments count by their share"
    assert "Refret, nickel" in said
    hours = re.search(r"Bench hour\s+(\d+(?:\.\d+)?) ×", said).group(1)
    assert float(hours) == pytest.approx(told / 60.0, abs=0.13), "to the quarter of an hour"
    assert "on the sheet: Refret, nickel" in run("quote", taken_in, "refret", "--charge")
    assert "280.00" in run("bill", taken_in)


def test_nothing_is_charged_where_the_list_has_nothing(run, taken_in):
    assert "the price list has nothing" in run("quote", taken_in, "nut-making", "--charge", code=2)


def test_the_page_puts_the_price_on_the_sheet(bench: TestClient, tmp_path):
    write_service(tmp_path / "one.json", empty_service(family("steel-acoustic-guitar"), "Wheatear"))
    bench.post("/visits/new/import", files={"file": ("one.json", (tmp_path / "one.json").read_bytes())})
    page = bench.get("/visits/1/make/saddle").text
    assert "min by its steps" in page
    assert "The price list has nothing of that name" in page
    bench.post("/shop/lists/price", data={"kind": "labour", "words": "Saddle, bone", "amount": "85"})
    page = bench.get("/visits/1/make/saddle").text
    assert "Put on the sheet: Saddle, bone" in page
    form = page.split("Put on the sheet")[0][-700:]
    sent = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', form))
    assert bench.post("/visits/1/lines", data=sent).status_code == 200
    assert "Saddle, bone" in bench.get("/visits/1").text
    assert "min by its steps" in bench.get("/visits/1/frets").text
