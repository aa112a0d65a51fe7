"""A page of recordings sent again: no take is stored twice, and none that is chosen only then is dropped."""

import json
from io import BytesIO

import pytest
import soundfile

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.listening.recordings import Named, add_heard, heard_in
from breakangle.services.service_files.example import example_service
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.service_files import bring_in
from breakangle.storage.records.entries import entries_of
from listening_fixtures.six_strings import played
from shop_fixtures.people import ADA

pytest_plugins = ["shop_fixtures.shops"]
BARE = example_service().model_copy(update={"readings": ()})


@pytest.fixture(scope="module")
def heard():
    out = BytesIO()
    sound = played([(6, "open"), (5, "open"), (4, "open"), (4, "open")])
    soundfile.write(out, sound, 44_100, format="WAV", subtype="PCM_16")
    found = heard_in(BARE, (Named("row.wav", out.getvalue()),))
    assert [one.name.string for one in found.takes] == [6, 5, 4, 4]
    return found


@pytest.fixture
def visit(shop):
    return bring_in(shop, BARE.model_dump_json(exclude_unset=True).encode(), "a file", ADA).visit


def strings_heard(shop, visit) -> list[int]:
    return [one.string for one in service_of(shop, visit.id).readings]


def test_other_takes_chosen_on_the_same_page_are_stored_as_well(shop, visit, heard):
    first = add_heard(shop, visit, heard, [0], ADA, "page")
    assert strings_heard(shop, visit) == [6]
    assert add_heard(shop, visit, heard, [0], ADA, "page") == first
    both = add_heard(shop, visit, heard, [1, 2], ADA, "page")
    assert strings_heard(shop, visit) == [6, 5, 4]
    assert [json.loads(one.body)["string"] for one in both] == [5, 4]
    add_heard(shop, visit, heard, [0, 1, 2], ADA, "page")
    assert strings_heard(shop, visit) == [6, 5, 4]


def test_two_takes_of_one_note_are_one_reading_and_neither_counts_twice(shop, visit, heard):
    add_heard(shop, visit, heard, [2], ADA, "page")
    add_heard(shop, visit, heard, [2, 3], ADA, "page")
    hz = [one.hz for one in service_of(shop, visit.id).readings]
    assert hz == [round(heard.takes[at].take.pitch.law.partial_one_hz, 4) for at in (2, 3)]
    (one,) = add_heard(shop, visit, heard, [2, 3], ADA, "another page")
    add_heard(shop, visit, heard, [2, 3], ADA, "another page")
    add_heard(shop, visit, heard, [3], ADA, "another page")
    assert entries_of(shop, visit.id)[-1] == one
    assert len(entries_of(shop, visit.id)) == 3


def test_where_no_chosen_take_is_good_nothing_is_stored(shop, visit, heard):
    with pytest.raises(ChooseAnotherFileError, match="nothing was added"):
        add_heard(shop, visit, heard, [17], ADA, "page")
    assert strings_heard(shop, visit) == []
