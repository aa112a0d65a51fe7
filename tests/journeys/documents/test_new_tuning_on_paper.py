"""A new tuning on every sheet of a visit: what was done, the bench sheet, the hand-back, never the old notes."""

import json
import re

import pytest

from breakangle.model.service_file import service_text
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.visit_sheets.sheet import entries_told
from breakangle.services.visits.entries import do_adjustment, service_of
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from paper_fixtures.instruments import family_service
from shop_fixtures.people import ADA, later

DOWN = {1: "F2", 2: "C2", 3: "G1", 4: "D1"}
OLD = re.compile(r"\b(?:[EA]1|D2|G2)\b")


@pytest.fixture
def tuned_down(tmp_path):
    shop = shop_at(tmp_path)
    service = family_service("bass-four")
    visit = bring_in(shop, json.dumps(json.loads(service_text(service))).encode(), "a file", ADA).visit
    strings = [
        one.model_dump(exclude_unset=True) | {"note": DOWN[one.string]}
        for one in service.instrument.in_order()
    ]
    do_adjustment(shop, visit.id, {"adjust": "restring", "strings": strings}, later(minutes=5))
    do_adjustment(shop, visit.id, {"adjust": "tune"}, later(minutes=9))
    yield shop, visit
    shop.close()


@pytest.mark.parametrize("sheet", ["bench", "hand-back"])
def test_a_sheet_of_a_bass_tuned_down_shows_no_old_note(tuned_down, sheet):
    shop, visit = tuned_down
    text = " ".join(sheet_file(shop, visit, sheet, form="txt", pictures=False).decode().split())
    assert "D1" in text
    assert not OLD.search(text), OLD.search(text)


def test_the_work_on_a_sheet_says_to_which_notes_it_was_tuned(tuned_down):
    shop, visit = tuned_down
    told = [one.step.title for one in entries_told(shop, visit) if one.step is not None]
    assert "D1 G1 C2 F2" in told[-1]
    assert not [one for one in told if OLD.search(one)]
    assert [one.note for one in service_of(shop, visit.id).instrument_now().in_order()] == list(DOWN.values())
