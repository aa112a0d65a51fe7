"""The plan of a whole job on the screens: trip by trip; the first cut is made part of the way and read."""

import re

from playwright.sync_api import Locator, expect

from web_fixtures.ready import press
from web_fixtures.whole_job import FOOT, MOST_MOVES, Job

MOST_TRIPS = 4  # that a plan may ask for at once


def follow_the_plan(bench: Job, most: int = MOST_MOVES) -> list[str]:
    """Do the plan's trips and read what it asks for, until nothing is left to do; return the trips made.

    After the `most` trips a person leaves it at that: what is outside then goes back with a reason.
    """
    page, trips, part_way = bench.page, list[str](), False
    bench.go("Plan")
    for _ in range(MOST_MOVES):
        bench.read_what_is_asked()
        bench.fits("plan")
        if page.locator("#done").count() == 0 or len(trips) == most:
            return trips
        card = page.locator("section.trip").first
        count, _, name = card.locator("h2").inner_text().partition(": ")
        assert int(count.rpartition(" ")[2]) <= MOST_TRIPS, count
        lines = card.locator("ol.lines > li")
        if not part_way and "Part way" in lines.first.inner_text():
            part_way = _part_way(bench, card)
            continue
        for each in lines.locator("input[type=checkbox]").all():
            each.check()
        trips.append(name)
        _store_trip(bench)
    raise AssertionError("the plan does not end")


def _part_way(bench: Job, card: Locator) -> bool:
    """Cut the first of a trip as far as the plan says to stop, and store that much."""
    said = card.locator("ol.lines > li").first.inner_text()
    stop = re.findall(r"stop about (\d+\.\d+) mm", said)[0]
    bench.press(card.get_by_text("Otherwise than planned"))
    card.locator("[name^='amount:']").first.fill(stop)
    card.locator("ol.lines input[type=checkbox]").first.check()
    before = len(bench.records()[1].work)
    _store_trip(bench)
    last = bench.records()[1].work[-1]
    assert len(bench.records()[1].work) == before + 1
    assert abs(last.mm) == float(stop), (said, last)  # type: ignore[attr-defined]
    bench.part_way = stop
    return True


def _store_trip(bench: Job) -> None:
    """Store what is ticked: by the pedal's second key once, where there is a pedal."""
    page = bench.page
    if bench.hand == "pedal" and not bench.by_foot:
        bench.by_foot = True
        page.evaluate("document.activeElement?.blur?.()")
        press(page, FOOT)
        expect(page.locator("#about-to")).to_contain_text("About to be stored")
        page.wait_for_timeout(1100)
        with page.expect_navigation():
            press(page, FOOT)
    else:
        bench.store(page.locator("#done"))
    bench.catch_up()
