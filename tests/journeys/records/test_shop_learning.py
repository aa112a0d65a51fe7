"""What necks have taught is wired in; drift, what comes due, prices, lists, and the example workshop."""

import csv
import io
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from breakangle.model.errors import CorrectInputError
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.estimate.learning import responses_of
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.reference.families import family
from breakangle.services.example_workshop.people import INSTRUMENTS, NEW_HERE
from breakangle.services.example_workshop.simulated_instrument import MadeUpInstrument
from breakangle.services.example_workshop.workshop import (
    example_folder,
    load_example,
    remove_example,
)
from breakangle.services.history.drift import Drift, drift, due, due_for
from breakangle.services.history.figures import Ends, SeasonFigures
from breakangle.services.history.learning import family_lessons, learned, plan_visit
from breakangle.services.overview.exports import calendar_text, csv_text, list_names
from breakangle.services.plans.solved_visits import expecting
from breakangle.services.service_files.example import example_text, usual_instrument
from breakangle.services.service_files.service import estimate_service
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import add_instrument, add_owner, history, instrument_of, open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.prices import add_line, bill, set_setting
from breakangle.storage.backup.examine import examine
from breakangle.storage.records.records import InstrumentRecord, Owner, Visit
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA, GAP, START, later

pytest_plugins = ["shop_fixtures.shops"]
RELIEF = {"quantity": "gap", "string": 6, "fret": 8, "held": [1, 17], "uncertainty_mm": 0.015}


def estimated(shop: Shop, visit: Visit) -> Estimate:
    """The state of a visit's instrument, from what earlier visits taught of its neck."""
    service = service_of(shop, visit.id)
    return estimate(service, prior=expecting(shop, visit.id, service).belief)


def rod_visit(shop, name: str, per_turn_mm: float, seed: int) -> Visit:
    """Store a visit of a made-up neck whose rod does `per_turn_mm`, turned there and back by quarters."""
    made_up = MadeUpInstrument(usual_instrument(family("electric-guitar"), name), np.random.default_rng(seed))
    record = add_instrument(shop, ADA, made_up.instrument)
    visit = open_visit(shop, ADA, record, humidity_percent=45.0)
    mm = 0.60  # a relief that reads nothing would teach nothing of the rod
    for turns in (0.25, 0.25, -0.25):
        take_reading(shop, visit.id, RELIEF | {"mm": round(mm, 3)}, ADA)
        do_adjustment(shop, visit.id, RodTurn(turns=turns), ADA)
        mm += turns * per_turn_mm
    take_reading(shop, visit.id, RELIEF | {"mm": round(mm, 3)}, ADA)
    return visit


def test_a_finished_adjustment_updates_what_this_neck_is_known_to_do(shop):
    visit = rod_visit(shop, "Rook", -0.60, 1)
    known = learned(shop, visit.instrument_id)
    assert known is not None
    direct = responses_of(estimate_service(service_of(shop, visit.id)))
    assert known.mean == pytest.approx(direct.mean)
    before = known.mean[0]
    do_adjustment(shop, visit.id, RodTurn(turns=-0.25), ADA)
    take_reading(shop, visit.id, RELIEF | {"mm": 0.60}, ADA)
    again = learned(shop, visit.instrument_id)
    assert again is not None
    assert again.mean[0] != before
    assert again.covariance[0, 0] < known.covariance[0, 0]


def test_a_neck_that_was_only_read_has_taught_nothing(shop):
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    assert learned(shop, visit.instrument_id) is None
    do_adjustment(shop, visit.id, RodTurn(turns=0.25), ADA)
    assert learned(shop, visit.instrument_id) is None


def test_the_next_visit_starts_from_what_this_neck_taught(shop):
    first = rod_visit(shop, "Rook", -0.60, 1)
    record = shop.get(InstrumentRecord, first.instrument_id)
    second = open_visit(shop, later(days=180), record)
    take_reading(shop, second.id, RELIEF | {"mm": 0.45}, later(days=180))
    place = estimated(shop, second).picture.layout["rod"][0]
    known = estimated(shop, second).belief
    alone = estimate_service(service_of(shop, second.id)).belief
    assert known.covariance[place, place] < 0.5 * alone.covariance[place, place]
    assert plan_visit(shop, second.id).verdict in ("leave", "adjust", "beyond-setup")


