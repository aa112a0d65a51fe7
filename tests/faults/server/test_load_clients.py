"""The load bench's own clients: latency from the due time, and failures counted as the goals say."""

from itertools import pairwise

from bench._load_client import BUSY, PAGE, PLAN, WRITE, Answered, _moments
from bench.load import failed, holds, p95_s


def answered(kind: str, *after_s: float, status: int = 200) -> list[Answered]:
    return [Answered(kind, "/", status, one) for one in after_s]


def test_timetable_is_even_and_independent_of_answers():
    moments = list(_moments(5.0, 2.0))
    assert len(moments) == 10
    assert {round(later - one, 9) for one, later in pairwise(moments)} == {0.2}


def test_busy_is_a_failure_of_pages_and_of_more_than_one_plan_in_100():
    assert failed(answered(PAGE, *[0.1] * 99) + answered(PAGE, 0.1, status=BUSY), PAGE) == 1
    assert failed(answered(PLAN, *[0.1] * 99) + answered(PLAN, 0.1, status=BUSY), PLAN) == 0
    assert failed(answered(PLAN, *[0.1] * 98) + answered(PLAN, 0.1, 0.1, status=BUSY), PLAN) == 2
    assert failed(answered(WRITE, 0.1, status=500) + answered(WRITE, 0.1, status=0), WRITE) == 2


def test_a_goal_breaks_when_one_in_ten_is_late():
    good = answered(PAGE, *[0.1] * 20) + answered(PLAN, *[0.5] * 20) + answered(WRITE, *[0.1] * 20)
    assert holds(good)
    assert p95_s(answered(PAGE, *[0.1] * 90, *[2.0] * 10)) == 2.0
    assert not holds(good + answered(WRITE, 0.9, 0.9, 0.9))
