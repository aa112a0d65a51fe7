"""The rod's play: what a turn the other way loses, what is known of it before and after, and what readings teach."""

import numpy as np
import pytest

from bench._instruments import arrival
from breakangle.model.plan import Step
from breakangle.model.service import Service
from breakangle.physics.neck.rod_play import ahead_after_turns, taken_up_turns
from breakangle.planning.estimate.estimate import Estimate, adjusted, estimate
from breakangle.planning.estimate.learning import between_visits
from breakangle.planning.explain.rod_play import play_messages
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.readings.gap import Gap, predict
from breakangle.planning.kinds.registry import adjustment_kind
from breakangle.planning.state.picture import picture_of

PLAY = 0.06
RELIEF = Gap(string=1, fret=8, held=(1, 17), mm=0.0)


def _arrived() -> Estimate:
    return estimate(Service(instrument=arrival("electric-guitar", 3).instrument))


def _relief_mm(now: Estimate) -> float:
    return float(predict([RELIEF], now.picture).values[0])


def test_play_is_lost_once_at_every_change_of_direction():
    """Derived: the play operator; over there and back again a rod with play w moves by the turns less w each way."""
    ahead, moved = PLAY, []
    for turns in (0.25, 0.125, -0.25, -0.125, 0.02, 0.02, 0.25):
        lost = taken_up_turns(turns, ahead, PLAY)
        moved.append(round(abs(turns) - lost, 9))
        ahead = ahead_after_turns(turns, ahead, PLAY)
        assert 0.0 <= ahead <= PLAY
    assert moved == [0.19, 0.125, 0.19, 0.125, 0.0, 0.0, 0.23]


@pytest.mark.parametrize("turns", [0.25, -0.25])
def test_a_turn_the_same_way_again_does_more_and_one_back_less(turns: float):
    now = _arrived()
    once = adjusted(now, RodTurn(turns=turns))
    on, back = (adjusted(once, RodTurn(turns=one)) for one in (turns, -turns))
    by_first, by_next, by_back = (
        abs(_relief_mm(after) - _relief_mm(before))
        for before, after in ((now, once), (once, on), (once, back))
    )
    assert by_back < by_first < by_next


@pytest.mark.parametrize("turns", [0.25, -0.125, 0.01])
def test_rows_of_a_turn_are_its_slopes(turns: float):
    """Derived: central differences of the effect over every unknown of rod and play."""
    now = _arrived()
    kind, one, step = adjustment_kind(RodTurn(turns=turns)), RodTurn(turns=turns), 1e-5
    rows = kind.effect(one, now.picture).rows
    for place in (*now.picture.layout["rod"], *now.picture.layout["rod_play"]):
        moved = np.zeros(len(now.belief.mean))
        moved[place] = step
        up, down = (
            kind.effect(one, picture_of(now.board, now.belief.mean + way * moved)).mean for way in (1, -1)
        )
        assert np.allclose((up - down) / (2 * step), rows[:, place], atol=1e-6)


def _turned_and_read(lost_turns: float) -> Estimate:
    """Return what is believed after a turn on and one back that moved so much less, relief read by a fine gauge."""
    instrument = arrival("electric-guitar", 3).instrument
    work = (RodTurn(turns=0.25), RodTurn(turns=0.25), RodTurn(turns=-0.25))
    mm, readings = 0.5, []
    for after, moved in enumerate((0.0, 0.25, 0.25, -0.25 + lost_turns)):
        mm -= 0.4 * moved
        for string in (1, 6):
            told = {"string": string, "mm": round(mm, 3), "uncertainty_mm": 0.002, "after": after}
            readings.append(RELIEF.model_copy(update=told))
    return estimate(Service(instrument=instrument, readings=tuple(readings), work=work))


def test_relief_read_after_a_turn_back_teaches_the_play_and_a_later_visit_keeps_it():
    tight, loose = _turned_and_read(0.0), _turned_and_read(0.1)
    ahead, play = tight.picture.layout["rod_play"]
    assert tight.belief.mean[play] < loose.belief.mean[play] - 0.01
    later = between_visits(loose, loose.board)
    assert later.mean[play] == loose.belief.mean[play]
    assert later.mean[ahead] == pytest.approx(0.5 * loose.belief.mean[play])
    assert later.covariance[ahead, ahead] > loose.belief.covariance[ahead, ahead]
    assert np.linalg.eigvalsh(later.covariance).min() > -1e-9


@pytest.mark.parametrize(("done", "said"), [(0.25, False), (-0.25, True)])
def test_a_turn_back_is_said_to_take_up_play_first(done: float, said: bool):
    one = RodTurn(turns=0.125)
    step = Step.model_construct(adjustment=one, reason="")
    service = Service(instrument=arrival("electric-guitar", 3).instrument, work=(RodTurn(turns=done),))
    assert bool(list(play_messages(service, estimate(service), [step]))) == said
    assert not list(play_messages(service.model_copy(update={"work": ()}), _arrived(), [step]))


def test_a_turn_is_not_said_to_take_up_more_than_itself():
    """A play learned as 0.05 turns and more, and a turn of 0.02: all of the turn takes it up, and no more."""
    loose = _turned_and_read(0.1)
    assert loose.belief.mean[loose.picture.layout["rod_play"][1]] > 0.02
    step = Step.model_construct(adjustment=RodTurn(turns=0.02), reason="")
    service = Service(instrument=loose.board.instrument, work=(RodTurn(turns=-0.25),))
    (said,) = play_messages(service, loose, [step])
    assert said.values["turns"] == 0.02
