"""Courses shown as pairs on screens and paper; octaves heard open and at the 12th fret; swap tables in order."""

import re

import pytest

from breakangle.drawings.board.amounts_across import Across, amounts_across
from breakangle.reference.families import family
from breakangle.services.listening.heard_page import heard_sheet
from breakangle.services.plans.figures import Figure, paired
from breakangle.services.service_files.example import empty_service, usual_instrument
from breakangle.services.strings.sizes import typed_set
from breakangle.services.swap.comparison import swap
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.storage.records.records import Visit
from shop_fixtures.people import ADA
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]


@pytest.fixture
def twelve_string(bench):
    """Return the app with sheet 1 of a twelve-string in it."""
    shop = workshop_of(bench).shop()
    instrument = usual_instrument(family("twelve-string-guitar"), "Curlew")
    open_visit(shop, ADA, add_instrument(shop, ADA, instrument))
    return bench


def test_only_strings_that_share_a_course_have_one():
    twelve = usual_instrument(family("twelve-string-guitar"), "Curlew")
    assert [twelve.course_of(number) for number in range(1, 13)] == [1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6]
    six = usual_instrument(family("electric-guitar"), "Rook")
    assert [six.course_of(number) for number in range(1, 8)] == [None] * 7


def test_the_boxes_of_a_course_stand_together_on_the_readings(twelve_string):
    page = twelve_string.get("/visits/1/readings").text
    station = page[page.index('id="group-action"') : page.index('id="group-nut"')]
    groups = station.split('<div class="course" role="group" aria-label="Course ')[1:]
    assert [one[0] for one in groups] == ["6", "5", "4", "3", "2", "1"]
    for course, one in zip(range(6, 0, -1), groups, strict=True):
        assert re.findall(r'data-reading="gap_(\d+)_', one) == [str(2 * course), str(2 * course - 1)]


@pytest.mark.parametrize("place", ["strings", "listen", "plan", "paper/bench.txt"])
def test_every_page_and_the_bench_sheet_say_the_course(twelve_string, place):
    page = " ".join(twelve_string.get(f"/visits/1/{place}").text.split())
    assert all(f"course {number}" in page for number in range(1, 7))


def test_a_drawing_sets_the_strings_of_a_course_nearer_together():
    pairs = [Across(str(number), "E4", 0.1, (number + 1) // 2) for number in (4, 3, 2, 1)]
    drawn = amounts_across(pairs, "saddle", "cut", single=True).svg
    at = [float(x) for x in re.findall(r'<text [^>]* x="([\d.]+)"[^>]*>[1-4]</text>', drawn)]
    assert len(at) == 4
    assert at[1] - at[0] == pytest.approx(at[3] - at[2])
    assert at[1] - at[0] < at[2] - at[1]


def test_an_octave_heard_open_and_at_the_12th_fret_fills_its_line(first_sheet):
    shop = workshop_of(first_sheet).shop()
    (visit,) = shop.every(Visit)
    for fret, hz in ((0, 82.40), (12, 165.00)):
        take_reading(shop, visit.id, {"quantity": "pitch", "string": 6, "fret": fret, "hz": hz}, ADA)
    low = heard_sheet(shop, visit.id)[0]
    assert low.string == 6 and low.octave is not None
    # 1200 log2(165.00 / 164.80) [derived]
    assert low.octave.cents == pytest.approx(2.1, abs=0.01)


def test_a_swap_tells_by_quantity_from_the_low_string_to_the_high():
    service = empty_service(family("electric-guitar"))
    found = swap(service, typed_set(service, (".011in", ".014in", ".018in", ".028in", ".038in", ".049in")))
    rows = [(one.words, one.taken, one.string) for one in found.figures]
    kinds = list(dict.fromkeys(row[:2] for row in rows))
    assert rows == sorted(rows, key=lambda row: (kinds.index(row[:2]), -row[2]))
    assert [one.string for one in found.slots] == [6, 5, 4, 3, 2, 1]


def test_a_plan_has_one_row_of_figures_for_a_course():
    strings = (4, 3, 2, 1)
    found = [_figure("action", number, (number + 1) // 2) for number in strings]
    found += [_figure("relief", number, (number + 1) // 2) for number in (4, 1)]
    rows = [[one.string for one in row] for row in paired(found)]
    assert rows == [[4, 3], [2, 1], [4], [1]]
    alone = [_figure("action", number, None) for number in strings]
    assert [len(row) for row in paired(alone)] == [1, 1, 1, 1]


def _figure(quantity: str, string: int, course: int | None) -> Figure:
    return Figure(
        f"{quantity} at string {string}",
        "mm",
        1.5,
        0.02,
        1.4,
        0.1,
        1.4,
        0.02,
        "leave",
        course,
        quantity,
        string,
    )
