"""The page of recordings: how hard each take was played, and a player's strengths saved from it."""

import re
from io import BytesIO

import numpy as np
import soundfile

from bench.ears.coupled import RATE_HZ as SLIDE_HZ
from bench.ears.strums import slide
from listening_fixtures.dozen import RATE_HZ, dozen

pytest_plugins = ["web_fixtures.at_hand"]


def read_now(client) -> list[dict]:
    """Return the pitches of string 4 on the sheet."""
    readings = client.get("/api/visits/1/service").json()["readings"]
    return [one for one in readings if one["quantity"] == "pitch" and one["string"] == 4]


def test_a_dozen_plucks_are_shown_and_become_a_players_strengths(first_sheet):
    out = BytesIO()
    soundfile.write(out, dozen(), RATE_HZ, format="WAV", subtype="PCM_24")
    heard = first_sheet.post("/visits/1/recordings", files={"recordings": ("dozen.wav", out.getvalue())})
    assert heard.status_code == 200
    assert "Plucked" in heard.text
    key = re.search(r'name="recording" value="(\w+)"', heard.text)[1]
    saved = first_sheet.post("/visits/1/listen/strengths", data={"recording": key, "who": "Ada"})
    assert saved.status_code == 200
    assert "As Ada plays" in saved.text


def test_a_slide_is_heard_drawn_and_stored_fret_by_fret(first_sheet):
    made = slide(np.random.default_rng(3), 146.832, frets=5)
    out = BytesIO()
    soundfile.write(out, made.sound, SLIDE_HZ, format="WAV", subtype="PCM_24")
    heard = first_sheet.post("/visits/1/recordings", files={"recordings": ("slide.wav", out.getvalue())})
    key = re.search(r'name="recording" value="(\w+)"', heard.text)[1]
    page = first_sheet.get(f"/visits/1/listen/as?recording={key}&form=slide&string=4")
    assert page.status_code == 200
    assert "Fret 5" in page.text
    assert "<svg" in page.text
    sent = {"recording": key, "form": "slide", "string": "4", "key": "once"}
    assert first_sheet.post("/visits/1/listen/as", data=sent).status_code == 200
    stored = read_now(first_sheet)
    assert {one["fret"] for one in stored} >= {1, 2, 3}
    first_sheet.post("/visits/1/listen/as", data=sent)
    assert read_now(first_sheet) == stored


def test_a_recording_without_a_strum_says_so_and_offers_other_forms(first_sheet):
    out = BytesIO()
    soundfile.write(out, dozen()[: 6 * RATE_HZ], RATE_HZ, format="WAV", subtype="PCM_24")
    heard = first_sheet.post("/visits/1/recordings", files={"recordings": ("some.wav", out.getvalue())})
    key = re.search(r'name="recording" value="(\w+)"', heard.text)[1]
    for form in ("taps", "hum", "ages", "rings"):
        page = first_sheet.get(f"/visits/1/listen/as?recording={key}&form={form}")
        assert page.status_code == 200
        assert "Hear it another way" in page.text
