"""A thin top over the visits: read at each, beside the room's air; its own rate takes the place of what is usual."""

import json
import time
from datetime import UTC, datetime

import pytest
from starlette.testclient import TestClient

from breakangle.model.body import TopRead
from breakangle.model.errors import CorrectInputError
from breakangle.model.service_file import ServiceFileError, service_text
from breakangle.reference.families import family
from breakangle.services.climate.top_over_visits import (
    TopVisit,
    dome_per_percent,
    keep_top,
    top_given,
    top_over_visits,
    with_visits,
)
from breakangle.services.history.seasons import Drift
from breakangle.services.making.registry import making_job
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.service import service_from
from breakangle.services.visits.entries import service_of, take_reading
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.storage.records.records import Visit
from breakangle.storage.schema.tables import STATES
from shop_fixtures.people import ADA, START, later
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand", "shop_fixtures.shops"]
FLAT_TOP = empty_service(family("steel-acoustic-guitar"), "Wheatear")
READ = {"front": "0.3 mm", "behind": "0.9 mm", "span": "100 mm", "rise": "2.6 mm", "width": "380 mm"}


def rise(mm: float) -> TopRead:
    return TopRead(front_mm=0.0, behind_mm=0.5, span_mm=100.0, rise_mm=mm, width_mm=380.0)


def action(mm: float) -> dict:
    return {"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": mm}


def test_the_dome_s_slope_is_the_straight_line_s():
    """[derived] Points on a line give its slope back; one visit, or one air, tells nothing."""
    visits = [TopVisit(START, percent, rise(2.0 + 0.03 * percent), None) for percent in (35.0, 45.0, 60.0)]
    slope = dome_per_percent(visits)
    assert slope.value == pytest.approx(0.03, abs=1e-12)
    assert slope.uncertainty == pytest.approx(0.2 / (11.6667**2 + 1.6667**2 + 13.3333**2) ** 0.5, rel=1e-3)
    assert dome_per_percent(visits[:1]) is None
    assert dome_per_percent([visits[0], visits[0]]) is None


def test_its_own_rate_takes_the_place_of_the_usual_one():
    """Derived: 20 % more air at 0.02 mm a percent is 0.40 mm."""
    sheet = making_job("top").sheet(
        FLAT_TOP, {"humidity": "30", "usual": "50", "rate": "0.02", "rate_spread": "0.002"}
    )
    assert sheet.figures["action_mm"] == pytest.approx(0.40, abs=1e-9)
    assert making_job("top").sheet(FLAT_TOP, {"humidity": "30", "usual": "50"}).figures["action_mm"] != 0.4


def test_visits_tell_the_rate_and_stand_side_by_side(shop):
    record = add_instrument(shop, ADA, FLAT_TOP.instrument)
    for number, (percent, mm) in enumerate(((60.0, 2.6), (35.0, 2.2), (58.0, 2.55))):
        stamp = later(days=90.0 * number)
        visit = open_visit(shop, stamp, record, humidity_percent=percent, temperature_c=20.0)
        take_reading(shop, visit.id, action(mm), stamp)
        visit = keep_top(shop, visit, stamp, READ | {"rise": f"{mm} mm"})
        if number < 2:
            move_visit(shop, visit, STATES[-1], stamp)
    rows = top_over_visits(shop, record.id)
    assert [(one.humidity_percent, one.read.rise_mm, one.action_mm) for one in rows] == [
        (60.0, 2.6, 2.6), (35.0, 2.2, 2.2), (58.0, 2.55, 2.55),
    ]  # fmt: skip
    told = top_given(shop, shop.every(type(visit))[-1], {})
    assert told["humidity"] == "58"
    # Derived: two changes of air, 25 and 23 %, by 0.40 and 0.35 mm: 0.0156 mm a percent, drawn a little to the usual.
    assert 0.011 < float(told["rate"]) < 0.0157
    assert 0.0 < float(told["rate_spread"]) < 0.003
    assert top_given(shop, visit, {"humidity": "40"})["humidity"] == "40"
    service = service_of(shop, visit.id)
    assert json.loads(service_text(service))["format"] == "breakangle/service/2"
    assert service_from(service_text(service).encode(), "here").top == service.top
    with pytest.raises(CorrectInputError):
        keep_top(shop, shop.every(type(visit))[-1], ADA, READ | {"rise": "40 mm"})


