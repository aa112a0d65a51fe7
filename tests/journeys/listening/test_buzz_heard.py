"""A buzz heard: found, placed on its crown, stored as a reading, and shown beside what the map foretells.

The buzzing string is one by finite differences, of the bench's own, over a crown that stands proud.
"""

import json

import numpy as np
import pytest
import soundfile

from bench.ears.difference_string import Strings, swing
from bench.ears.sounds import RATE_HZ, recorded, string_force, through_body
from breakangle.cli.main import main
from breakangle.listening.stream import takes_in
from breakangle.listening.takes.reasons import Verdict
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.readings.buzz_heard import KIND, BuzzHeard
from breakangle.planning.state.board import board_of
from breakangle.services.listening.buzzes import heard_buzz
from breakangle.services.service_files.example import example_service, example_text

STRING, STOP, CROWN = 6, 3, 8


def sounded(gap_mm: float, seconds: float = 1.0) -> np.ndarray:
    """Return the example's string 6 at fret 3 as recorded, over one crown so far below."""
    board = board_of(example_service().instrument, 440.0)
    along = board.along_mm[STRING - 1]
    length = along[-1] - along[STOP]
    hz = float(board.hz[STRING - 1]) * 2 ** (STOP / 12)
    one = Strings(
        hz=np.array([hz]), length_mm=np.array([length]), axial_ratio=board.axial_ratio[[STRING - 1]],
        stiffness=np.array([6e-5]), height_mm=np.array([2.5]), toward=np.array([0.3]), pluck_ratio=np.array([0.82]),
        decay_per_s=np.array([0.9]), decay_growth=np.array([0.02]), apart_ratio=np.array([1e-4]),
        crown_ratio=np.array([[(along[CROWN] - along[STOP]) / length]]), gap_mm=np.array([[gap_mm]]),
    )  # fmt: skip
    rng = np.random.default_rng(2)
    return recorded(through_body(string_force(swing(one, seconds), 0, 0.7), rng), rng, 45.0)


@pytest.fixture(scope="module")
def buzzing() -> np.ndarray:
    return sounded(0.12)


def test_a_buzz_is_named_and_never_good_and_a_clean_note_has_none(buzzing):
    take = takes_in(buzzing, RATE_HZ)[0]
    assert take.judged.buzz.heard
    assert "buzz" in [one.code for one in take.reasons]
    assert take.verdict is not Verdict.GOOD
    clean = takes_in(sounded(np.inf), RATE_HZ)[0]
    assert not clean.judged.buzz.heard
    assert clean.judged.buzz.stops_s == 0.0


def test_the_crown_is_named_and_the_buzz_becomes_a_reading_beside_the_map(buzzing, tmp_path, capsys):
    wav, file = tmp_path / "buzz.wav", tmp_path / "service.json"
    soundfile.write(wav, buzzing, RATE_HZ, subtype="PCM_24")
    file.write_text(example_text(), encoding="utf-8")
    assert main(["listen", str(wav), "--string", "6", "--add-to", str(file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["takes"][0]
    assert (told["string"], told["fret"]) == (STRING, STOP)
    assert abs(told["buzz"]["crown"] - CROWN) <= 1
    assert told["buzz"]["gap_mm_95"][0] < 0.12 < told["buzz"]["gap_mm_95"][1]
    kept = [
        one
        for one in json.loads(file.read_text(encoding="utf-8"))["readings"]
        if one["quantity"] == "buzz-heard"
    ]
    assert [(one["string"], one["fret"], one["held"]) for one in kept] == [
        (STRING, told["buzz"]["crown"], [STOP])
    ]
    main(["buzz", str(file), "--json"])
    beside = json.loads(capsys.readouterr().out)["heard"]
    assert [(one["string"], one["stop"]) for one in beside] == [(STRING, STOP)]
    assert beside[0]["agreement"] in ("agrees", "other-crown", "softer-than-heard", "not-foretold")
    main(["buzz", str(file)])
    assert (
        f"Heard: string {STRING}, fret {STOP}, on the crown of fret {kept[0]['fret']}"
        in capsys.readouterr().out
    )


def test_a_buzz_heard_lowers_the_gap_that_is_believed():
    service = example_service()
    before = estimate(service).picture
    gap = BuzzHeard(string=5, fret=9, held=(4,), mm=0.3)
    high = float(KIND.predict([gap], before).values[0])
    told = BuzzHeard(string=5, fret=9, held=(4,), mm=round(0.3 * high, 3), uncertainty_mm=0.06)
    now = estimate(service.model_copy(update={"readings": (*service.readings, told)})).picture
    assert float(KIND.predict([gap], now).values[0]) < high


def test_a_buzz_without_a_name_or_of_a_harmonic_makes_nothing(buzzing):
    take = takes_in(buzzing, RATE_HZ)[0]
    service = example_service()
    assert heard_buzz(take, None, None, service, board_of(service.instrument, 440.0)) is None
