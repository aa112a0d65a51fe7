"""A complaint on its way: kept in the service file, decided by readings; target, buzz and strength agreeing."""

import json

import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.model.service_file import ServiceFileError
from breakangle.reference.complaints import complaint_kinds
from breakangle.reference.messages import words
from breakangle.services.plans.agreed_height import PLAY, RAISE, disagreement, settle_by
from breakangle.services.readings.complaint_page import complaint_sheet
from breakangle.services.readings.complaint_readings import deciding_places
from breakangle.services.readings.ways import Ways
from breakangle.services.service_files.example import example_service, example_text
from breakangle.services.service_files.service import service_from
from breakangle.services.visits.complaints import add_complaint, complaints_in
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.service_files import bring_in, visit_text
from breakangle.services.visits.typed_complaints import ComplaintTyped, complaint_typed
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import Visit
from shop_fixtures.people import ADA

LOW_MM = 0.6  # below the 0.75 mm that the trade calls exceptionally low; common practice, no source
BUZZ = ComplaintTyped("buzz", "6", "3", ("hard",), words="it buzzes")


@pytest.fixture
def shop(tmp_path):
    made = shop_at(tmp_path)
    yield made
    made.close()


def wanting(mm: float) -> bytes:
    data = json.loads(example_text())
    wanted = [
        {"quantity": "gap", "string": string, "fret": 12, "held": [1], "mm": mm, "tolerance_mm": 0.05}
        for string in range(1, 7)
    ]
    return json.dumps(data | {"targets": {"hand": "heavy", "wanted": wanted}}).encode()


@pytest.mark.parametrize("what", complaint_kinds())
def test_every_sort_of_complaint_leads_to_places_that_the_instrument_has(what):
    instrument = example_service().instrument
    complaint = complaint_typed(ComplaintTyped(what, "1 6", "open 3 22"), instrument)
    places = deciding_places(complaint, instrument, Ways())
    assert bool(places) == bool(complaint_kinds()[what].stations)
    assert len(places) == len(set(places))
    assert not [one for one in places if list(one.blank().misfits(instrument))]
    assert {one.string for one in places} <= {1, 6}


def test_a_complaint_goes_out_and_comes_back_with_its_visit(shop):
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    complaint = complaint_typed(BUZZ, service_of(shop, visit.id).instrument)
    add_complaint(shop, visit, complaint, ADA)
    text = visit_text(shop, visit.id)
    assert json.loads(text)["complaints"] == [
        {"what": "buzz", "strings": [6], "frets": [3], "when": ["hard"], "words": "it buzzes"}
    ]
    assert json.loads(text)["format"] == "breakangle/service/1"
    again = bring_in(shop, text.encode(), "a file", ADA)
    assert (again.new_visit, again.added_count) == (False, 0)  # answered or not, it is that visit
    assert complaints_in(shop.get(Visit, visit.id)) == (complaint,)


@pytest.mark.parametrize(
    ("key", "value", "allowed"),
    [
        ("strings", [7], "a string from 1 to 6"),
        ("frets", [23], "a fret from 0"),
        ("what", "hum", "one of 'buzz'"),
    ],
)
def test_a_complaint_of_no_place_is_refused_with_its_path(key, value, allowed):
    data = json.loads(example_text()) | {"complaints": [{"what": "buzz"} | {key: value}]}
    with pytest.raises(ServiceFileError) as refused:
        service_from(json.dumps(data).encode(), "the file")
    assert f"$.complaints[0].{key}" in str(refused.value) and allowed in str(refused.value)


def test_what_is_heard_when_played_hard_is_looked_at_there(shop):
    visit = bring_in(shop, wanting(LOW_MM), "a file", ADA).visit
    visit = add_complaint(shop, visit, complaint_typed(BUZZ, service_of(shop, visit.id).instrument), ADA)
    (told,) = complaint_sheet(shop, visit, Ways()).complaints
    (said,) = (words(one) for one in told.decided.evidence)
    assert "at heavy play" in said and (
        "String 6 at fret 3 touches crown" in said or "Nothing touches there" in said
    )
    assert len(told.decided.unread) == 4  # the next fret's gap and three crowns; relief and action are read


def test_a_height_that_cannot_be_clean_is_said_first_with_both_ways(shop):
    visit = bring_in(shop, wanting(LOW_MM), "a file", ADA).visit
    found = disagreement(shop, visit.id)
    assert found is not None and found.strength == "heavy"
    assert "At heavy play the wanted height is not free of buzz on this neck" in words(found.said)
    assert found.wish is not None and found.wish.action_low_mm > LOW_MM
    settle_by(shop, visit, RAISE, ADA)
    wanted = {one.string: one.mm for one in service_of(shop, visit.id).targets.wanted if one.fret == 12}
    assert wanted[6] == pytest.approx(found.wish.action_low_mm, abs=0.002)
    after = disagreement(shop, visit.id)
    assert after is None or after.said.values["short_mm"] < found.said.values["short_mm"]
    with pytest.raises(CorrectInputError):
        settle_by(shop, shop.get(Visit, visit.id), "sideways", ADA)


def test_a_lighter_stroke_is_the_other_way_where_it_is_clean(shop):
    for mm in (1.6, 1.4, 1.2, 1.0, 0.9, 0.8, 0.7, 0.6):
        visit = bring_in(shop, wanting(mm), "a file", ADA, same="1" if mm < 1.6 else "").visit
        found = disagreement(shop, visit.id)
        if found is not None and found.lighter is not None:
            break
    assert found is not None and found.lighter in ("light", "medium")
    settle_by(shop, visit, PLAY, ADA)
    assert service_of(shop, visit.id).targets.no_buzz_at == found.lighter
    assert disagreement(shop, visit.id) is None