def test_nothing_is_made_up_for_what_was_not_read(shop):
    """Derived: a dome that nobody read says nothing of how domes follow the air, nor does a lean that nobody read."""
    lean = {name: READ[name] for name in ("front", "behind", "span")}
    dome = {name: READ[name] for name in ("rise", "width")}
    record = add_instrument(shop, ADA, FLAT_TOP.instrument)
    visit = keep_top(shop, open_visit(shop, ADA, record, humidity_percent=97.0), ADA, lean | {"rise": " "})
    assert json.loads(visit.body)["top"] == {"front_mm": 0.3, "behind_mm": 0.9, "span_mm": 100.0}
    read = top_over_visits(shop, record.id)[0].read
    assert (read.rise_mm, read.width_mm) == (None, None)
    assert dome_per_percent([TopVisit(START, percent, read, None) for percent in (40.0, 60.0)]) is None
    sheet = making_job("top").sheet(service_of(shop, visit.id), top_given(shop, visit, {}))
    assert with_visits(sheet, top_over_visits(shop, record.id)).rows[0][2:5] == ("0.69°", "", "")
    visit = keep_top(shop, visit, ADA, dome)
    assert json.loads(visit.body)["top"] == {"rise_mm": 2.6, "width_mm": 380.0}
    assert with_visits(sheet, top_over_visits(shop, record.id)).rows[0][2:4] == ("", "2.60 mm")
    with pytest.raises(
        CorrectInputError, match=r'"width of that straight-edge from foot to foot, mm" is empty'
    ):
        keep_top(shop, visit, ADA, {"rise": "2 mm"})
    visit = keep_top(shop, visit, ADA, {})
    assert "top" not in json.loads(visit.body)
    with pytest.raises(CorrectInputError, match="no reading of the top is typed"):
        keep_top(shop, visit, ADA, {})


def test_a_top_s_day_is_the_reader_s(monkeypatch):
    """Derived: an hour before midnight, and ten hours east of it, it is the next day."""
    monkeypatch.setenv("TZ", "UTC-10")
    time.tzset()
    try:
        sheet = making_job("top").sheet(FLAT_TOP)
        late = TopVisit(datetime(2027, 3, 1, 23, 0, tzinfo=UTC), 45.0, rise(2.0), None)
        assert with_visits(sheet, [late]).rows[0][0] == "2 March 2027"
    finally:
        monkeypatch.undo()
        time.tzset()


def test_what_the_visits_tell_never_goes_beyond_what_the_sheet_takes(shop, monkeypatch):
    """A room at 97 %, and a rate of 0.3 mm a percent, which the sheet takes up to 0.2."""
    record = add_instrument(shop, ADA, FLAT_TOP.instrument)
    visit = open_visit(shop, ADA, record, humidity_percent=97.0)
    wild = Drift(0.3, 0.6, 2)
    monkeypatch.setattr("breakangle.services.climate.top_over_visits.drift", lambda *_, **__: wild)
    given = top_given(shop, visit, {})
    assert given == {"humidity": "97", "rate": "0.2000", "rate_spread": "0.5000"}
    assert "at 97 %" in making_job("top").sheet(service_of(shop, visit.id), given).lead


def test_a_wrong_top_in_a_file_is_refused_with_its_place():
    data = json.loads(service_text(FLAT_TOP)) | {"top": rise(2.0).model_dump() | {"span_mm": 1.0}}
    with pytest.raises(ServiceFileError, match=r"top\.span_mm is 1"):
        service_from(json.dumps(data).encode(), "here")
    data["top"] = {"rise_mm": 2.0}
    with pytest.raises(
        ServiceFileError, match=r"top\.width_mm is missing; it must be given where rise_mm is"
    ):
        service_from(json.dumps(data).encode(), "here")


def test_on_the_page(bench: TestClient):
    bench.post("/visits/new/import", files={"file": ("one.json", service_text(FLAT_TOP).encode())})
    done = bench.post("/visits/1/make/top", data=READ)
    assert done.url.path == "/visits/1/make/top"
    assert "1 visit has read the top" in done.text
    assert 'value="2.6 mm"' in done.text
    assert "0.69°" in done.text  # derived: arc tangent of 1.2 over 100
    assert bench.post("/visits/1/make/top", data=READ | {"rise": "far"}).status_code == 422


def test_a_closed_visit_s_page_does_not_offer_to_save(first_sheet: TestClient):
    assert "formmethod" in first_sheet.get("/visits/1/make/top").text
    shop = workshop_of(first_sheet).shop()
    visit = shop.every(Visit)[0]
    shop.change(visit, ADA, closed_at=START)
    assert "formmethod" not in first_sheet.get("/visits/1/make/top").text
