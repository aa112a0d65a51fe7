"""Plans that many ask for at once: worked out once, never older than the last write that was answered, never stuck."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import pytest

from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workers.once import Lately, Once
from breakangle.services.workers.queue import EXPORTS, LISTENING, PAPERS, PICTURES, PLANS, THREADS
from shop_fixtures.people import ADA, GAP

pytest_plugins = ["shop_fixtures.shops"]


def test_everything_answered_is_in_the_plan_that_is_asked_for_next(shop):
    """Two who look without pause keep the plan warm; after each answered write the next look has it."""
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    before, stop = len(solved_visit(shop, visit.id).service.readings), threading.Event()

    def look() -> int:
        seen = 0
        while not stop.is_set():
            seen = max(seen, len(solved_visit(shop, visit.id).service.readings))
        return seen

    with ThreadPoolExecutor(2) as pool:
        looking = [pool.submit(look) for _ in range(2)]
        try:
            for number in range(1, 7):
                take_reading(shop, visit.id, GAP | {"mm": 1.6 + 0.01 * number}, ADA)
                readings = solved_visit(shop, visit.id).service.readings
                assert len(readings) == before + number
                assert readings[-1].mm == 1.6 + 0.01 * number
        finally:
            stop.set()
    assert max(one.result() for one in looking) <= before + 6


def test_those_who_ask_at_once_wait_for_the_one_who_makes_it():
    kept, made = Lately(4), list[int]()

    def make() -> int:
        time.sleep(0.2)
        made.append(1)
        return 7

    with ThreadPoolExecutor(10) as pool:
        assert set(pool.map(lambda _: kept.get("a", make), range(10))) == {7}
    assert made == [1]


def test_what_failed_is_tried_again_and_the_longest_unused_goes_first():
    kept = Lately(2)
    with pytest.raises(ZeroDivisionError):
        kept.get("a", lambda: 1 // 0)
    asked = (("a", 1), ("b", 2), ("a", 9), ("c", 3), ("b", 8))
    assert [kept.get(key, lambda value=value: value) for key, value in asked] == [1, 2, 1, 3, 8]


@dataclass(frozen=True)
class Slow:
    made: list[str]

    @Once
    def first(self) -> int:
        time.sleep(0.01)
        self.made.append("first")
        return 1

    @Once
    def second(self) -> int:
        time.sleep(0.01)
        self.made.append("second")
        return self.first + 1


def test_properties_that_rest_on_each_other_are_made_once_and_nobody_waits_in_a_circle():
    for _ in range(10):
        slow = Slow([])
        with ThreadPoolExecutor(12) as pool:
            asked = [
                pool.submit(lambda at, slow=slow: slow.second if at % 2 else slow.first, at)
                for at in range(12)
            ]
            assert {one.result(timeout=20) for one in asked} == {1, 2}
        assert sorted(slow.made) == ["first", "second"]


def test_all_who_may_wait_are_fewer_than_the_threads_that_answer():
    held = sum(queue.at_once + queue.waiting for queue in (PICTURES, LISTENING, PAPERS, PLANS, EXPORTS))
    assert held < THREADS - 10
