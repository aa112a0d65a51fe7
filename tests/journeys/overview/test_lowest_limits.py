"""What `lowest` keeps to: a bowed neck that no rod mends, nuts that stay, and a curve from end to end of the rod."""

import json
import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main
from breakangle.drawings.charts.trade_off import TradeCurve, TradePoint, trade_off_chart
from breakangle.planning.buzz.lowest import trade_reliefs
from breakangle.services.service_files.lowest import lowest_setup
from lowest_asked import at_command_line, checked, high, page_of

pytest_plugins = ["web_fixtures.at_hand"]


def test_a_bowed_neck_without_a_rod_is_no_way_down_where_the_plan_cuts_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], bench: TestClient
) -> None:
    """A nylon-string's relief is .12 mm, to .06 (the family's table: common practice, no source)."""
    data = high("nylon-acoustic-guitar", relief_mm=0.70)
    said, found, left = at_command_line(data, tmp_path, capsys)
    told = "Relief is 0.70 mm, wanted 0.12 mm, and there is no rod to take it out: nothing is cut"
    assert (left, found["relief_reach_mm"]) == (1, None)
    assert told in " ".join(said.split())
    assert told in page_of(data, bench)
    main(["plan", str(tmp_path / "service.json")])
    assert "Nothing is cut under a neck that is bowed so far" in " ".join(capsys.readouterr().out.split())
    said, _, left = at_command_line(high("nylon-acoustic-guitar", relief_mm=0.30), tmp_path, capsys)
    assert left == 0
    assert "nothing is cut" not in said


def test_no_nut_is_cut_for_what_is_offered(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A short string's own nut too, where its action is read open and its bridge goes no lower."""
    data = high("banjo-five", travel=[-0.3, 1.0])
    found = lowest_setup(checked(data))
    assert all(one.nut_raised_mm.min() > -1e-9 for one in (found.to_set, *found.trade_to_set))
    said, given, _ = at_command_line(data, tmp_path, capsys)
    usual = given["least_usual_action_mm"]
    assert f"Set no lower than {usual[3]:.2f} at string 4 and {usual[0]:.2f} at string 1" in " ".join(
        said.split()
    )
    assert re.search(r"-0\.0\b(?!\d)", json.dumps(given)) is None


@pytest.mark.parametrize(("kind", "relief_mm"), [("steel-acoustic-guitar", 0.47), ("electric-guitar", 0.54)])
def test_the_curve_begins_where_the_rod_stands_at_its_stop(kind: str, relief_mm: float) -> None:
    found = lowest_setup(checked(high(kind, rod=0, relief_mm=relief_mm)))
    assert found.relief_reach is not None
    assert found.relief_reach[0] == pytest.approx(found.now.relief_mm)
    for curve in (found.trade, found.trade_to_set):
        reliefs = [one.relief_mm for one in curve]
        assert reliefs[0] == pytest.approx(found.relief_reach[0])
        assert reliefs[-1] > reliefs[0] + 0.15
        assert reliefs[-1] <= found.relief_reach[1] + 1e-9


@pytest.mark.parametrize(
    ("reach", "wanted"),
    [
        ((0.0, 0.8), [0.0, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5]),
        ((0.12, 0.23), [0.12, 0.15, 0.2, 0.23]),
        ((0.31, 0.31), [0.31]),
        ((-0.1, 0.02), [-0.1, 0.0, 0.02]),
    ],
)
def test_the_curve_goes_from_end_to_end_of_the_rod(reach: tuple[float, float], wanted: list[float]) -> None:
    reliefs = trade_reliefs(reach)
    assert reliefs == pytest.approx(wanted)
    drawn = trade_off_chart([TradeCurve("string 1", tuple(TradePoint(one, 1.5) for one in reliefs))])
    assert ("<circle" in drawn.svg) == (len(wanted) == 1), (
        "one set-up alone is no line, and is seen all the same"
    )
