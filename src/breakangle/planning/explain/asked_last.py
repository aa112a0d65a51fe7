"""What is asked where a plan can do nothing before it is read: a plan never waits for nothing."""

from collections.abc import Sequence

from breakangle.model.plan import Question, Step, Verdict
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.planning.estimate.reading_state import read_in_visit
from breakangle.planning.estimate.target_state import Place, Sight, place_read
from breakangle.planning.explain.next_reading import read_enough
from breakangle.planning.explain.questions import places_asked
from breakangle.planning.kinds.reading_names import begun_with
from breakangle.planning.verdict.judgement import Judgement
from breakangle.reference.minutes import minutes_of

ON_CROWN = "ask.on_crown"


def asked_or_beyond(
    asked: Sequence[Question], service: Service, sight: Sight, judged: Judgement, held_back: bool
) -> tuple[Verdict, tuple[Question, ...]]:
    """Return the verdict of a plan that says `read-first`, and its questions with what that waits for besides.

    Where nothing is left to ask, and what keeps the instrument from being left is no reading, it is beyond a set-up: a
    string that lies on a crown however often it is read, a crown, a pattern, or cuts that are `held_back` by one.
    """
    found = _with_the_last(asked, service, sight, judged)
    stands = judged.on_crowns or judged.crowns or judged.beyond or held_back
    return ("beyond-setup" if stands and not found else "read-first"), found


def while_asked(verdict: Verdict, steps: Sequence[Step], asked: Sequence[Question]) -> Verdict:
    """Return the verdict that may be said while readings are `asked` for: nothing is beyond a set-up before they came.

    Where there are steps to make, what they do not reach stays told beside them.
    """
    return "read-first" if verdict == "beyond-setup" and asked and not steps else verdict


def _with_the_last(
    asked: Sequence[Question], service: Service, sight: Sight, judged: Judgement
) -> tuple[Question, ...]:
    """Return the questions with what a verdict of reading first waits for besides.

    First the strings that were read to lie on a crown; where nothing else is asked, what is unread, unsure or doubted.
    Each place once, and none that has been read since the last work as often as is worth it.
    """
    places = places_asked(asked)
    more = [one for one in _last(service, sight, judged) if place_read(one.readings[0]) not in places]
    lying = [one for one in more if one.message.key == ON_CROWN]
    return (*lying, *(asked or [one for one in more if one not in lying]))


def _last(service: Service, sight: Sight, judged: Judgement) -> tuple[Question, ...]:
    known, read = sight.judged, read_in_visit(service, sight)
    open_figures = [sight.reading(index) for index in range(len(sight.targets)) if not (known & read)[index]]
    doubted = [one.reading for one in judged.doubted]
    enough, asked = read_enough(service), dict[Place, Question]()
    for why, readings in (("on_crown", judged.on_crowns), ("open", open_figures), ("contradicted", doubted)):
        for one in readings:
            place = place_read(one)
            if place not in enough:
                asked.setdefault(place, _asked(one.model_copy(update={"after": len(service.work)}), why))
    return tuple(asked.values())


def _asked(reading: Reading, why: str) -> Question:
    about = (f"string {reading.string}", f"fret {reading.fret}")
    return Question(
        ask="reading",
        readings=(reading,),
        message=Message(key=f"ask.{why}", values={"place": begun_with(reading)}, about=about),
        decides=("verdict",),
        minutes=minutes_of("reading") * (2 if reading.quantity == "pitch" else 1),
    )