def test_a_new_neck_of_the_family_starts_from_what_the_others_taught(shop):
    for number in range(4):
        visit = rod_visit(shop, f"Rook {number}", -0.80, number)
        if number:
            shop.change(shop.get(Visit, visit.id), ADA, state="handed back", handed_back_at=ADA.at)
    record = add_instrument(shop, ADA, usual_instrument(family("electric-guitar"), "Jackdaw"))
    visit = open_visit(shop, ADA, record)
    assert (
        len(family_lessons(shop, "electric-guitar", besides=record.id)) == 3
    )  # the one on the bench teaches nobody yet
    assert family_lessons(shop, "bass-four", besides=record.id) == ()
    taught, alone = estimated(shop, visit), estimate_service(service_of(shop, visit.id))
    place = taught.picture.layout["rod"][0]
    assert taught.belief.mean[place] < alone.belief.mean[place] < 0
    assert taught.belief.covariance[place, place] < alone.belief.covariance[place, place]


def test_many_who_ask_at_one_moment_learn_the_same(shop):
    visit = rod_visit(shop, "Rook", -0.60, 1)
    with ThreadPoolExecutor(6) as pool:
        found = list(pool.map(lambda _: learned(shop, visit.instrument_id), range(6)))
    assert all(one is not None and one.mean == pytest.approx(found[0].mean) for one in found)


SPOT = (6, 8, (1, 17))


