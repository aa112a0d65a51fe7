"""A string's losses are its material's: softer strings lose their high partials sooner; a shop may set one for all."""

from dataclasses import replace

import numpy as np
import pytest

from breakangle.physics.contact.modes import Losses, decay_per_ms
from breakangle.planning.buzz.contact_notes import board_notes, losses_of
from breakangle.planning.kinds.prior import picture_before
from breakangle.planning.state.board import board_of
from breakangle.reference.behaviour import behaviour
from breakangle.reference.families import family
from breakangle.reference.strength import own_playing, playing
from breakangle.services.service_files.example import usual_instrument
from contact_setups import LOSSES, steel_board

AIR = Losses(1.8e-5, 1.2)


def test_high_partials_die_sooner_on_nylon_unless_one_loss_is_given_for_all():
    notes = steel_board(0.8, 0.8, 0.1).take(np.array([1]))
    steel, nylon = (
        replace(
            notes,
            bending_loss_ratio=np.array([behaviour(key).bending_loss_ratio]),
            other_loss_ratio=np.array([behaviour(key).other_loss_ratio]),
        )
        for key in ("plain-steel", "plain-nylon")
    )
    assert np.all(decay_per_ms(nylon, AIR, 40)[0, 20:] > 1.5 * decay_per_ms(steel, AIR, 40)[0, 20:])
    assert np.array_equal(decay_per_ms(nylon, LOSSES, 40), decay_per_ms(steel, LOSSES, 40))
    assert np.array_equal(decay_per_ms(nylon.take(np.array([0])), AIR, 40), decay_per_ms(nylon, AIR, 40))
    with pytest.raises(AssertionError, match="neither for all notes nor by the notes"):
        decay_per_ms(notes, AIR, 40)


@pytest.mark.parametrize("kind", ["electric-guitar", "nylon-acoustic-guitar", "bass-four"])
def test_every_note_carries_its_own_strings_losses(kind):
    board = board_of(usual_instrument(family(kind), "one"))
    found = board_notes(picture_before(board))
    for index, one in enumerate(board.instrument.in_order()):
        own = found.string == index
        assert set(found.notes.bending_loss_ratio[own]) == {behaviour(one.make).bending_loss_ratio}
        assert set(found.notes.other_loss_ratio[own]) == {behaviour(one.make).other_loss_ratio}


def test_a_shop_may_set_one_loss_for_all_strings(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text("[losses]\nbending_loss_ratio = 0.05\n", encoding="utf-8")
    own = losses_of(own_playing(path, "electric-guitar"))
    assert (own.bending_loss_ratio, own.other_loss_ratio) == (0.05, None)
    assert losses_of(playing("electric-guitar")).bending_loss_ratio is None
