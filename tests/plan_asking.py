"""A plan that waits for two readings, with one thing found: for what is said of such plans."""

from breakangle.model.plan import Finding, Plan, Question, Size, Where
from breakangle.model.words.message import Message
from breakangle.planning.kinds.readings.gap import Gap

ACTION = Gap(string=6, fret=12, held=(1,), mm=2.1, uncertainty_mm=0.03)
RELIEF = Gap(string=6, fret=8, held=(1, 14), mm=0.2, uncertainty_mm=0.02)


def asking(plan: Plan) -> Plan:
    """Return the plan as one that waits for two readings, with one thing found."""
    said = Message(key="plan.read_first", values={"what": "action at string 6"}, about=("string 6",))
    questions = (
        Question(
            ask="reading", readings=(ACTION,), message=said, decides=("nut-slot_6", "nut-slot_5", "verdict")
        ),
        Question(ask="reading", readings=(RELIEF,), message=said, decides=("saddle-height_bass",)),
    )
    finding = Finding(
        finding="twist",
        where=Where(strings=(1, 6)),
        probability=0.93,
        size=Size(value=0.2, low=0.1, high=0.3, unit="mm"),
        tolerance=0.08,
        holds_cuts=True,
        message=said,
        rests_on=(RELIEF,),
    )
    update = {
        "verdict": "read-first",
        "steps": (),
        "trips": (),
        "questions": questions,
        "findings": (finding,),
    }
    return plan.model_copy(update=update)
