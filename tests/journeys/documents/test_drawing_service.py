"""A service drawn as a person sees it: what the plan says is what the arrows say, what was read is what is written."""

import json
import math
import xml.etree.ElementTree as ElementTree
from datetime import UTC, datetime

import numpy as np
import pytest

from breakangle.drawings.look import Look
from breakangle.listening.pitch.measure import measure
from breakangle.model.pitch import note_hz
from breakangle.model.service_file import service_text
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.services.example_workshop.workshop import load_example
from breakangle.services.history.timeline import timeline
from breakangle.services.plans.charts import history_chart, pitch_chart, points_of, trade_chart
from breakangle.services.service_files import pictures
from breakangle.services.service_files.buzz import buzz
from breakangle.services.service_files.example import example_service
from breakangle.services.service_files.lowest import lowest_setup
from breakangle.services.service_files.pictures import buzz_map, clearance_map, elevation_of, intonation_map
from breakangle.services.service_files.predict import predict_service
from breakangle.services.service_files.service import estimate_service, plan_service
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.schema.stamp import Stamp
from drawing_setups import cut_off, overlapping, texts


@pytest.fixture(scope="module")
def service():
    return example_service()


@pytest.fixture(scope="module")
def plan(service):
    return plan_service(service)


@pytest.fixture(scope="module")
def now(service):
    return estimate_service(service)


def test_every_step_that_moves_something_here_has_its_arrow(service, plan, now):
    """Way, amount and number of each step of the plan stand on the drawing of the string it is for."""
    for one in service.instrument.in_order():
        drawn = elevation_of(service, one.string, plan, now=now, look=Look(width=1100.0))
        told = " ".join(texts(drawn))
        for number, step in enumerate(plan.steps, start=1):
            adjustment = step.adjustment
            if getattr(adjustment, "string", None) not in (None, one.string) or adjustment.adjust == "tune":
                continue
            rows = [
                row
                for row in drawn.table.rows
                if str(number) in row[1].replace(",", " ").replace(":", " ").split()
            ]
            assert rows, (one.string, number)
            if adjustment.adjust == "rod":
                turns = sum(s.adjustment.turns for s in plan.steps if s.adjustment.adjust == "rod")
                halves = round(abs(turns) * 16)  # of an eighth
                amount = f"{halves}/16" if halves % 2 else f"{halves // 2}/8"
                assert f"{'Tighten' if turns > 0 else 'Loosen'} the rod {amount} turn" in told
            else:
                assert f"{abs(adjustment.mm):.2f} mm" in told
                assert step.screw is None or step.screw in told


def test_the_drawing_writes_what_was_read(service, now):
    """Each gap that was read stands on its string's drawing within what the readings leave open."""
    seen = 0
    for one in service.instrument.in_order():
        table = elevation_of(service, one.string, now=now).table
        for reading in service.readings:
            if isinstance(reading, Gap) and reading.string == one.string:
                held = " and ".join(str(fret) for fret in reading.held)
                row = next(
                    (
                        row
                        for row in table.rows
                        if row[1].startswith(f"fret {reading.fret},") and held in row[1]
                    ),
                    None,
                )
                if row is not None:
                    mm, doubt = (float(part) for part in row[2].split(" ± "))
                    assert mm == pytest.approx(reading.mm, abs=doubt + 0.04)
                    seen += 1
    assert seen >= 6


def test_before_and_after_are_told_apart_without_colour(service, plan, now):
    drawn = elevation_of(service, 6, plan, now=now)
    root = ElementTree.fromstring(drawn.svg)
    inks = {one.get("class"): one.get("stroke-dasharray") for one in root.iter() if one.get("class")}
    assert inks["dr-string"] is None
    assert inks["dr-string-after"]
    assert {"string now", "string after the plan"} <= set(texts(drawn))


def test_maps_show_what_prediction_tells(service, now):
    predicted = predict_service(service)
    for drawn, values in (
        (intonation_map(service, now=now), [one.cents for one in predicted.strings]),
        (clearance_map(service, now=now), [one.clearance_mm for one in predicted.strings]),
    ):
        step = 0.05001 if "ntonation" in drawn.title.lower() else 0.00501
        for row, told in zip(drawn.table.rows, values, strict=True):
            for cell, value in zip(row[1:], told, strict=True):
                shown = float(cell.split(" ")[0].replace("−", "-"))
                near = 0.5 if "(not sure)" in cell else step  # what is not surely known stands in whole cents
                assert shown == pytest.approx(max(value, 0.0) if step < 0.01 else value, abs=near)


@pytest.mark.parametrize("strength", ["light", "heavy"])
def test_the_buzz_map_tells_what_was_decided(service, now, strength):
    report = buzz(service, (strength,))
    drawn = buzz_map(service, strength, now=now, found=report.map)
    cells = [cell for row in drawn.table.rows for cell in row[1:] if cell]
    assert len(cells) == len(report.map.at(strength))
    said = {"trace": "touches, not heard", "audible": "heard", "choking": "choked"}
    for verdict, words in said.items():
        counted = sum(one.verdict == verdict for one in report.map.at(strength))
        told = [cell for cell in cells if words in cell and ("not heard" in cell) == (verdict == "trace")]
        assert len(told) == counted
    assert sum(int(cell.split(" ")[0]) >= 50 for cell in cells) >= 0.9 * len(report.map.touching(strength))