def seasons(slope: float, noise: np.ndarray) -> list[SeasonFigures]:
    humidity = [35.0, 55.0, 32.0, 60.0, 40.0]
    found, left = [], 0.25
    for number, percent in enumerate(humidity):
        moved = slope * (percent - humidity[number - 1]) if number else 0.0
        at = datetime(2025 + number // 2, 1 + 6 * (number % 2), 10, tzinfo=UTC)
        relief = Ends({SPOT: left + moved + noise[number]}, {SPOT: 0.25})
        found.append(SeasonFigures(at, percent, relief))
        left = 0.25
    return found


@given(st.floats(-0.01, 0.01), st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_drift_is_found_within_four_of_its_own_uncertainties(slope, seed):
    noise = np.random.default_rng(seed).normal(0, 0.03, 5)
    known = drift(seasons(slope, noise))
    assert known.pairs == 4
    assert abs(known.mm_per_percent - slope) < 4 * known.uncertainty


def test_without_humidity_nothing_is_claimed():
    bare = [SeasonFigures(START, None, Ends({SPOT: 0.3}, {SPOT: 0.25}))] * 3
    assert drift(bare) == Drift(0.0, 0.01, 0)


def test_drift_compares_the_same_places_only():
    """The dry visit read string 6 alone, 0.05 mm lower than it was left: other strings say nothing of that."""
    low, high = (6, 12, (1,)), (1, 12, (1,))
    damp = SeasonFigures(START, 60.0, action=Ends({low: 2.0, high: 1.5}, {low: 2.0, high: 1.5}))
    dry = SeasonFigures(START, 40.0, action=Ends({low: 1.95}, {low: 1.95}))
    other = SeasonFigures(START, 60.0, action=Ends({high: 1.5}, {high: 1.5}))
    told = drift([damp, dry], action=True)
    information = 1 / 0.01**2 + 20.0**2 / (2 * 0.02**2 + 0.03**2)
    assert told.mm_per_percent == pytest.approx(20.0 * 0.05 / (2 * 0.02**2 + 0.03**2) / information)
    assert (told.pairs, drift([damp, dry, other], action=True)) == (1, told)


def test_what_comes_due_comes_from_drift_strings_and_playing(shop):
    record = add_instrument(shop, ADA, usual_instrument(family("electric-guitar"), "Rook"))
    record = shop.change(record, ADA, strings_changed_at=START, playing_hours_per_week=10.0)
    visits = seasons(0.008, np.zeros(5))
    room = {1: 35.0, 4: 45.0, 7: 60.0}
    found = {one.what: one for one in due_for(record, room, visits)}
    assert found["new strings"].on == date(2027, 3, 22)  # 100 hours at 10 a week are 70 days
    assert found["a check"].on == date(2027, 7, 11)
    # Left at 40 %: 0.008 mm for each percent makes 0.16 mm by July, 0.04 mm by April.
    assert found["relief"].on == date(2027, 7, 1)
    assert "+0.1" in found["relief"].why
    quiet = shop.change(record, ADA, playing_hours_per_week=1.0)
    found = {one.what: one for one in due_for(quiet, room, visits)}
    assert found["new strings"].on == date(2027, 7, 10)
    assert found["a check"].on == date(2028, 1, 10)


def test_a_bill_adds_up_to_the_cent(shop):
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    set_setting(shop, "tax_percent", "19", ADA)
    add_line(shop, ADA, visit, "labour", "set-up", "0.335", "3")
    add_line(shop, ADA, visit, "part", "strings", "12,95")
    found = bill(shop, visit)
    # By hand: 1.005 is 1.01; with 12.95 that is 13.96; 19 % of it 2.6524, so 2.65.
    assert (found.net, found.tax, found.total) == (Decimal("13.96"), Decimal("2.65"), Decimal("16.61"))
    set_setting(shop, "tax_included", "yes", ADA)
    found = bill(shop, visit)
    assert (found.net, found.tax, found.total) == (Decimal("11.73"), Decimal("2.23"), Decimal("13.96"))
    for name, value in (
        ("tax_percent", "much"),
        ("tax_percent", "-1"),
        ("currency", "euro"),
        ("colour", "red"),
    ):
        with pytest.raises(CorrectInputError):
            set_setting(shop, name, value, ADA)
    for amount in ("ten", "NaN", "1e99"):
        with pytest.raises(CorrectInputError):
            add_line(shop, ADA, visit, "part", "strings", amount)


def test_every_list_is_csv_and_no_cell_is_a_formula(shop):
    add_owner(shop, ADA, "=HYPERLINK(1)", 'says "hello", twice')
    bring_in(shop, example_text().encode(), "a file", ADA)
    for name in list_names():
        rows = list(csv.reader(io.StringIO(csv_text(shop, name), newline="")))
        assert len({len(row) for row in rows}) == 1
    (row,) = csv.DictReader(io.StringIO(csv_text(shop, "owners"), newline=""))
    assert (row["name"], row["contact"]) == ("'=HYPERLINK(1)", 'says "hello", twice')
    assert len(csv_text(shop, "entries").splitlines()) == 1 + 27
    with pytest.raises(CorrectInputError, match="one of owners"):
        csv_text(shop, "secrets")


@pytest.fixture(scope="module")
def example(tmp_path_factory):
    """Return the example workshop as made for a day, and the folder it lies beside."""
    folder = tmp_path_factory.mktemp("data")
    shop = shop_at(load_example(folder, START))
    yield shop, folder
    shop.close()


def test_the_example_workshop_is_what_it_says(example):
    shop, _ = example
    instruments = shop.every(InstrumentRecord)
    known, new = {row[0] for row in INSTRUMENTS}, {row[0] for row in NEW_HERE}
    assert {one.name for one in instruments} == known | new
    assert len({one.kind for one in instruments}) >= 5
    visits = shop.every(Visit)
    assert max(one.opened_at for one in visits) <= START
    assert (max(one.opened_at for one in visits) - min(one.opened_at for one in visits)).days > 600
    assert all(len(history(shop, one.id)) >= (3 if one.name in known else 1) for one in instruments)
    assert max(one.humidity_percent for one in visits) - min(one.humidity_percent for one in visits) > 20
    assert [one.what for one in examine(shop, START) if not one.well and "backup" not in one.what] == []
    for visit in visits:
        service_of(shop, visit.id)


def test_the_example_teaches_and_comes_due(example):
    shop, _ = example
    heron = next(one for one in shop.every(InstrumentRecord) if one.name == "Heron")
    assert learned(shop, heron.id) is not None
    found = due(shop)
    assert {"new strings", "a check", "relief"} <= {one.what for one in found}
    assert [one.on for one in found] == sorted(one.on for one in found)
    calendar = Calendar.from_ical(calendar_text(found, START))
    events = calendar.walk("VEVENT")
    assert len({str(one["uid"]) for one in events}) == len(found)
    assert [one.decoded("dtstart") for one in events] == [one.on for one in found]
    assert calendar_text(found, START) == calendar_text(found, START)


def test_the_example_is_removed_in_one_action_and_the_users_own_stays(tmp_path):
    own = shop_at(tmp_path)
    owner = add_owner(own, ADA, "mine")
    place = example_folder(tmp_path)
    (place / "blobs").mkdir(parents=True)
    shop_at(place).close()
    with pytest.raises(CorrectInputError, match="there already"):
        load_example(tmp_path, START)
    remove_example(tmp_path)
    assert not place.exists()
    assert own.every(Owner) == (owner,)
    with pytest.raises(CorrectInputError, match="no example workshop"):
        remove_example(tmp_path)
    own.close()


def test_a_made_up_instrument_can_be_read_in_every_family():
    from breakangle.reference.families import families

    for kind in families():
        made_up = MadeUpInstrument(usual_instrument(family(kind), kind), np.random.default_rng(3))
        readings = made_up.usual_readings()
        assert len(readings) >= 4 * len(made_up.instrument.strings)
        assert all(one["mm"] < 6.0 for one in readings if one["quantity"] == "gap")


def test_the_instrument_of_a_record_is_the_models(shop):
    record = add_instrument(shop, ADA, usual_instrument(family("mandolin"), "Wren"))
    assert instrument_of(record) == usual_instrument(family("mandolin"), "Wren")
    visit = open_visit(shop, ADA, record)
    with pytest.raises(CorrectInputError):
        take_reading(shop, visit.id, GAP | {"fret": 99}, ADA)
