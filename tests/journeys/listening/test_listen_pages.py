"""The page of recordings: how hard each take was played, and a player's strengths saved from it."""

import re
from io import BytesIO

import soundfile

from listening_fixtures.dozen import RATE_HZ, dozen

pytest_plugins = ["web_fixtures.at_hand"]


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
