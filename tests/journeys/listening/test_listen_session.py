"""A bench session by ear: one recording of all strings, through the command, into the service file."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from breakangle.cli.main import main
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.service import read_service
from listening_fixtures.plucks import Pluck, render

RATE = 44_100
OPEN_HZ = {6: 82.407, 5: 110.0, 4: 146.832, 3: 195.998, 2: 246.942, 1: 329.628}
SHARP_CENTS = {6: 7.5, 5: 3.0, 4: -2.0, 3: 11.0, 2: 1.0, 1: -4.0}
B = 1.0e-4


def notes_of(string: int, off_cents: float) -> dict[str, Pluck]:
    """Open, harmonic and fretted twelfth of one string; partial 1 of the harmonic is partial 2 of the string."""
    hz = OPEN_HZ[string] * 2 ** (off_cents / 1200)
    octave = 2 * hz * np.sqrt((1 + 4 * B) / (1 + B))
    common = {
        "decay_one_per_s": 1.5,
        "glide_cents": 4.0,
        "energy_law": True,
        "hum_db": 45.0,
        "duration_s": 1.7,
    }
    return {
        "open": Pluck(hz, inharmonicity=B, **common),
        "harmonic": Pluck(octave, inharmonicity=4 * B, **common),
        "fretted": Pluck(octave * 2 ** (SHARP_CENTS[string] / 1200), inharmonicity=4.2 * B, **common),
    }


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    rng = np.random.default_rng(8)
    notes = {string: notes_of(string, float(rng.uniform(-45, 45))) for string in OPEN_HZ}
    sounds = [1e-4 * rng.standard_normal(RATE // 3)]
    for kind in ("open", "harmonic", "fretted"):
        sounds += [render(notes[string][kind], int(rng.integers(1 << 30))) for string in OPEN_HZ]
    path = tmp_path_factory.mktemp("bench") / "all strings.wav"
    soundfile.write(path, np.concatenate(sounds), RATE)
    return path


@pytest.fixture
def service(tmp_path: Path) -> Path:
    path = tmp_path / "service.json"
    data = json.loads(example_text())
    data["remark of the shop"] = "kept"
    path.write_text(json.dumps(data))
    return path


def answer(capsys: pytest.CaptureFixture[str]) -> dict:
    return json.loads(capsys.readouterr().out)


def test_one_recording_fills_all_readings(
    recording: Path, service: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = read_service(service)
    assert main(["listen", str(recording), "--add-to", str(service), "--json"]) == 0
    found = answer(capsys)
    assert [take["verdict"] for take in found["takes"]] == ["good"] * 18
    places = [(take["string"], take["fret"], take["harmonic"]) for take in found["takes"]]
    assert places[:6] == [(string, 0, None) for string in OPEN_HZ]
    assert places[6:12] == [(string, 12, 2) for string in OPEN_HZ]
    assert places[12:] == [(string, 12, None) for string in OPEN_HZ]
    figures = {one["string"]: one["cents"] for one in found["intonation"]}
    assert figures == pytest.approx(SHARP_CENTS, abs=0.3)
    after = read_service(service)
    assert len(after.readings) == len(before.readings) + 18
    assert after.readings[: len(before.readings)] == before.readings
    assert after.instrument == before.instrument
    assert json.loads(service.read_text())["remark of the shop"] == "kept"
    assert main(["predict", str(service)]) == 0


def test_the_table_and_the_picture(
    recording: Path, service: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("takes.svg", "takes.png"):
        picture = tmp_path / name
        assert main(["listen", str(recording), "--instrument", str(service), "--plot", str(picture)]) == 0
        assert picture.stat().st_size > 10_000
    printed = capsys.readouterr().out
    assert "string 6, harmonic 2" in printed
    assert "Fretted twelfth against the true octave" in printed
    assert "<svg" in (tmp_path / "takes.svg").read_text()[:2000]


def test_every_key_of_the_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "low.wav"
    soundfile.write(path, render(Pluck(82.5, glide_cents=3.0, silence_s=0.3), 2), RATE)
    assert main(["listen", str(path), "--json"]) == 0
    found = answer(capsys)
    assert found["format"] == "breakangle/listen/1"
    take = found["takes"][0]
    wanted = {
        "file", "start_s", "end_s", "window_s", "string", "fret", "harmonic", "fundamental_hz",
        "uncertainty_cents", "inharmonicity", "cents", "verdict", "reasons", "advice", "buzz", "rings_s", "stroke",
    }  # fmt: skip
    assert set(take) == wanted
    assert take["start_s"] == pytest.approx(0.3, abs=0.01)
    assert take["fundamental_hz"] == pytest.approx(82.5, rel=1e-4)
    assert take["cents"] == pytest.approx(1200 * np.log2(82.5 / 82.407), abs=0.2)
    assert take["string"] is None


def test_only_one_string(recording: Path, service: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["listen", str(recording), "--instrument", str(service), "--string", "6", "--json"]
    assert main(words) == 0
    assert {take["string"] for take in answer(capsys)["takes"]} <= {6, None}
    assert main([*words[:-2], "9"]) == 2
    assert "strings 1 to 6" in capsys.readouterr().err


def test_settling_after_stretches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "stretches.wav"
    falls = (0, -22, -31, -32.2, -32.9)
    plucks = [
        Pluck(110 * 2 ** (cents / 1200), glide_cents=3.0, duration_s=1.6, silence_s=0.2) for cents in falls
    ]
    soundfile.write(path, np.concatenate([render(one, seed) for seed, one in enumerate(plucks)]), RATE)
    assert main(["listen", str(path), "--stretches"]) == 0
    assert "settled: the last two stretches" in capsys.readouterr().out
    assert main(["listen", str(path), "--stretches", "--tolerance-cents", "0.5", "--json"]) == 0
    settled = answer(capsys)["settling"]
    assert settled["settled"] is False
    assert settled["drift_cents"] == pytest.approx(np.diff(falls), abs=0.3)


def test_no_usable_take_is_exit_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "quiet.wav"
    soundfile.write(path, np.zeros(RATE), RATE)
    assert main(["listen", str(path)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "No pluck was heard. Record again: closer to the strings, louder, one string at a time." in said


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["no.wav"], "does not exist"),
        (["no.wav", "--string", "3"], "--string alone"),
        (["no.wav", "--plot", "x.pdf"], ".svg or .png"),
        (["no.wav", "--tolerance-cents", "0"], "above 0"),
        (["no.wav", "--tolerance-cents", "nan"], "is not a number"),
    ],
)
def test_bad_words_are_exit_two_and_one_sentence(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["listen", *words]) == 2
    printed = capsys.readouterr()
    assert told in printed.err
    assert printed.err.count("\n") == 1
    assert printed.out == ""
