"""One instrument's timeline: what each visit found and left, its strings and photographs; on both engines."""

import io
from functools import partial

import pytest
from rich.console import Console

from breakangle.cli.render.pages.today import print_timeline
from breakangle.cli.render.units import Units
from breakangle.model.pitch import note_hz
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.reference.families import family
from breakangle.services.history.drift import season_figures
from breakangle.services.history.timeline import timeline
from breakangle.services.service_files.example import example_service, usual_instrument
from breakangle.services.strings.shelf import add_stock
from breakangle.services.visits.entries import correct, do_adjustment, service_of, take_reading, undo
from breakangle.services.visits.used_parts import use_stock
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.services.workshop.attachments import attach
from breakangle.storage.records.entries import take_entry
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.schema.errors import NoSuchRecordError
from shop_fixtures.filled import picture
from shop_fixtures.people import ADA, BO, GAP, ROD, later
from shop_fixtures.statements import scans, sent_by

pytest_plugins = ["shop_fixtures.shops"]
FEW, VISITS = 4, 40
RELIEF = {"quantity": "gap", "string": 6, "fret": 8, "held": [1, 17]}
OPEN, TWELFTH = ({"quantity": "pitch", "string": 6, "fret": fret} for fret in (0, 12))


@pytest.fixture
def record(shop) -> InstrumentRecord:
    return add_instrument(shop, ADA, usual_instrument(family("electric-guitar"), "Rook"))


def test_a_visit_is_told_as_found_and_as_left(shop, record):
    visit = open_visit(shop, ADA, record, "buzzes", humidity_percent=41.0)
    read = [RELIEF | {"mm": 0.30}, GAP | {"mm": 2.0}, GAP | {"mm": 2.2, "string": 5}]
    read += [OPEN | {"cents": 2.0}, TWELFTH | {"cents": 9.5}, TWELFTH | {"cents": -3.0, "string": 5}]
    for one in read:
        take_reading(shop, visit.id, one, ADA)
    do_adjustment(shop, visit.id, ROD, ADA)
    take_reading(shop, visit.id, RELIEF | {"mm": 0.0}, ADA)
    do_adjustment(shop, visit.id, {"adjust": "saddle-position", "string": 6, "mm": 1.0}, ADA)
    take_reading(shop, visit.id, TWELFTH | {"cents": 1.5}, BO)
    (row,) = timeline(shop, record.id)
    assert (row.visit.id, row.visit.humidity_percent, row.adjustment_count) == (visit.id, 41.0, 2)
    figures = row.figures
    assert (figures.relief_found_mm, figures.relief_left_mm) == (0.30, 0.0)
    assert (figures.action_found_mm, figures.action_left_mm) == (pytest.approx(2.1), pytest.approx(2.1))
    worst = row.intonation_found
    assert (worst.string, worst.fret, worst.cents) == (6, 12, 7.5)  # against its own open string
    assert (row.intonation_left.string, row.intonation_left.cents) == (6, 1.5)
    assert row.visit.temperature_c is None


def test_only_what_stands_counts(shop, record):
    visit = open_visit(shop, ADA, record)
    wrong = take_reading(shop, visit.id, RELIEF | {"mm": 0.9}, ADA)
    correct(shop, wrong.id, RELIEF | {"mm": 0.3}, "misread", BO)
    undo(shop, take_reading(shop, visit.id, GAP | {"mm": 4.0}, ADA).id, ADA)
    undo(shop, do_adjustment(shop, visit.id, ROD, ADA).id, ADA)
    (row,) = timeline(shop, record.id)
    assert (row.figures.relief_found_mm, row.figures.action_found_mm, row.adjustment_count) == (0.3, None, 0)
    assert row.intonation_found is None
    shop.delete(visit, ADA)
    assert timeline(shop, record.id) == ()
    with pytest.raises(NoSuchRecordError, match="is not in this shop"):
        timeline(shop, "nothing")


def acted(shop, visit, heights: dict[int, float]) -> None:
    for string, mm in heights.items():
        take_reading(shop, visit.id, GAP | {"string": string, "mm": mm}, ADA)


def saddle(shop, visit, string: int, mm: float) -> None:
    do_adjustment(shop, visit.id, {"adjust": "saddle-height", "string": string, "mm": mm}, ADA)


def action_of(shop, record) -> tuple[float | None, float | None, float | None]:
    ends = timeline(shop, record.id)[-1].figures.action
    return ends.found_mm, ends.left_mm, ends.elsewhere_mm


def test_found_and_left_are_of_the_same_places(shop, record):
    """One string lowered by 0.3 mm of six lowers their mean by 0.05 mm, read again or not."""
    visit = open_visit(shop, ADA, record)
    acted(shop, visit, {6: 1.8, 5: 1.5, 4: 1.5, 3: 1.5, 2: 1.35, 1: 1.35})
    saddle(shop, visit, 6, -0.3)
    acted(shop, visit, {6: 1.5})
    assert action_of(shop, record) == (pytest.approx(1.5), pytest.approx(1.45), None)
    saddle(shop, visit, 5, -0.2)  # not read again: string 5 says nothing of before and after
    assert action_of(shop, record) == (pytest.approx(1.5), pytest.approx(1.44), None)
    do_adjustment(shop, visit.id, ROD, ADA)  # moves them all
    acted(shop, visit, {6: 1.7})
    assert action_of(shop, record) == (pytest.approx(1.8), pytest.approx(1.7), None)


