"""A twelve-string, from the complaint to the signed sheet: fifty readings, six courses on one saddle and one nut."""

import pytest
from playwright.sync_api import Browser

from breakangle.planning.kinds.adjustments.rod import RodTurn
from web_fixtures.process import Served
from web_fixtures.whole_hand_back import hand_back, is_gone_from_today, refused_hand_back, sheet_holds
from web_fixtures.whole_job import Owner, job
from web_fixtures.whole_plan import follow_the_plan
from web_fixtures.widths import widths

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]

CAUSE = "the nut stood too high, which pulls the first frets sharp"
OWNER = Owner(
    "Rod Lane", "Whinchat", "out of tune with itself", "out-of-tune", "12 11", "12", ("fretted",), price="120"
)


@pytest.mark.parametrize("width", widths("tablet", long=True))
def test_a_twelve_string_goes_back_in_tune_with_itself(chromium: Browser, empty_shop: Served, width: str):
    with job(chromium, empty_shop, width, "twelve-string-guitar", OWNER, seed=3, alike=0.5) as bench:
        bench.take_in()
        assert "screw" not in bench.form.lower()
        bench.open_on_the_bench()
        assert bench.done("unstring") >= 5
        bench.tick_as_done("restring", "settle")
        bench.read_everything()
        trips = follow_the_plan(bench, most=3)
        assert {"saddle out", "nut"} <= set(trips)
        turned = [one.turns for one in bench.records()[1].work if isinstance(one, RodTurn)]
        assert all(one * turned[0] > 0.0 for one in turned), (
            turned
        )  # not to and fro at the edge of what is allowed
        asked = refused_hand_back(bench)
        assert any("Not answered yet: out of tune" in one for one in asked)
        hand_back(bench, CAUSE, "the owner wants it back so")
        sheet_holds(bench, CAUSE)
        is_gone_from_today(bench)
