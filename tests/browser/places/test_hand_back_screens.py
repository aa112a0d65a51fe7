"""Complaint and hand-back on the screens: taken down, decided by readings, answered, asked, closed, amended."""

import re

import pytest

from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]
NEW = {"kind": "electric-guitar", "name": "Wren", "owner": "Ines Vale", "complaint": "it buzzes when I dig in",
       "complaint_what": "buzz", "complaint_strings": "6", "complaint_frets": "3", "complaint_when-hard": "yes",
       "hand": "heavy", "promised_on": "2027-02-01"}  # fmt: skip


@pytest.fixture
def taken_in(bench):
    page = bench.get("/visits/new?kind=electric-guitar").text
    inputs = [one for one in re.findall(r"<input[^>]*>", page) if "checkbox" not in one]
    fields = dict(
        found.groups() for one in inputs if (found := re.search(r' name="([\w-]+)".* value="([^"]*)"', one))
    )
    for name, options in re.findall(r'<select[^>]* name="([\w-]+)"[^>]*>(.*?)</select>', page, re.S):
        chosen = re.search(r'value="([^"]*)" selected', options)
        fields[name] = chosen[1] if chosen else ""
    answer = bench.post("/visits/new", data=fields | NEW, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return bench


def reasons_asked(page: str) -> list[str]:
    return re.findall(r'name="(reason:[^"]+)"', page)


def test_a_complaint_leads_to_its_readings_and_is_answered_on_the_sheet(taken_in):
    page = taken_in.get("/visits/1/complaint").text
    assert "Buzz at string 6, fret 3, played hard" in page
    assert "it buzzes when I dig in" in page
    places = re.findall(r'data-reading="([\w-]+)"', page)
    assert places[:4] == ["gap_6_4_h3", "crown_6_3", "crown_6_4", "crown_6_5"]
    assert len(places) == len(set(places))
    taken_in.post("/visits/1/readings/one", data={"box": "gap_6_4_h3", "text": "0.05"})
    assert 'value="0.05"' in taken_in.get("/visits/1/complaint").text
    seen = re.search(r'name="seen" value="([^"]+)"', page)[1].replace("&#34;", '"')
    answer = {"seen": seen, "outcome": "gone", "found": "fret 4 stood high", "cause": "a loose fret",
              "done": "it was seated and levelled", "checked": "both"}  # fmt: skip
    assert taken_in.post("/visits/1/complaint/answer", data=answer).status_code == 200
    text = " ".join(taken_in.get("/visits/1/paper/hand-back.txt").text.split())
    assert (
        "Buzz at string 6, fret 3, played hard. “it buzzes when I dig in” It is gone, checked by ear and by figures. "
        "Found: Fret 4 stood high. Cause: A loose fret. Done: It was seated and levelled."
    ) in text
    again = taken_in.post("/visits/1/complaint/answer", data=answer | {"outcome": "better"})
    assert again.status_code == 409  # it was answered meanwhile: nothing is written over


def test_strength_of_play_is_kept_from_visit_to_visit(taken_in):
    instrument = re.search(r"/instruments/([\w-]+)", taken_in.get("/visits/1").text)[1]
    page = taken_in.get(f"/visits/new?instrument={instrument}").text
    assert re.search(r'<option value="heavy" selected', page)
    shop = workshop_of(taken_in).shop()
    from breakangle.storage.records.records import InstrumentRecord, Owner

    assert [one.hand for one in (*shop.every(Owner), *shop.every(InstrumentRecord))] == ["heavy", "heavy"]


def test_handing_back_asks_closes_and_amends(taken_in):
    moved = taken_in.post("/visits/1/state", data={"state": "handed back", "seen": "waiting"})
    assert "/visits/1/hand-back" in str(moved.url)
    asked = reasons_asked(moved.text)
    assert "reason:complaint:1" in asked and "reason:readings" in asked
    refused = taken_in.post("/visits/1/hand-back", data={"signed_by": "Ada Reed"})
    assert refused.status_code == 422 and "each needs an answer or a reason" in refused.text
    told = dict.fromkeys(asked, "the owner comes back in spring")
    closed = taken_in.post("/visits/1/hand-back", data=told | {"signed_by": "Ada Reed"})
    assert closed.status_code == 200 and "Ada Reed" in closed.text
    first = taken_in.get("/visits/1/paper/hand-back.pdf").content
    assert first[:5] == b"%PDF-" and taken_in.get("/visits/1/closed/1.pdf").content == first
    late = taken_in.post("/visits/1/readings/one", data={"box": "gap_6_12_h1", "text": "1.8"})
    assert late.status_code == 422 and "closed" in late.text
    taken_in.post("/visits/1/amend", data={"reason": "action was read and not written down"})
    assert (
        taken_in.post("/visits/1/readings/one", data={"box": "gap_6_12_h1", "text": "1.8"}).status_code == 200
    )
    again = dict.fromkeys(reasons_asked(taken_in.get("/visits/1/hand-back").text), "as before, in spring")
    page = taken_in.post("/visits/1/hand-back", data=again | {"signed_by": "Ada Reed"}).text
    assert "action was read and not written down" in page
    assert taken_in.get("/visits/1/closed/1.pdf").content == first
    second = taken_in.get("/visits/1/closed/2.pdf").content
    assert second != first and taken_in.get("/visits/1/paper/hand-back.pdf").content == second


def test_target_buzz_and_strength_are_said_before_the_plan(taken_in):
    """The plan page loads it; heights that are not read yet are no reason to say anything."""
    assert 'hx-get="/visits/1/beside"' in taken_in.get("/visits/1/plan").text
    page = taken_in.get("/visits/1/beside").text
    assert "buzz at string 6, fret 3, played hard" in page and 'id="agree"' not in page


def test_private_notes_stay_in_the_shop(taken_in):
    told = {"notes": "owes us money", "owner_words": "The switch was cleaned.", "promised_on": "2027-02-01"}
    was = {"was_notes": "", "was_owner_words": "", "was_promised_on": "2027-02-01"}
    taken_in.post("/visits/1/words", data=told | was)
    for form in ("txt", "html"):
        text = taken_in.get(f"/visits/1/paper/hand-back.{form}").text
        assert "owes us money" not in text and "The switch was cleaned." in text and "1 February 2027" in text


def test_a_closed_sheet_follows_the_unit_on_screen_and_stays_as_it_was_stored(taken_in):
    for box, text in (
        ("gap_6_8_h1-17", "0.30"),
        ("gap_1_8_h1-17", "0.30"),
        ("gap_6_12_h1", "2.0"),
        ("gap_1_12_h1", "1.6"),
    ):
        assert (
            taken_in.post("/visits/1/readings/one", data={"box": box, "text": f"{text} mm"}).status_code
            == 200
        )
    asked = dict.fromkeys(
        reasons_asked(taken_in.get("/visits/1/hand-back").text), "as it was found, in spring"
    )
    closed = taken_in.post("/visits/1/hand-back", data=asked | {"signed_by": "Ada Reed"}).text
    stored = taken_in.get("/visits/1/closed/1.pdf").content
    frozen = closed[closed.index('id="closed"') :]
    assert re.search(r"Action,\s?mm", frozen)
    taken_in.post("/view", data={"units": "inch", "back": "/"})
    page = taken_in.get("/visits/1").text
    frozen = page[page.index('id="closed"') :]
    assert re.search(r"Action, in", frozen) and not re.search(r"\d\s?mm\b", frozen)
    assert "0.079" in frozen and "5/64" in frozen  # 2.0 mm; derived: 2.0 / 25.4 = 0.0787, × 64 = 5.04
    assert taken_in.get("/visits/1/closed/1.pdf").content == stored
    taken_in.post("/view", data={"units": "mm", "back": "/"})
