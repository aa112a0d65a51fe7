"""A five-string bass, from the complaint to the signed sheet: thicker new strings, tuned down, intonated."""

import pytest
from playwright.sync_api import Browser

from web_fixtures.process import Served
from web_fixtures.whole_hand_back import hand_back, is_gone_from_today, refused_hand_back, sheet_holds
from web_fixtures.whole_job import Owner, job
from web_fixtures.whole_plan import follow_the_plan
from web_fixtures.widths import widths

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

CAUSE = "the strings were too light for how low they were tuned"
OWNER = Owner("Una Brook", "Bittern", "the low string flaps", "buzz", "5", "1-5", ("hard",), price="95")
SEMITONE_DOWN = {5: "Bb0", 4: "Eb1", 3: "Ab1", 2: "Db2", 1: "Gb2"}
LOW_STRING = ".135in"


@pytest.mark.parametrize("width", widths("desktop"))
def test_a_bass_goes_back_with_new_strings_and_another_tuning(
    chromium: Browser, empty_shop: Served, width: str
):
    with job(chromium, empty_shop, width, "bass-five", OWNER, seed=10) as bench:
        bench.take_in()
        assert "electrics" in bench.form and "Height screw" in bench.form
        bench.open_on_the_bench()
        assert bench.done("unstring") >= 5
        bench.put_on(SEMITONE_DOWN, {5: LOW_STRING})
        bench.tick_as_done("restring", "settle", "electronics-check")
        bench.read_everything()
        trips = follow_the_plan(bench, most=4)
        assert trips and any("intonation" in one for one in trips), trips
        asked = refused_hand_back(bench)
        assert any("Not answered yet: buzz at string 5" in one for one in asked)
        hand_back(bench, CAUSE, "the owner plays it tonight")
        sheet = sheet_holds(bench, CAUSE)
        assert "Bb0 Eb1 Ab1 Db2 Gb2" in sheet
        assert "(.135 in)" in sheet
        is_gone_from_today(bench)
