"""Strings settle at the bench: drift after drift, which string comes next, and when it will be done."""

import json
from itertools import pairwise

import numpy as np
import pytest
import soundfile

from breakangle.cli.main import main
from breakangle.model.errors import CorrectInputError
from breakangle.services.listening.stretch_cycle import drift_cents, settle
from listening_fixtures.plucks import Pluck, render

RATE = 44_100


def test_a_set_settles_string_by_string():
    drifts: dict[int, list[float]] = {6: [], 5: [], 4: []}
    found = settle(drifts)
    assert (found.settled, found.next_string, found.likely_s) == (False, 6, None)
    assert "told after the first stretch" in found.words
    heard = {6: [-24.0, -10.0, -4.0, -1.5, -0.8], 5: [-15.0, -5.0, -1.0, -0.4], 4: [-9.0, -1.2, -0.5]}
    spans, order = [], []
    while not found.settled:
        number = found.next_string
        assert number is not None
        order.append(number)
        drifts[number].append(heard[number][len(drifts[number])])
        found = settle(drifts)
        if found.likely_s is not None:
            assert found.low_s is not None
            assert found.high_s is not None
            assert found.low_s <= found.likely_s <= found.high_s
            spans.append(found.likely_s)
    assert drifts == heard
    assert order[:3] == [6, 5, 4]
    assert spans[0] > spans[-1] == 0.0
    assert found.words == "Every string has settled."
    assert found.next_string is None


def test_a_recording_of_plucks_between_stretches_is_heard(tmp_path, capsys):
    """Made-up plucks whose pitch falls by 22, 9, 1.2 and 0.7 cents: what the listening hears is what settles."""
    path, falls = tmp_path / "low.wav", (0.0, -22.0, -31.0, -32.2, -32.9)
    plucks = [
        Pluck(110.0 * 2.0 ** (cents / 1200.0), glide_cents=3.0, duration_s=1.6, silence_s=0.2)
        for cents in falls
    ]
    soundfile.write(path, np.concatenate([render(one, seed) for seed, one in enumerate(plucks)]), RATE)
    assert main(["settle", f"5={path}", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["settled"]
    assert told["strings"][0]["drift_cents"] == pytest.approx(np.diff(falls), abs=0.3)
    assert main(["settle", f"5={path}", "--tolerance-cents", "0.5"]) == 1
    assert "Still to settle: string 5" in capsys.readouterr().out


def test_two_quiet_stretches_in_a_row_and_not_one():
    assert not settle({1: [-9.0, -1.0]}).settled
    assert not settle({1: [-1.0, -9.0]}).settled
    assert settle({1: [-9.0, -1.0, 1.9]}).settled
    assert not settle({1: [-9.0, -1.0, -1.0]}, tolerance_cents=0.5).settled


def test_pitches_heard_are_drifts():
    assert drift_cents(440.0, 440.0 * 2.0 ** (-12.0 / 1200.0)) == pytest.approx(-12.0)
    pitches = [82.41 * 2.0 ** (cents / 1200.0) for cents in (0.0, -20.0, -29.0, -33.0)]
    found = settle({6: [drift_cents(*two) for two in pairwise(pitches)], 1: []})
    assert found.strings[0].drift_cents == pytest.approx((-20.0, -9.0, -4.0))
    assert found.strings[1].remaining is None
    assert found.likely_s is None


@pytest.mark.parametrize(("before", "after"), [(440.0, 0.0), (-1.0, 440.0), (440.0, 110.0)])
def test_two_strings_are_not_one(before, after):
    with pytest.raises(CorrectInputError):
        drift_cents(before, after)


def test_nothing_to_settle_is_said():
    with pytest.raises(CorrectInputError, match="no string is named"):
        settle({})
