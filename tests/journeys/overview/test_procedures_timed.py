"""How long procedures take: from their steps, as this bench was timed, and what is declined is not asked again."""

import re
from datetime import timedelta

import pytest
from starlette.testclient import TestClient

from breakangle.procedures.facts import usual_facts
from breakangle.procedures.shelf import own_procedures
from breakangle.reference.families import families, family
from breakangle.services.procedures.at_visit import (
    procedures,
    run_all,
    run_decline,
    run_leave_out,
    run_next,
    run_seen,
    start_run,
)
from breakangle.services.procedures.shelf import told
from breakangle.services.service_files.example import example_service, usual_instrument
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA, START, later
from web_fixtures.opened import workshop_of

pytest_plugins = ["shop_fixtures.shops", "web_fixtures.at_hand"]
ROUTINE = ("take-in", "unstring", "clean-and-oil", "restring", "settle", "set-up-check", "hand-back")


@pytest.fixture
def record(shop: Shop) -> InstrumentRecord:
    return add_instrument(shop, ADA, example_service().instrument)


@pytest.mark.parametrize("kind", families())
def test_a_routine_service_is_an_hour_or_so_and_never_half_a_day(kind):
    known = usual_facts(usual_instrument(family(kind), "Rook"))
    minutes = sum(own_procedures()[name].minutes(known) for name in ROUTINE)
    most = 110 if kind == "twelve-string-guitar" else 100  # its strings are put on and stretched one by one
    assert 40 <= minutes <= most, f"{kind}: {minutes}; common practice, no source"


@pytest.mark.parametrize("name", ["nut-making", "saddle-making"])
def test_a_part_made_string_by_string_takes_longer_on_more_of_them(name):
    """Derived: four strings take two thirds of what six take, twelve twice, at the steps that go by strings alone."""
    one, known = own_procedures()[name], {"bridge": "one-piece"}
    by_string = sum(step.minutes for step in one.steps_for(known) if step.each_string)
    assert by_string > 0.25 * one.minutes(known)
    for count in 4, 6, 12:
        more = one.minutes(known | {"string-count": str(count)}) - one.minutes(known)
        assert more == pytest.approx(by_string * (count / 6 - 1.0))


def test_of_two_ways_to_hang_a_string_one_counts():
    """Derived: with the tuners unknown each of three knobs counts a third; known, one of them whole."""
    restring = own_procedures()["restring"]
    known = {"anchor": "ball", "head": "plain", "bridge": "individual"}
    told = [restring.minutes(known | {"tuners": tuners}) for tuners in ("plain", "slotted", "locking")]
    assert restring.minutes(known) == pytest.approx(sum(told) / 3)


def test_what_is_done_string_by_string_goes_with_their_number():
    """Derived: twelve strings take twice what six take, four two thirds, of the steps that say so and of no other."""
    restring = own_procedures()["restring"]
    known = {"anchor": "pins", "head": "plain", "bridge": "one-piece", "tuners": "plain"}
    steps = restring.steps_for(known)
    each, once = (sum(one.minutes for one in steps if one.each_string is way) for way in (True, False))
    assert each > once > 0.0
    for count in 4, 6, 12:
        assert restring.minutes(known | {"string-count": str(count)}) == pytest.approx(
            once + each * count / 6
        )
    of = usual_facts(usual_instrument(family("twelve-string-guitar"), "Rook"))
    assert (of["string-count"], "string-count" in restring.asks({})) == ("12", False)


def timed_run(
    shop: Shop, record: InstrumentRecord, day: int, minutes: float, pause_after: int | None = None
) -> None:
    """Store a run of settling, each step ticked `minutes` after the last, with an hour of pause after one of them."""
    visit = open_visit(shop, later(days=day), record)
    run = start_run(shop, later(days=day), visit.id, "settle", {"bridge": "individual"})
    at, step = START + timedelta(days=day), 0
    while run.seen.step is not None:
        at += timedelta(minutes=minutes + (60.0 if step == pause_after else 0.0))
        run, step = run_next(shop, ADA.__class__("Ada", at), run.begun.id, anyway=True), step + 1


def settle_on_list(shop: Shop) -> tuple[float, bool]:
    (listed,) = [one for one in procedures(shop, {"bridge": "individual"}) if one.name == "settle"]
    return listed.minutes, listed.learned


