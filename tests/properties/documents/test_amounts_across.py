"""The drawing of amounts at a nut or saddle: every amount is there, to scale, legible, and nothing overlaps."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from breakangle.drawings.board.amounts_across import Across, amounts_across
from breakangle.drawings.look import Look
from breakangle.planning.kinds.adjustments.saddle_height import POST_SPREAD_RATIO

AMOUNTS = st.lists(st.sampled_from([0.0, -0.05, -0.31, -0.9, -1.25, 0.4, 0.62]), min_size=4, max_size=12)
LOOKS = st.builds(
    Look,
    width=st.sampled_from([330.0, 480.0]),
    units=st.sampled_from(["mm", "inch"]),
    variant=st.sampled_from(["web", "print"]),
    left_handed=st.booleans(),
)


def strings(amounts: list[float]) -> list[Across]:
    count = len(amounts)
    return [Across(str(count - index), "G#3", mm) for index, mm in enumerate(amounts)]


@given(AMOUNTS, LOOKS, st.sampled_from(["cut", "raise or lower", "along"]), st.booleans())
def test_every_amount_is_written_and_no_text_covers_another(amounts, look, work, single):
    drawn = amounts_across(strings(amounts), "saddle", work, single, look)
    boxes = drawn.text_boxes
    assert not [(a.text, b.text) for i, a in enumerate(boxes) for b in boxes[i + 1 :] if a.overlaps(b)]
    assert all(one.left >= 0.0 and one.right <= look.width and one.bottom <= drawn.height for one in boxes)
    assert len(drawn.table.rows) == len(amounts)
    left = sum(row[1] == "–" for row in drawn.table.rows)
    assert left == amounts.count(0.0)
    per = 25.4 if look.units == "inch" else 1.0
    written = [float(row[1]) for row in drawn.table.rows if row[1] != "–"]
    wanted = [abs(one) / per for one in amounts if one]
    shown = wanted[::-1] if look.left_handed else wanted
    assert written == pytest.approx(shown, abs=0.0006 if per > 1.0 else 0.006)


def test_arrows_are_to_one_scale_and_point_the_way_of_the_work():
    for work, way in (("cut", 1.0), ("along", -1.0)):
        drawn = amounts_across(strings([-0.2, -0.4, 0.0, 0.0]), "saddle", work, False, Look(width=400.0))
        arrows = [
            float(end) - float(start)
            for start, end in re.findall(
                r'class="dr-move"[^>]* d="M[\d.]+ ([\d.]+)L[\d.]+ ([\d.]+)"', drawn.svg
            )
        ]
        assert len(arrows) == 2
        assert all(one * way > 0.0 for one in arrows)
        head = 0.55 * 13.0
        short, long = (abs(one) + head for one in arrows)
        assert long / short == pytest.approx(2.0, rel=0.02)


def test_the_ends_of_a_saddle_are_said_beside_what_is_under_the_strings():
    """Derived: an end 1.42 times as far out as the outer string moves that string's part by (1 + 1/1.42) / 2 of it."""
    under = 3.30 * 0.5 * (1.0 + 1.0 / POST_SPREAD_RATIO)
    ends = (Across("bass", "end", -3.30), Across("treble", "end", 0.0))
    drawn = amounts_across(strings([-under, -2.0, -1.5, -0.5]), "saddle", "cut", True, ends=ends)
    assert "bass end 3.30, treble end –" in drawn.svg
    assert drawn.table is not None
    assert [row[1] for row in drawn.table.rows] == ["2.81", "2.00", "1.50", "0.50", "3.30", "–"]
    assert "bass end: take off 3.30 mm" in drawn.svg
