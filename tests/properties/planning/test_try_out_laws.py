"""Trying out: what is wished is what it then reads, and what is not spoken of stays as it is."""

import pytest

from breakangle.planning.buzz.try_out import Wish, as_it_is, would_read
from breakangle.services.service_files.example import example_service
from breakangle.services.service_files.service import estimate_service


@pytest.fixture(scope="module")
def now():  # type: ignore[no-untyped-def]
    return estimate_service(example_service())


def test_a_wish_of_every_figure_is_what_it_then_reads(now):
    wish = Wish(relief_mm=0.22, action_low_mm=1.6, action_high_mm=1.3, nut_low_mm=0.12, nut_high_mm=0.09)
    then = as_it_is(would_read(now, wish))
    assert then.relief_mm == pytest.approx(0.22, abs=0.002)
    assert (then.action_low_mm, then.action_high_mm) == pytest.approx((1.6, 1.3), abs=0.002)
    assert (then.nut_low_mm, then.nut_high_mm) == pytest.approx((0.12, 0.09), abs=0.002)


def test_of_one_edge_wished_the_other_stays(now):
    stands = as_it_is(now)
    assert stands.action_low_mm is not None
    then = as_it_is(would_read(now, Wish(action_low_mm=stands.action_low_mm - 0.2)))
    assert then.action_low_mm == pytest.approx(stands.action_low_mm - 0.2, abs=0.005)
    assert then.action_high_mm == pytest.approx(stands.action_high_mm, abs=0.005)


def test_nothing_wished_nothing_changes(now):
    assert would_read(now, Wish()) is now
