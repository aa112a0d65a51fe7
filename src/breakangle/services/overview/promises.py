"""What was promised to owners, as it stands on a day: overdue, today, tomorrow, or in so many days."""

from collections.abc import Iterable
from datetime import date

from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr
from breakangle.storage.records.worklist import Work
from breakangle.storage.schema.tables import STATES

AT_WORK = STATES[: STATES.index("ready")]


def promise_said(work: Work, day: date) -> Message | None:
    """Return what the promise of a visit is on this day; None where nothing is promised, or it has gone back.

    Only what is still to be done can be overdue: an instrument that stands ready waits for its owner.
    """
    promised, about = work.promised_on, (tr("sheet {work_number}", work_number=work.number),)
    if promised is None or work.state == STATES[-1]:
        return None
    if work.state not in AT_WORK:
        return Message(key="today.ready_for", values={"day": promised.isoformat()}, about=about)
    days = (promised - day).days
    if days < 0:
        key = "today.overdue_one" if days == -1 else "today.overdue"
        return Message(key=key, values={"days": -days}, about=about, severity="care")
    if days <= 1:
        return Message(key=("today.due_today", "today.due_tomorrow")[days], about=about)
    return Message(key="today.due_in", values={"days": days}, about=about)


def promised_by(works: Iterable[Work], day: date) -> tuple[Work, ...]:
    """Return the visits still to be done that were promised for this day or before, the longest overdue first."""
    found = [work for work in works if work.state in AT_WORK and work.promised_on and work.promised_on <= day]
    return tuple(sorted(found, key=lambda work: (work.promised_on or day, work.number)))