def test_a_bench_s_own_minutes_are_learned_from_three_runs_without_pauses(shop, record):
    usual, learned = settle_on_list(shop)
    assert not learned
    timed_run(shop, record, 1, 2.0)
    timed_run(shop, record, 2, 3.0)
    assert settle_on_list(shop) == (usual, False), "two runs are too few"
    timed_run(shop, record, 3, 2.5, pause_after=2)
    steps = len(own_procedures()["settle"].steps_for({"bridge": "individual"}))
    minutes, learned = settle_on_list(shop)
    assert learned
    # Derived: the median of 2, 3 and 2.5 minutes a step; the step with the pause has but two times, and keeps its own.
    paused = own_procedures()["settle"].steps_for({"bridge": "individual"})[2]
    assert minutes == pytest.approx(2.5 * (steps - 1) + paused.minutes)


def test_what_is_ticked_at_once_teaches_nothing(shop, record):
    for day in range(4):
        visit = open_visit(shop, later(days=day), record)
        run = start_run(shop, later(days=day), visit.id, "settle")
        run_all(shop, later(days=day, minutes=5), run.begun.id)
    assert settle_on_list(shop)[1] is False


@pytest.fixture
def visit(shop: Shop, record: InstrumentRecord) -> Visit:
    return open_visit(shop, ADA, record)


def test_a_declined_step_is_not_asked_for_again_in_the_visit(shop, visit):
    first = start_run(shop, ADA, visit.id, "clean-and-oil", {"board": "bare"})
    left = run_leave_out(shop, ADA, first.begun.id, "no cover wanted", "cover")
    rub = run_seen(shop, left.begun.id, START).seen
    assert rub.step is not None
    assert rub.step.id == "rub"
    assert rub.against == (), "covering was declined: it is not asked for again"
    again = start_run(shop, later(minutes=9), visit.id, "clean-and-oil")
    assert again.seen.step is not None
    assert again.seen.step.id == "rub"
    assert "cover" in again.seen.left_out


def test_what_can_do_harm_is_said_although_it_was_declined(shop, visit):
    run = start_run(shop, ADA, visit.id, "unstring")
    while run.seen.step is not None and run.seen.step.id != "slacken":
        run = run_next(shop, ADA, run.begun.id, anyway=True)
    run = run_leave_out(shop, ADA, run.begun.id)
    assert run.seen.step is not None
    assert run.seen.step.id == "cut"
    assert any("shocks the neck" in one.reason for one in run.seen.against)


def test_a_declined_procedure_is_neither_asked_again_nor_counted(shop, visit):
    run = run_decline(shop, ADA, start_run(shop, ADA, visit.id, "settle").begun.id)
    assert run.is_declined
    hand_back = start_run(shop, later(minutes=1), visit.id, "hand-back")
    hand_back = run_next(shop, later(minutes=2), hand_back.begun.id)
    assert hand_back.seen.against == ()


def test_the_page_sums_what_is_open_and_declines_by_a_button_of_its_own(first_sheet: TestClient):
    def open_minutes(page: str) -> float:
        found = re.search(r"Everything still open here takes about (\d+) min", page)
        assert found is not None
        return float(found[1])

    before = first_sheet.get("/visits/1/work").text
    assert open_minutes(before) < 200
    assert '<button class="plain" form="decline" name="decline" value="nut-slots">' in before
    first_sheet.post("/visits/1/work", data={"decline": "nut-slots"})
    after = first_sheet.get("/visits/1/work").text
    assert open_minutes(after) <= open_minutes(before) - 10
    assert 'value="nut-slots"' not in after
    assert "not in this visit" in after


def test_step_page_and_verb_show_the_minutes_that_this_bench_took(first_sheet: TestClient):
    """The median of three runs of two, three and four minutes a step is three [derived]."""
    shop = workshop_of(first_sheet).shop()
    instrument = shop.every(InstrumentRecord)[0]
    page = first_sheet.get("/visits/1/procedures/settle").text
    assert "as timed here" not in page
    usual = told("settle", {"bridge": "individual"}, shop)
    for day, minutes in enumerate((2.0, 3.0, 4.0), start=1):
        timed_run(shop, instrument, day, minutes)
    assert "3 min, as timed here" in first_sheet.get("/visits/1/procedures/settle").text
    learned = told("settle", {"bridge": "individual"}, shop)
    steps = len(own_procedures()["settle"].steps_for({"bridge": "individual"}))
    assert f"About {3 * steps} minutes, as this bench has taken before." in learned
    assert learned != usual
