"""What the effects add to a plan's notes, in one place."""

from collections.abc import Sequence

from breakangle.model.plan import Note, Step
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.explain.body import body_messages
from breakangle.planning.explain.courses import crown_messages
from breakangle.planning.explain.rod_play import play_messages
from breakangle.planning.explain.room import room_messages
from breakangle.reference.messages import noted


def effect_notes(service: Service, now: Estimate, sight: Sight, steps: Sequence[Step]) -> tuple[Note, ...]:
    """Return what room, body and rod do, and what courses on one crown are left with once they were read."""
    read = {
        tr("string {string}", string=one.string)
        for index, one in enumerate(sight.targets)
        if one.quantity == "intonation" and sight.judged[index]
    }
    shared = [one for one in crown_messages(now.picture) if read.issuperset(one.about)]
    air = room_messages(service, now.board.instrument)
    return tuple(
        noted(one)
        for one in (*air, *play_messages(service, now, steps), *body_messages(service, now), *shared)
    )
