"""Notes and gaps told all over the board count in what belongs to a fret alone."""

import numpy as np
import pytest

from bench.workshop.sizes import instrument_of
from breakangle.planning.kinds.prior import prior_of
from breakangle.planning.kinds.targets.intonation import KIND, IntonationTarget
from breakangle.planning.state.board import board_of
from breakangle.planning.state.crowns import left_out_mm
from breakangle.planning.state.picture import picture_of
from breakangle.planning.state.told_spread import cents_spread, clearance_spread_mm, own_cents
from breakangle.reference.families import families

CENTS_PER_OCTAVE = 1200.0


@pytest.mark.parametrize("kind", families())
def test_a_note_is_off_as_its_fret_is_misplaced(kind):
    """A twentieth of a millimetre at a length X is 1200 log2(1 + .05/X) cents; nothing at the octave. Derived."""
    board = board_of(instrument_of(kind))
    first = board.first[0]
    own = own_cents(board)[0]
    for fret in (first + 1, first + 5, first + 11):
        length_mm = board.along_mm[0, -1] - board.along_mm[0, fret]
        assert own[fret - 1] == pytest.approx(CENTS_PER_OCTAVE * np.log2(1.0 + 0.05 / length_mm), rel=1e-3)
    assert own[first + 12 - 1] == 0.0


def test_targets_and_board_are_as_wide_as_state_and_fret_together():
    board = board_of(instrument_of("electric-guitar"))
    belief = prior_of(board)
    picture = picture_of(board, belief.mean)
    told = KIND.predict([IntonationTarget(string=1, fret=5), IntonationTarget(string=1, fret=12)], picture)
    assert told.left_out == pytest.approx([own_cents(board)[0, 4], 0.0])
    by_state = belief.spread(picture.cents_rows)
    assert cents_spread(picture, belief) ** 2 == pytest.approx(by_state**2 + own_cents(board) ** 2)
    gaps = clearance_spread_mm(picture, belief) ** 2 - belief.spread(picture.clearance_rows) ** 2
    assert gaps == pytest.approx(left_out_mm(board)[:, 1:-1] ** 2)
    assert gaps.max() > 0.0
