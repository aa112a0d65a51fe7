"""Sheets of unusual instruments: each string by its own frets, what the work put out, what only some strings tell."""

import io
import json
import re

import pdfplumber
import pytest

from breakangle.model.service_file import service_text
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.state.board import board_of
from breakangle.services.documents.labels import label_of, labels_file
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.service_files.pictures import intonation_map
from breakangle.services.service_files.service import service_from
from breakangle.services.visits.entries import do_adjustment, take_reading
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import Visit
from paper_fixtures.instruments import family_service
from shop_fixtures.people import ADA, START, later


@pytest.fixture
def shop(tmp_path):
    made = shop_at(tmp_path)
    yield made
    made.close()


def gap(string: int, fret: int, held: list[int], mm: float, **more) -> dict:
    return {"quantity": "gap", "string": string, "fret": fret, "held": held, "mm": mm, **more}


def content(kind: str, *readings: dict) -> bytes:
    return json.dumps(json.loads(service_text(family_service(kind))) | {"readings": readings}).encode()


def taken_in(shop, kind: str, *readings: dict):
    return bring_in(shop, content(kind, *readings), "a file", ADA).visit


def said(shop, visit, sheet: str = "hand-back", pictures: bool = False) -> str:
    return " ".join(sheet_file(shop, visit, sheet, form="txt", pictures=pictures).decode().split())


def test_a_bench_sheet_tells_which_strings_are_read_otherwise(shop):
    """A banjo's short fifth string has its octave at fret 17; the other four have theirs at 12."""
    text = said(shop, taken_in(shop, "banjo-five"), "bench")
    assert "Action: over fret 12, fret 1 held (string 5: over fret 17, fret 6 held)" in text
    assert "Intonation: fret 12 against the open string (string 5: fret 17 against the open string)" in text


def test_boxes_to_read_again_are_empty_until_something_was_read_again(shop):
    visit = taken_in(shop, "electric-guitar", gap(6, 12, [1], 2.17))
    came, again = said(shop, visit, "bench").split("4 READ AGAIN")
    assert "2.17" in came and "2.17" not in again
    do_adjustment(shop, visit.id, {"adjust": "saddle-height", "string": 6, "mm": -0.4}, later(minutes=5))
    take_reading(shop, visit.id, gap(6, 12, [1], 1.93), later(minutes=6))
    came, again = said(shop, visit, "bench").split("4 READ AGAIN")
    assert "2.17" in came and "1.93" not in came
    assert "1.93" in again and "2.17" not in again


def test_a_bench_sheet_carries_the_cautions_of_its_steps(shop):
    """Relief and nut stand as they should, each read twice, so that the saddle may be cut."""
    service = family_service("steel-acoustic-guitar")
    others = [
        target_kind(one).as_reading(one, target_kind(one).wanted(one), 0.02).model_dump(exclude_none=True)
        for one in targets_of(service, board_of(service.instrument)).wanted
        if isinstance(one, GapTarget) and trade_name(one) != "action"
    ]
    high = [gap(string, 12, [1], 2.4, unit="mm") for string in range(1, 7)] * 2 + others * 2
    text = said(shop, taken_in(shop, "steel-acoustic-guitar", *high), "bench")
    assert "off the saddle" in text
    assert text.count("dust is harmful: wet work or extraction, and a mask of class FFP3.") == 1


def test_what_the_work_put_out_is_not_called_still_out(shop):
    visit = taken_in(shop, "electric-guitar", *(gap(one, 12, [1], 1.1 + 0.05 * one) for one in range(1, 7)))
    assert "Action (the height of the strings over the 12th fret): as it should be" in said(shop, visit)
    do_adjustment(shop, visit.id, {"adjust": "saddle-height", "string": 6, "mm": -2.0}, later(minutes=5))
    take_reading(shop, visit.id, gap(6, 12, [1], 0.5), later(minutes=6))
    text = said(shop, visit)
    assert "Action is now too low at string 6" in text
    assert "still too low" not in text


def test_ranges_of_unlike_strings_say_of_which(shop):
    visit = taken_in(shop, "electric-guitar", gap(6, 12, [1], 2.2))
    do_adjustment(shop, visit.id, {"adjust": "tune"}, later(minutes=5))
    assert "is known of" not in said(shop, visit)
    take_reading(shop, visit.id, gap(1, 12, [1], 1.9), later(minutes=6))
    told = r"Action is known of string 6 as it came, and of strings 1 and 6 as it stands\."
    assert re.search(told, said(shop, visit))


def test_a_sheet_of_nothing_read_and_nothing_done_promises_no_list_of_work(shop):
    visit = taken_in(shop, "ukulele-soprano")
    assert "Nothing that was read tells enough to say how it plays. WHAT WE FOUND" in said(shop, visit)
    do_adjustment(shop, visit.id, {"adjust": "tune"}, later(minutes=5))
    assert "how it plays; this sheet says what was done." in said(shop, visit)


def test_a_map_of_notes_states_nothing_surely_of_strings_that_nobody_heard():
    octave = [
        {"quantity": "pitch", "string": 8, "fret": fret, "cents": cents} for fret, cents in ((0, 0), (12, 2))
    ]
    drawn = intonation_map(service_from(content("mandolin", *octave), "a file"))
    rows = {row[0]: row for row in drawn.table.rows}
    heard, unheard = rows["8, G3"], rows["3, A4"]
    assert "not sure" not in heard[12]
    assert "not sure" in unheard[12]
    assert all("much too" not in cell for cell in unheard[1:])


def test_a_label_says_how_to_read_settings_only_under_settings_and_what_its_day_is_of(shop):
    visit = taken_in(shop, "ukulele-soprano")
    bare = label_of(shop, visit)
    assert (bare.settings, bare.note, bare.day_of, bare.day) == (
        (),
        "at 45 % humidity",
        "Taken in",
        START.date(),
    )
    do_adjustment(shop, visit.id, {"adjust": "tune"}, later(days=3))
    for string in (1, 4):
        take_reading(shop, visit.id, gap(string, 12, [1], 2.2), later(days=4))
    worked = label_of(shop, shop.get(Visit, visit.id))
    assert [name for name, _ in worked.settings] == ["Action, 12th"]
    assert worked.note == "low / high string, at 45 % humidity"
    assert (worked.day_of, worked.day) == ("Set up", later(days=3).at.date())
    back = label_of(shop, move_visit(shop, shop.get(Visit, visit.id), "handed back", later(days=5)))
    assert (back.day_of, back.day) == ("Set up", later(days=5).at.date())
    with pdfplumber.open(io.BytesIO(labels_file(shop, [taken_in(shop, "banjo-five")]))) as found:
        text = found.pages[0].extract_text()
    assert "Taken in" in text and "low / high" not in text
