"""Recordings played in another order, twice, or by a string that moves: named rightly, or doubted and not added."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from breakangle.cli.main import main
from breakangle.model.errors import CorrectInputError
from breakangle.services.listening.takes import kinds_told
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.service import read_service
from listening_fixtures.plucks import Pluck, render
from listening_fixtures.six_strings import OPEN_HZ, SHARP_CENTS, played, pluck, truth_hz

RATE = 44_100


@pytest.fixture
def service(tmp_path: Path) -> Path:
    path = tmp_path / "service.json"
    path.write_text(example_text())
    return path


def written(path: Path, sound: np.ndarray) -> str:
    soundfile.write(path, sound, RATE)
    return str(path)


def answer(capsys: pytest.CaptureFixture[str]) -> dict:
    return json.loads(capsys.readouterr().out)


def places(found: dict) -> list[tuple[int, int, int | None]]:
    return [(take["string"], take["fret"], take["harmonic"]) for take in found["takes"]]


def test_fretted_before_the_harmonic(
    tmp_path: Path, service: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    row = [(string, kind) for string in OPEN_HZ for kind in ("open", "fretted", "harmonic")]
    recording = written(tmp_path / "rows.wav", played(row))
    before = len(read_service(service).readings)
    assert main(["listen", recording, "--add-to", str(service), "--json"]) == 0
    found = answer(capsys)
    assert places(found) == [
        place for string in OPEN_HZ for place in ((string, 0, None), (string, 12, None), (string, 12, 2))
    ]
    assert {take["verdict"] for take in found["takes"]} == {"good"}
    assert {one["string"]: one["cents"] for one in found["intonation"]} == pytest.approx(SHARP_CENTS, abs=0.3)
    assert not any(one["disagreements"] for one in found["intonation"])
    assert len(read_service(service).readings) == before + 18


def test_the_harmonic_twice_is_no_fretted_note(
    tmp_path: Path, service: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recording = written(tmp_path / "twice.wav", played([(6, "open"), (6, "harmonic"), (6, "harmonic")]))
    before = len(read_service(service).readings)
    assert main(["listen", recording, "--add-to", str(service), "--json"]) == 0
    found = answer(capsys)
    assert [take["verdict"] for take in found["takes"]] == ["good", "doubtful", "doubtful"]
    assert found["takes"][2]["reasons"] == ["which-note"]
    for one in found["intonation"]:
        assert any("only if" in words for words in one["disagreements"])
    assert len(read_service(service).readings) == before + 1
    told = ["listen", recording, "--instrument", str(service), "--order", "open,harmonic"]
    assert main([*told, "--json"]) == 0
    found = answer(capsys)
    assert places(found) == [(6, 0, None), (6, 12, 2), (6, 12, 2)]
    assert {take["verdict"] for take in found["takes"]} == {"good"}
    assert found["intonation"] == []


def test_harmonics_alone_are_doubted(
    tmp_path: Path, service: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recording = written(tmp_path / "alone.wav", played([(6, "harmonic"), (5, "harmonic"), (4, "harmonic")]))
    assert main(["listen", recording, "--instrument", str(service)]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert page.count("doubtful: which-note") == 3
    assert "--order open,harmonic,fretted" in page


def test_a_string_that_moved_is_not_added(
    tmp_path: Path, service: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sounds = [1e-4 * np.random.default_rng(1).standard_normal(RATE // 2)]
    for at, (kind, moved_cents) in enumerate((("open", 0.0), ("harmonic", 4.0), ("fretted", 4.0))):
        one = pluck(6, kind)
        moved = replace(one, partial_one_hz=one.partial_one_hz * 2 ** (moved_cents / 1200))
        sounds.append(render(moved, at))
    recording = written(tmp_path / "moved.wav", np.concatenate(sounds))
    before = service.read_text()
    arguments = ["listen", recording, "--add-to", str(service), "--order", "open,harmonic,fretted", "--json"]
    assert main(arguments) != 0
    captured = capsys.readouterr()
    found = json.loads(captured.out)
    assert "the string moved" in found["intonation"][0]["disagreements"][0]
    assert all("moved" in take["reasons"] for take in found["takes"])
    assert "nothing was added" in captured.err
    assert service.read_text() == before


@pytest.mark.parametrize("columns", ["80", "60"])
def test_figures_are_never_cut(
    tmp_path: Path,
    service: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    columns: str,
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    course = render(pluck(5, "open"), 1) + 0.7 * render(pluck(5, "open", hum_db=20.0), 2)
    recording = written(tmp_path / "cut.wav", np.concatenate([played([(6, "harmonic")]), 0.5 * course]))
    assert main(["listen", recording, "--instrument", str(service), "--json"]) == 0
    takes = answer(capsys)["takes"]
    assert main(["listen", recording, "--instrument", str(service)]) == 0
    page = capsys.readouterr().out
    assert "…" not in page
    for take in takes:
        for figure in (f"{take['fundamental_hz']:.2f}", f"{take['cents']:+.1f}", *take["reasons"]):
            assert figure in page


def test_two_strings_at_once_are_no_note(
    tmp_path: Path, service: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """E2 and A2 (ISO 16) share what would be a third note, 27.5 Hz, two octaves lower: nobody played that."""
    both = [
        Pluck(hz, 1e-4, noise_db=55.0, attack=False, body=False, duration_s=3.0) for hz in (82.407, 110.0)
    ]
    sound = render(both[0], 1) + render(both[1], 2)
    recording = written(tmp_path / "two.wav", np.concatenate([np.zeros(RATE // 2), 0.5 * sound]))
    for more in ([], ["--instrument", str(service)]):
        assert main(["listen", recording, *more]) == 1
        page = capsys.readouterr().out
        assert "27.4" not in page
        assert "A0" not in page
        assert "refused: second-string" in page


def test_lower_than_any_string(tmp_path: Path, service: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recording = written(tmp_path / "low.wav", render(Pluck(41.2, silence_s=0.5, duration_s=3.0), 1))
    assert main(["listen", recording]) == 0
    assert "good" in capsys.readouterr().out
    assert main(["listen", recording, "--instrument", str(service), "--json"]) == 1
    take = answer(capsys)["takes"][0]
    assert (take["verdict"], take["reasons"], take["fundamental_hz"]) == ("refused", ["too-low"], None)


@pytest.mark.parametrize("words", ["open,harmonics", "open,open", ""])
def test_an_order_that_cannot_be(words: str) -> None:
    with pytest.raises(CorrectInputError):
        kinds_told(words)


def from_open(string: int, kind: str, above: int, steps: int) -> np.ndarray:
    """Samples of a pluck so many semitones above the open string `above` as `played` has it tuned."""
    hz = truth_hz(above, "open") * 2 ** (steps / 12)
    return render(replace(pluck(string, kind, duration_s=2.8), partial_one_hz=hz), 5)


@pytest.mark.parametrize("order", [[], ["--order", "open,fretted"]])
@pytest.mark.parametrize(
    ("steps", "why", "advice"),
    [
        (-4, "not-this-string", "if another string was played, name that one"),  # G3: below string 2
        (8, "other-string", "if that one was played, name it"),  # G4: fret 8 of string 2 as well
    ],
)
def test_a_take_of_another_string_than_was_named_is_doubted_and_not_added(
    tmp_path: Path,
    service: Path,
    capsys: pytest.CaptureFixture[str],
    steps: int,
    why: str,
    advice: str,
    order: list[str],
) -> None:
    """Equal temperament (ISO 16): G3 lies four semitones below B3, G4 eight above it."""
    strange = from_open(3, "fretted", 2, steps)
    recording = written(tmp_path / "other.wav", np.concatenate([played([(2, "open")]), strange]))
    before = service.read_text()
    words = ["listen", recording, "--instrument", str(service), "--string", "2", *order]
    assert main([*words, "--json"]) == 0
    own, other = answer(capsys)["takes"]
    assert (own["string"], own["fret"], own["verdict"]) == (2, 0, "good")
    assert (other["verdict"], other["reasons"]) == ("doubtful", [why])
    assert advice in other["advice"][0]
    assert main(words) == 0
    assert advice in " ".join(capsys.readouterr().out.split())
    alone = written(tmp_path / "alone.wav", np.concatenate([np.zeros(RATE // 2), strange]))
    assert main(["listen", alone, "--add-to", str(service), "--string", "2", *order]) == 2
    assert "nothing was added" in capsys.readouterr().err
    assert service.read_text() == before


def test_a_fret_of_the_named_string_that_no_other_is_read_at_stays_good(
    tmp_path: Path, service: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """G2 is fret 3 of the low string, and open or at the octave of none (equal temperament, ISO 16)."""
    sound = np.concatenate([played([(6, "open")]), from_open(6, "open", 6, 3)])
    recording = written(tmp_path / "third.wav", sound)
    assert main(["listen", recording, "--instrument", str(service), "--string", "6", "--json"]) == 0
    _, take = answer(capsys)["takes"]
    assert (take["string"], take["fret"], take["verdict"]) == (6, 3, "good")