def test_an_elevation_of_a_known_state_solves_nothing_again(service, plan, now, monkeypatch):
    for solves in ("estimate_service", "plan_service"):
        monkeypatch.setattr(pictures, solves, lambda *_, **__: pytest.fail("solved again"), raising=False)
    assert elevation_of(service, None, plan, now=now).svg


def test_a_shop_s_history_is_drawn(tmp_path):
    shop = shop_at(load_example(tmp_path, datetime(2026, 11, 20, tzinfo=UTC)))
    try:
        for record in shop.every(InstrumentRecord):
            visits = points_of(timeline(shop, record.id))
            assert len(visits) >= 1
            for width in (340.0, 760.0):
                drawn = history_chart(visits, name=record.name, look=Look(width=width))
                assert overlapping(drawn) == []
                assert cut_off(drawn) == []
                assert len(drawn.table.rows) == len(visits)
            points = json.loads(ElementTree.fromstring(drawn.svg).get("data-points", "[]"))
            assert all(0 <= one["x"] <= drawn.width and 0 <= one["y"] <= drawn.height for one in points)
            humid = [one for one in visits if one.humidity_percent is not None]
            assert sum("humidity" in one["words"] for one in points) == len(humid)
    finally:
        shop.close()


def test_the_worst_note_is_told_from_its_own_open_string(tmp_path):
    """Against what was read, in cents from each note at this reference, by ratios of frequency."""
    service = example_service()
    strings = {one.string: note_hz(one.note, service.reference_hz) for one in service.instrument.strings}
    off = {}
    for one in service.readings:
        if isinstance(one, Pitch) and one.harmonic is None:
            note = strings[one.string] * 2.0 ** (one.fret / 12.0)
            off[one.string, one.fret] = one.cents if one.hz is None else 1200.0 * math.log2(one.hz / note)
    errors = [cents - off.get((string, 0), 0.0) for (string, fret), cents in off.items() if fret]
    shop = shop_at(tmp_path)
    stamp = Stamp("Ada", datetime(2026, 11, 20, tzinfo=UTC))
    visit = bring_in(shop, service_text(service).encode(), "the example", stamp).visit
    (point,) = points_of(timeline(shop, visit.instrument_id))
    shop.close()
    assert point.worst_found_cents == pytest.approx(max(errors, key=abs))


def test_the_lowest_set_up_is_drawn_against_relief(service):
    reports = [lowest_setup(service, one) for one in ("light", "heavy")]
    several, single = trade_chart(reports), trade_chart(reports[:1], look=Look(width=340.0, units="inch"))
    for drawn in (several, single):
        assert overlapping(drawn) == []
        assert cut_off(drawn) == []
    assert several.table.head == ("Relief, mm", "Action, light play, mm", "Action, heavy play, mm")
    for row, light, heavy in zip(
        several.table.rows, reports[0].trade_to_set, reports[1].trade_to_set, strict=True
    ):
        assert float(row[1]) == pytest.approx(light.action_mm.mean(), abs=0.00501)
        assert float(row[2]) == pytest.approx(heavy.action_mm.mean(), abs=0.00501)
    assert single.table.head[1:] == ("Action, string 6, in", "Action, string 1, in")


def test_a_take_is_drawn_with_the_piece_that_was_used():
    """A made-up string: partials of 110 Hz that start 6 cents high and settle; the curve falls, what came out fits."""
    rate, seconds = 16_000.0, 2.0
    time_s = np.arange(int(rate * seconds)) / rate
    pitch_hz = 110.0 * 2.0 ** ((2.0 + 6.0 * np.exp(-3.0 * time_s)) / 1200.0)
    phase = 2.0 * np.pi * np.cumsum(pitch_hz) / rate
    chance = np.random.default_rng(4)
    sound = sum(0.3 / n * np.sin(n * phase) * np.exp(-1.2 * time_s) for n in range(1, 8))
    found = measure(sound + 1e-4 * chance.standard_normal(len(time_s)), rate, 0.12)
    assert found is not None
    drawn = pitch_chart(found, 110.0, title="String 5, A2, open")
    assert overlapping(drawn) == []
    assert cut_off(drawn) == []
    told = next(one for one in texts(drawn) if one.startswith("what came out"))
    assert float(told.split()[3]) == pytest.approx(2.0, abs=0.5)
    points = json.loads(ElementTree.fromstring(drawn.svg).get("data-points", "[]"))
    heights = [one["y"] for one in points]
    assert len(points) > 50
    assert np.mean(heights[:5]) < np.mean(heights[-5:]) - 5.0  # higher pitch stands higher
    assert "0.12 to 2.12 s" in drawn.description
