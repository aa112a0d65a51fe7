"""A ukulele, from the complaint to the signed sheet: no rod, no screw and no electrics asked for, drawn or printed."""

import pytest
from playwright.sync_api import Browser

from web_fixtures.process import Served
from web_fixtures.whole_hand_back import hand_back, is_gone_from_today, refused_hand_back, sheet_holds
from web_fixtures.whole_job import Owner, job
from web_fixtures.whole_plan import follow_the_plan
from web_fixtures.widths import widths

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

CAUSE = "nut and saddle stood too high"
LACKS = ("truss rod", "screw", "electr")
OWNER = Owner(
    "Nell Ashby", "Chiffchaff", "hard to hold down", "hard-to-play", "1 2", "1-3", ("fretted",), price="40"
)


@pytest.mark.parametrize("width", widths("tablet"))
def test_a_ukulele_is_asked_and_told_only_what_it_has(chromium: Browser, empty_shop: Served, width: str):
    with job(chromium, empty_shop, width, "ukulele-concert", OWNER, seed=10) as bench:
        bench.take_in()
        bench.open_on_the_bench()
        assert bench.done("unstring") >= 5
        bench.tick_as_done("restring", "settle")
        told = [bench.form, bench.page.locator("main").inner_text()]
        bench.read_everything()
        trips = follow_the_plan(bench)
        assert {"saddle out", "nut"} <= set(trips)
        told.append(bench.page.locator("main").inner_text())
        told.append(bench.page.request.get(f"{bench.here}/paper/bench.txt").text())
        asked = refused_hand_back(bench)
        assert any("Not answered yet: hard to play at strings 1 and 2" in one for one in asked)
        hand_back(bench, CAUSE, "the owner wants it back so")
        told.append(sheet_holds(bench, CAUSE))
        for words in told:
            assert [one for one in LACKS if one in words.lower()] == [], words
        is_gone_from_today(bench)
