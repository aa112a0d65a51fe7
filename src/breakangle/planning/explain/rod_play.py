"""What is said of a rod that is turned back: the first of that turn only takes up its play."""

from collections.abc import Iterator, Sequence

from breakangle.model.plan import Step
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.adjustments.rod import RodTurn


def play_messages(service: Service, now: Estimate, steps: Sequence[Step]) -> Iterator[Message]:
    """Yield it where the plan turns the rod the other way than it was last turned in this visit.

    Which way it was turned before the visit nobody knows: there half of the play is reckoned with, and nothing said.
    """
    done = [one.turns for one in service.work if isinstance(one, RodTurn)]
    to_do = [one.adjustment.turns for one in steps if isinstance(one.adjustment, RodTurn)]
    if done and to_do and done[-1] * to_do[0] < 0.0:
        play = float(now.belief.mean[now.picture.layout["rod_play"][1]])
        taken_up = min(max(play, 0.0), abs(to_do[0]))
        yield Message(key="effects.rod_play", values={"turns": taken_up}, about=("rod",))
