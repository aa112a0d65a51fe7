"""Before anything is read a saddle stands where its octave is in tune for the usual hand, on every family."""

import numpy as np
import pytest

from bench.workshop.sizes import instrument_of
from breakangle.planning.kinds.prior import OCTAVE_FRETS, SETTER_PRESS_SPREAD_MM, prior_of, shared_crowns
from breakangle.planning.state.board import board_of
from breakangle.planning.state.picture import picture_of
from breakangle.reference.families import families


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
    # Derived: what two saddles share is that hand's own part and no other.
    assert np.allclose(octaves, np.outer(pressed, pressed)[off], rtol=0.05)
