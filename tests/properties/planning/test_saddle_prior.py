"""Before anything is read a saddle stands where its octave is in tune for the usual hand, on every family."""

import numpy as np
import pytest

from bench.workshop.sizes import instrument_of
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.prior import (
    FINGER_PRESS_MM,
    FINGER_PRESS_SPREAD_MM,
    OCTAVE_FRETS,
    SETTER_PRESS_SPREAD_MM,
    TOGETHER_RATIO,
    prior_of,
    shared_crowns,
)
from breakangle.planning.kinds.readings.pitch import Pitch, predict
from breakangle.planning.state.board import board_of
from breakangle.planning.state.picture import picture_of
from breakangle.reference.families import families, family


def octaves_of(kind: str):  # type: ignore[no-untyped-def]
    """Return the board, the belief before anything is read, its picture, and its octaves with their rows."""
    board = board_of(instrument_of(kind))
    belief = prior_of(board)
    picture = picture_of(board, belief.mean)
    octave = np.minimum(board.first + OCTAVE_FRETS, board.fret_count) - 1
    return board, belief, picture, picture.cents_at(np.arange(board.string_count), octave)


@pytest.mark.parametrize("kind", families())
def test_octaves_are_in_tune_before_anything_is_read(kind):
    board, belief, picture, (cents, _) = octaves_of(kind)
    # Two of Newton's steps leave less than any ear tells: common practice, no source.
    apart = {string for strings in shared_crowns(board.instrument) for string in strings}
    own = np.array([number + 1 not in apart for number in range(board.string_count)])
    assert np.all(np.abs(cents[own]) < 0.1)
    for strings in shared_crowns(board.instrument):  # one crown is off as far one way as the other; derived
        pair = cents[np.array(strings) - 1]
        assert abs(pair.min() + pair.max()) < 0.1
    setback = belief.mean[picture.layout["saddle_setback"]]
    # Saddles of fretted instruments stand no farther back: common practice, no source.
    assert np.all((setback > -1.0) & (setback < 12.0))


@pytest.mark.parametrize("kind", families())
def test_a_saddle_set_for_another_hand_moves_all_octaves_as_that_hand_would(kind):
    _, belief, picture, (_, rows) = octaves_of(kind)
    places = picture.layout["saddle_setback"]
    per_mm = np.diag(rows[:, places])
    together = belief.covariance[np.ix_(places, places)]
    off = ~np.eye(len(places), dtype=bool)
    octaves = (per_mm[:, None] * together * per_mm[None, :])[off]
    pressed = rows[:, picture.layout["finger"][1]] * SETTER_PRESS_SPREAD_MM
    bridge = per_mm * TOGETHER_RATIO * family(kind).priors.saddle_setback_sd_mm
    # Derived: what two saddles share is that hand's own part, and what puts all of them off at once.
    assert np.allclose(octaves, (np.outer(pressed, pressed) + np.outer(bridge, bridge))[off], rtol=0.05)


@pytest.mark.parametrize("kind", ["electric-guitar", "electric-guitar-seven", "steel-acoustic-guitar"])
@pytest.mark.parametrize("cents", [-4.0, 4.0])
def test_octaves_off_alike_on_all_strings_hardly_tell_how_the_hand_presses(kind, cents):
    """All saddles may stand too far forward: what is believed of the press moves by less than half of its spread."""
    instrument = instrument_of(kind)
    readings = [
        Pitch(string=one.string, fret=fret, cents=cents if fret else 0.0)
        for one in instrument.strings
        for fret in (0, OCTAVE_FRETS)
    ]
    now = estimate(Service(instrument=instrument, readings=tuple(readings)))
    press = now.picture.layout["finger"][1]
    assert abs(now.belief.mean[press] - FINGER_PRESS_MM) < 0.5 * FINGER_PRESS_SPREAD_MM
    assert now.belief.covariance[press, press] > (0.85 * FINGER_PRESS_SPREAD_MM) ** 2


def test_low_frets_tell_how_the_hand_presses():
    """Frets 1 to 3 and the octave as a hand of 0.40 mm makes them sound: the press is known far better."""
    board, belief, picture, _ = octaves_of("electric-guitar")
    press, hard_mm = picture.layout["finger"][1], 0.40
    mean = belief.mean.copy()
    mean[press] = hard_mm
    cents = picture_of(board, mean).cents
    readings = [
        Pitch(string=string, fret=fret, cents=round(float(cents[string - 1, fret - 1]), 1) if fret else 0.0)
        for string in range(1, board.string_count + 1)
        for fret in (0, 1, 2, 3, OCTAVE_FRETS)
    ]
    now = estimate(Service(instrument=board.instrument, readings=tuple(readings)))
    spread = np.sqrt(now.belief.covariance[press, press])
    assert spread < 0.65 * FINGER_PRESS_SPREAD_MM
    assert abs(now.belief.mean[press] - hard_mm) < 2.0 * spread


def _unexplained(*stated):
    _, _, picture, _ = octaves_of("electric-guitar")
    return [
        predict([Pitch(string=1, fret=1, cents=0.0, uncertainty_cents=one)], picture).unexplained[0]
        for one in stated
    ]


def test_a_pitch_that_states_more_than_a_tuners_error_has_the_finger_in_it():
    """Two readings of one note, one by a tuner to 0.3 cents: it still has the finger's scatter beside it. Derived.

    A tuner's 1.0 and the finger's 1.5 cents at fret 1 together are 1.80: who states 2.0 has counted all of it in.
    """
    fine, plain, whole = _unexplained(0.3, None, 2.0)
    assert fine == plain > 0.0
    assert whole == 0.0


def test_what_is_stated_less_surely_never_counts_for_more():
    """Of all that is counted, the stated and the finger's, none is less for more that is stated. Derived."""
    stated = np.linspace(0.2, 3.0, 141)
    total = np.hypot(stated, _unexplained(*stated))
    assert np.all(np.diff(total) > -1e-9)
    assert np.max(np.diff(total)) < 0.021  # no step beyond what is stated more, 0.02 cents each
    assert total[-1] == 3.0
