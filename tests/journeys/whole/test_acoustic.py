"""A high steel acoustic, from the complaint to the signed sheet: strings off and on, the saddle cut, the nut filed."""

import pytest
from playwright.sync_api import Browser

from web_fixtures.process import Served
from web_fixtures.whole_hand_back import hand_back, is_gone_from_today, refused_hand_back, sheet_holds
from web_fixtures.whole_job import Owner, job
from web_fixtures.whole_plan import follow_the_plan
from web_fixtures.widths import widths

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

CAUSE = "the saddle stood too high"
OWNER = Owner(
    "Tom Fell",
    "Redstart",
    "high and hard to play up the neck",
    "too-high",
    "6 5",
    "12",
    ("fretted", "always"),
)


@pytest.mark.parametrize("width", widths("phone"))
def test_a_high_acoustic_goes_back_with_its_saddle_cut(chromium: Browser, empty_shop: Served, width: str):
    with job(chromium, empty_shop, width, "steel-acoustic-guitar", OWNER, seed=82, alike=0.8) as bench:
        bench.take_in()
        assert "Truss rod" in bench.form
        assert "screw" not in bench.form.lower()  # its bridge has none
        bench.open_on_the_bench()
        assert bench.done("unstring") >= 5
        bench.tick_as_done("clean-and-oil", "restring", "settle")
        bench.read_everything()
        trips = follow_the_plan(bench)
        assert {"saddle out", "nut"} <= set(trips)
        assert len(trips) <= 4, trips
        assert bench.part_way
        asked = refused_hand_back(bench)
        assert any("Not answered yet: too high at strings 5 and 6" in one for one in asked)
        hand_back(bench, CAUSE, "the owner wants it back so")
        sheet = sheet_holds(bench, CAUSE)
        assert "off the saddle" in sheet and "nut slot" in sheet
        is_gone_from_today(bench)
