"""Recordings heard another way than pluck by pluck, as a person asks for them: `breakangle listen FILE --as FORM`.

The sounds are the bench's own, of other physics than listening's: coupled polarisations, damped masses on springs.
"""

import html
import json
import re
from pathlib import Path

import numpy as np
import pytest

from bench.ears.strums import TUNINGS_HZ, slide, strum
from bench.listening_hum import made as hum_made
from bench.listening_together import off_cents
from breakangle.cli.main import main
from breakangle.model.errors import CorrectInputError
from breakangle.reference.routine import cautions_against
from breakangle.services.listening.forms.ages import Brightness, ages_of
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.service import read_service
from listening_fixtures.forms import ADDED_G, WEIGHED_KG, neck, open_strings, recorded, tapped

pytest_plugins = ["web_fixtures.at_hand"]
AGED = {5: 0.9}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    place = tmp_path / "service.json"
    place.write_text(example_text(), encoding="utf-8")
    return place


def answered(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    assert main(["listen", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_slide_reads_every_fret_and_good_ones_become_readings(file, tmp_path, capsys):
    made = slide(np.random.default_rng(3), 146.832, frets=7)
    wav, picture = recorded(tmp_path / "slide.wav", made.sound), tmp_path / "slide.svg"
    words = (wav, "--as", "slide", "--string", "4", "--add-to", str(file), "--plot", str(picture))
    told = answered(capsys, *words)
    assert [row["fret"] for row in told["frets"]] == list(range(8))
    good = [row for row in told["frets"] if row["good"]]
    assert len(good) >= 5
    assert all(off_cents(row["hz"], made.lines_hz[row["fret"]]) < 0.5 for row in good)
    assert "<svg" in picture.read_text(encoding="utf-8")
    stored = [one for one in read_service(file).readings if one.quantity == "pitch" and one.string == 4]
    assert {(one.fret, one.hz) for one in stored} >= {(row["fret"], row["hz"]) for row in good}


def test_a_strum_reads_all_six_strings_at_once(file, tmp_path, capsys):
    made = strum(np.random.default_rng(4), TUNINGS_HZ[0])
    told = answered(
        capsys, recorded(tmp_path / "strum.wav", made.sound), "--as", "strum", "--instrument", str(file)
    )
    assert [row["string"] for row in told["strings"]] == [1, 2, 3, 4, 5, 6]
    for row, lines in zip(told["strings"], reversed(made.lines_hz), strict=True):
        assert row["hz"] is None or not row["good"] or off_cents(row["hz"], lines) < 0.5
    assert sum(row["good"] for row in told["strings"]) >= 4


def test_taps_tell_the_bodys_notes_their_mass_and_what_they_pull(file, tmp_path, capsys):
    plain = recorded(tmp_path / "taps.wav", tapped(loaded=False))
    heavy = recorded(tmp_path / "loaded.wav", tapped(loaded=True))
    words = (plain, "--as", "taps", "--add-to", str(file), "--against", heavy, "--added-g", f"{ADDED_G:g}")
    told = answered(capsys, *words)
    near = min(told["resonances"], key=lambda one: abs(one["hz"] - 190.0))
    assert near["hz"] == pytest.approx(190.0, rel=0.01)
    assert near["quality_ratio"] == pytest.approx(30.0, rel=0.05)
    assert near["mass_weighed"]
    assert near["mass_kg"] == pytest.approx(WEIGHED_KG, rel=0.05)
    kept = read_service(file).instrument.body.resonances
    assert [one.hz for one in kept] == sorted(one["hz"] for one in told["resonances"])
    # A resonance of 190 Hz, .2 kg and Q 30 pulls what lies about it by cents: Woodhouse (2004), as in body_pull.
    assert any(abs(one["cents"]) >= 3.0 for one in told["pulls"])


@pytest.mark.parametrize("kind", ["loop", "rectifier", "dimmer"])
def test_hum_is_told_apart_and_what_a_hand_does_to_it(tmp_path, capsys, kind):
    sound = hum_made(kind, np.random.default_rng(6))
    off, on = recorded(tmp_path / "off.wav", sound), recorded(tmp_path / "on.wav", 0.1 * sound)
    told = answered(capsys, off, "--as", "hum", "--against", on)
    assert told["hum"]["kind"] == kind
    assert told["hand_on_db"] == pytest.approx(-20.0, abs=0.5)
    assert any("licensed people" in one for one in told["cautions"])
    assert main(["listen", off, "--as", "hum", "--against", on]) == 0
    assert f"breakangle make electrics FILE --set hum={kind} --set hand=stills" in capsys.readouterr().out


def test_who_is_sent_to_the_mains_reads_the_cautions_first(tmp_path, capsys, first_sheet):
    wav = recorded(tmp_path / "off.wav", hum_made("rectifier", np.random.default_rng(6)))
    assert main(["listen", wav, "--as", "hum"]) == 0
    said = capsys.readouterr().out
    assert "leave an amplifier or power supply to a licensed technician" in said
    kept = first_sheet.post("/visits/1/recordings", files={"recordings": ("off.wav", Path(wav).read_bytes())})
    asked = {"recording": kept.url.params["recording"], "form": "hum"}
    page = first_sheet.get("/visits/1/listen/as", params=asked).text
    for caution in cautions_against(("mains",)):
        assert f"! {caution.words}" in said
        assert caution.words in html.unescape(page)
    there = html.unescape(re.search(r'href="(/visits/1/make/electrics[^"]*)"', page).group(1))
    sheet = html.unescape(first_sheet.get(there).text)
    assert "that is the power supply of the amplifier or of a pedal, not this instrument" in sheet
    assert '<option value="rectifier" selected>' in sheet


def test_no_hum_is_heard_where_there_is_none(tmp_path, capsys):
    told = answered(
        capsys, recorded(tmp_path / "off.wav", hum_made("none", np.random.default_rng(6))), "--as", "hum"
    )
    assert told["hum"] is None


def test_the_string_that_aged_is_named_and_the_others_are_not(file, tmp_path, capsys):
    new = recorded(tmp_path / "new.wav", open_strings(np.random.default_rng(7), {}))
    now = recorded(tmp_path / "now.wav", open_strings(np.random.default_rng(8), AGED))
    told = answered(capsys, now, "--as", "ages", "--instrument", str(file), "--against", new)
    worn = {row["string"]: row["worn"] for row in told["strings"]}
    assert worn[5] == "old"
    assert "old" not in {worn[string] for string in worn if string != 5}


def test_of_strings_that_are_all_alike_none_is_called_fresh_where_nothing_is_known_of_before():
    falls = {n: 0.5 + 0.1 * n for n in range(1, 13)}
    six = {string: Brightness(falls, 0.12, 0.2, 1e-4, 6.0) for string in range(1, 7)}
    for one in ages_of(six, {}):
        assert one.to_json()["worn"] == "alike"
        assert one.to_json()["against"] == "mates"
        assert "whether the whole set is old, this cannot tell" in one.words()
        assert "times as fast as on the middle of its mates" in one.words()
    for one in ages_of(six, six):
        assert one.to_json()["worn"] == "new"
        assert "times as fast as when it was first heard" in one.words()


def test_notes_along_a_neck_are_mapped_by_how_long_they_ring(file, tmp_path, capsys):
    wav, picture = recorded(tmp_path / "neck.wav", neck(dead_fret=3)), tmp_path / "neck.svg"
    words = (wav, "--as", "rings", "--instrument", str(file), "--string", "4", "--plot", str(picture))
    told = answered(capsys, *words)
    assert [one["fret"] for one in told["dead_notes"]] == [3]
    rings = {one["fret"]: one["rings_s"] for one in told["notes"]}
    assert rings[3] < 0.5 * rings[2]
    assert "<svg" in picture.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "words",
    [
        ("--as", "slide", "--string", "4"),
        ("--as", "strum"),
        ("--added-g", "5"),
        ("--as", "taps", "--added-g", "5"),
    ],
)
def test_what_does_not_fit_a_form_is_refused_with_what_fits(tmp_path, words, capsys):
    wav = recorded(tmp_path / "any.wav", hum_made("none", np.random.default_rng(1)))
    assert main(["listen", wav, *words]) == 2
    assert capsys.readouterr().err


def test_silence_is_no_slide_no_strum_and_no_taps(file, tmp_path, capsys):
    wav = recorded(tmp_path / "none.wav", hum_made("none", np.random.default_rng(1), 3.0))
    for words in (("slide", "--string", "4"), ("strum",), ("taps",)):
        assert main(["listen", wav, "--as", *words, "--instrument", str(file), "--json"]) == 1
        told = json.loads(capsys.readouterr().out)
        assert not (told.get("frets") or told.get("strings") or told.get("resonances"))


def test_a_weight_needs_its_recording():
    from breakangle.services.listening.forms.taps import taps_heard

    with pytest.raises(CorrectInputError):
        taps_heard(Path("taps.wav"), None, None, 5.0)
