"""A five-string banjo, from the complaint to the signed sheet: its head and tailpiece, its short string's own nut."""

import pytest
from playwright.sync_api import Browser

from web_fixtures.process import Served
from web_fixtures.whole_hand_back import hand_back, is_gone_from_today, refused_hand_back, sheet_holds
from web_fixtures.whole_job import Owner, job
from web_fixtures.whole_plan import follow_the_plan
from web_fixtures.widths import widths

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

CAUSE = "the bridge stood too high"
OWNER = Owner("May Thorne", "Sedge", "too high up the neck", "too-high", "5 1", "", ("always",), price="70")


@pytest.mark.parametrize("width", widths("desktop"))
def test_a_banjo_goes_back_with_its_short_string_read_at_its_own_nut(
    chromium: Browser, empty_shop: Served, width: str
):
    with job(chromium, empty_shop, width, "banjo-five", OWNER, seed=8) as bench:
        bench.take_in()
        assert "electrics" not in bench.form and "screw" not in bench.form.lower()
        bench.open_on_the_bench()
        paper = bench.page.request.get(f"{bench.here}/paper/bench.txt").text()
        assert all(words in paper for words in ("tailpiece", "coordinator", "The short string's own nut"))
        assert "Electrics" not in paper
        assert bench.done("unstring") >= 5
        bench.tick_as_done("restring", "settle")
        bench.read_everything()
        assert {"pitch_5_17", "gap_5_17_h6", "gap_5_6_h8"} <= set(
            bench.typed
        )  # from its nut at the fifth fret
        trips = follow_the_plan(bench)
        assert {"heights at the bridge", "nut"} <= set(trips), trips
        asked = refused_hand_back(bench)
        assert any("Not answered yet: too high at strings 1 and 5" in one for one in asked)
        hand_back(bench, CAUSE, "the owner wants it back so")
        sheet_holds(bench, CAUSE)
        is_gone_from_today(bench)
