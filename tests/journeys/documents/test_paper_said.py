"""What the hand-back sheet says, in plain words: what was read, done, left alone, and nothing that was not read."""

import json
import re

import pytest

from breakangle.documents.renderers.page import Beside, Picture
from breakangle.model.service_file import service_text
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.state.board import board_of
from breakangle.services.documents.sheets import sheet_file, sheet_pages
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import InstrumentRecord
from paper_fixtures.instruments import family_service
from paper_fixtures.visits import COMPLAINT, NOTES, OWNER, OWNER_WORDS, headed_shop, visit_with
from shop_fixtures.people import ADA, GAP


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    yield from headed_shop(tmp_path_factory.mktemp("paper"))


@pytest.fixture(scope="module")
def visit(shop):
    return visit_with(shop)


def test_the_owner_reads_what_was_found_done_and_left_alone(shop, visit):
    text = sheet_file(shop, visit, form="txt").decode()
    flat = " ".join(text.split())
    assert NOTES not in flat  # what the shop writes for itself stays there
    for said in (OWNER, COMPLAINT, OWNER_WORDS, "Quill & Sedge", "47 % humidity", "12 January 2027"):
        assert said in flat
    assert "Tightened the truss rod a quarter turn." in flat  # two eighths, drawn together
    assert "Lowered the saddle at string 6 by 0.30 mm." in flat
    assert "Relief (the slight bow of the neck under the strings): too bowed" in flat
    assert re.search(r"(was|were) known to within (two or three|a few) hundredths of a millimetre", flat)
    assert "slacken before you cut" in flat
    assert re.search(
        r"as it came, notes may be heard to touch a fret, string \d (open|held at fret \d+) first; as it left, ",
        flat,
    )
    assert not re.search(
        r"\d+ of 132", flat.split("TAKE CARE")[0]
    )  # no count on limits that nobody set by ear
    assert "2 × strings 25.00" in flat
    assert "To pay 108.00 EUR" in flat
    assert all(len(line) <= 78 for line in text.splitlines())


def test_nothing_is_said_of_what_was_not_read(shop):
    record = shop.every(InstrumentRecord)[0]
    bare = open_visit(shop, ADA, record)
    text = " ".join(sheet_file(shop, bare, form="txt").decode().split())
    read = open_visit(shop, ADA, record)
    take_reading(shop, read.id, GAP, ADA)
    some = " ".join(sheet_file(shop, read, form="txt").decode().split())
    unsaid = [re.search(r"so nothing is said of it here: ([^.]*)\.", one)[1] for one in (text, some)]
    assert unsaid[0] == "relief, action, height at the nut and intonation"
    assert "Nothing was adjusted." in text
    assert "[" not in text  # no picture
    assert "intonation" in unsaid[1]
    assert "Intonation" not in some


def test_an_instrument_that_is_right_is_left_alone_and_that_is_said(tmp_path):
    service = family_service("electric-guitar")
    board = board_of(service.instrument)
    readings = [
        target_kind(one).as_reading(one, target_kind(one).wanted(one), 0.02)
        for one in targets_of(service, board).wanted
    ]
    shop = shop_at(tmp_path)
    try:
        whole = service.model_copy(update={"readings": tuple(readings)})
        visit = bring_in(shop, service_text(whole).encode(), "a file", ADA).visit
        text = " ".join(sheet_file(shop, visit, form="txt").decode().split())
    finally:
        shop.close()
    assert "needed nothing" not in text  # nobody read the intonation
    right = (
        "What was read is right for a medium hand: relief, action and height at the nut are as they should be"
    )
    assert f"{right}; not read: intonation." in text
    assert (
        "Relief, action and height at the nut were right already, and what is right is best left alone."
        in text
    )
    # A stopped note without its open string tells nothing of intonation.
    assert "or too little of it, so nothing is said of it here: intonation." in text
    assert "cents" not in text
    assert "side view" in text
    assert re.search(
        r"Played by a medium hand: as it stands, (every note clears|no note is found|no note is heard)",
        text,
    )
    assert "Nothing was adjusted." in text
    assert "still" not in text.lower()


def test_what_is_still_out_is_told_with_the_planners_reason(tmp_path):
    """Six millimetres of action on a glued neck: the sheet says what was found, and that nothing is cut for it."""
    service = family_service("steel-acoustic-guitar")
    high = [
        {
            "quantity": "gap",
            "string": string,
            "fret": 12,
            "held": [1],
            "mm": 6.0,
            "uncertainty_mm": 0.05,
            "unit": "mm",
        }
        for string in range(1, 7)
    ]
    shop = shop_at(tmp_path)
    try:
        body = json.loads(service_text(service)) | {"readings": high}
        visit = bring_in(shop, json.dumps(body).encode(), "a file", ADA).visit
        text = " ".join(sheet_file(shop, visit, form="txt").decode().split())
    finally:
        shop.close()
    assert "Action is still too high on every string" in text
    assert "Nothing was cut for it, because of what was found in the readings" in text
    assert "left for another visit" not in text
    assert re.search(
        r"The neck wants resetting: .* Cut nothing; shim a bolted neck", text.split("WHAT TO WATCH")[1]
    )
    assert re.search(r"nothing is said of it here: [^.]*intonation", text)


def pictures_on(shop, visit) -> list[Picture]:
    blocks, found = list(next(sheet_pages(shop, visit, "hand-back", "", True)).blocks), []
    while blocks:
        one = blocks.pop()
        found += [one] if isinstance(one, Picture) else []
        blocks += [*one.left, *one.right] if isinstance(one, Beside) else []
    return found


def test_a_side_view_writes_no_figure_that_was_not_read(shop):
    """Relief and action are read, nut clearance is not: neither the words nor the picture give one."""
    data = json.loads(service_text(family_service("electric-guitar")))
    data["instrument"]["name"] = "Sedge"
    gaps = [(fret, held, mm) for fret, held, mm in ((8, [1, 17], 0.30), (12, [1], 1.9))]
    data["readings"] = [
        {"quantity": "gap", "string": string, "fret": fret, "held": held, "mm": mm}
        for string in range(1, 7)
        for fret, held, mm in gaps
    ]
    visit = bring_in(shop, json.dumps(data).encode(), "a file", ADA).visit
    (seen,) = (one for one in pictures_on(shop, visit) if "side view" in one.alt)
    assert "relief over fret" in seen.alt and "action over fret" in seen.alt
    assert "nut clearance" not in seen.alt and "Nut clearance" not in seen.svg
    take_reading(shop, visit.id, {"quantity": "gap", "string": 6, "fret": 1, "held": [3], "mm": 0.4}, ADA)
    (seen,) = (one for one in pictures_on(shop, visit) if "side view" in one.alt)
    assert "nut clearance over fret 1, fret 3 held: 0.3" in seen.alt