def test_a_place_read_twice_counts_once_as_read_last(shop, record):
    visit = open_visit(shop, ADA, record)
    acted(shop, visit, {6: 2.4, 1: 1.6})
    acted(shop, visit, {6: 2.0})
    assert action_of(shop, record)[:2] == (pytest.approx(1.8), pytest.approx(1.8))


def test_other_places_read_at_the_end_are_told_but_are_no_change(shop, record):
    visit = open_visit(shop, ADA, record)
    acted(shop, visit, {6: 2.0})
    do_adjustment(shop, visit.id, ROD, ADA)
    acted(shop, visit, {1: 1.5})
    assert action_of(shop, record) == (pytest.approx(2.0), None, pytest.approx(1.5))
    out = io.StringIO()
    print_timeline(Console(file=out, width=80), "Rook", timeline(shop, record.id), Units("mm"))
    assert "2.00; elsewhere 1.50" in out.getvalue()


def test_a_pitch_in_hertz_is_told_in_cents_even_on_other_strings(shop, record):
    visit = open_visit(shop, ADA, record)
    low = usual_instrument(family("electric-guitar"), "Rook").in_order()[-1]
    # An octave is 1200 cents and a semitone 100 (ISO 16, equal temperament): 2 Hz × 2^(10 / 1200) lies 10 above.
    hz = note_hz(low.note)
    take_reading(shop, visit.id, OPEN | {"hz": hz}, ADA)
    take_reading(shop, visit.id, TWELFTH | {"hz": hz * 2 * 2 ** (10 / 1200)}, ADA)
    down = {"adjust": "restring", "strings": [low.model_dump(exclude_unset=True) | {"note": "D2"}]}
    do_adjustment(shop, visit.id, down, ADA)
    take_reading(shop, visit.id, OPEN | {"hz": note_hz("D2")}, ADA)
    take_reading(shop, visit.id, TWELFTH | {"hz": note_hz("D3") * 2 ** (-4 / 1200)}, ADA)
    (row,) = timeline(shop, record.id)
    assert row.intonation_found.cents == pytest.approx(10.0, abs=1e-6)
    assert row.intonation_left.cents == pytest.approx(-4.0, abs=1e-6)


def test_strings_photographs_and_what_was_used(shop, record):
    visit = open_visit(shop, ADA, record)
    strings = [one.model_dump(exclude_unset=True) for one in example_service().instrument.strings]
    do_adjustment(shop, visit.id, {"adjust": "restring", "strings": strings}, later(minutes=7, who="Bo"))
    attach(shop, ADA, visit, "photograph", "front.png", picture())
    attach(shop, ADA, visit, "recording", "low e.wav", b"RIFF not much of a recording")
    attach(shop, ADA, record, "photograph", "case.png", picture())
    use_stock(shop, visit, add_stock(shop, ADA, "plain steel set, light", 3), 1, ADA)
    second = open_visit(shop, later(days=90), record)
    row, last = timeline(shop, record.id)
    (fitted,) = row.strings_fitted
    assert (fitted.at, fitted.who, len(fitted.strings)) == (later(minutes=7).at, "Bo", len(strings))
    assert fitted.strings[0] == (1, strings[0]["note"], strings[0]["diameter_mm"])
    assert [one.name for one in row.photographs] == ["front.png"]
    assert [one.name for one in row.recordings] == ["low e.wav"]
    assert [one.count for one in row.used] == [1]
    assert (last.visit.id, last.strings_fitted, last.photographs, last.used) == (second.id, (), (), ())


def test_the_quick_way_finds_what_the_checked_way_finds(shop, record):
    """Season figures read from the entries against those read from the visit as a service."""
    for number in range(3):
        visit = open_visit(shop, later(days=100 * number), record, humidity_percent=40.0 + number)
        for string in range(1, 7):
            take_reading(shop, visit.id, RELIEF | {"string": string, "mm": 0.2 + string / 100}, ADA)
            take_reading(shop, visit.id, GAP | {"string": string, "mm": 1.5 + string / 10}, ADA)
            take_reading(shop, visit.id, GAP | {"string": string, "fret": 1, "held": [3], "mm": 0.2}, ADA)
    for visit, figures in zip(timeline(shop, record.id), season_figures(shop, record.id), strict=True):
        gaps = [one for one in service_of(shop, visit.visit.id).readings if isinstance(one, Gap)]
        relief = [one.mm for one in gaps if len(one.held) == 2]
        action = [one.mm for one in gaps if len(one.held) < 2 and one.fret >= 11]
        assert visit.figures == figures
        assert figures.relief_found_mm == pytest.approx(sum(relief) / 6)
        assert figures.action_left_mm == pytest.approx(sum(action) / 6)


def test_forty_visits_take_no_more_statements_than_four(shop, record):
    """What a timeline asks must not grow with its visits; how long it takes, `python -m bench records` says."""
    asked = {}
    for number in range(VISITS):
        visit = open_visit(shop, later(days=10 * number), record, humidity_percent=40.0)
        with shop.writing() as connection:
            for count in range(30):
                body = f'{{"quantity":"gap","string":{1 + count % 6},"fret":12,"held":[1],"mm":1.8}}'
                take_entry(connection, visit.id, "reading", body, ADA)
        if number + 1 in (FEW, VISITS):
            rows, sent = sent_by(shop, partial(timeline, shop, record.id))
            assert len(rows) == number + 1
            assert all(one.figures.action_found_mm == pytest.approx(1.8) for one in rows)
            assert scans(shop, sent) == set()
            asked[number + 1] = len(sent)
    assert asked[VISITS] == asked[FEW] > 0
