"""The judgement in messages: its verdict, what was found, which touches are heard, what bars going lower."""

from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.verdict.judgement import Judgement, open_heights
from breakangle.planning.verdict.open_figures import message_of_open
from breakangle.planning.verdict.touches import Touching


def verdict_message(found: Judgement) -> Message:
    """Return the plan's verdict as every other answer repeats it."""
    unless = unless_it_buzzes(found.touching()) if found.verdict == "leave" else None
    if unless is not None:
        return unless
    if found.verdict == "adjust":
        return Message(key="verdict.plan_adjust", values={"steps": found.steps})
    name = {"leave": "plan_leave", "read-first": "plan_read_first", "beyond-setup": "plan_beyond"}
    severity = "note" if found.verdict == "leave" else "care"
    return Message(key=f"verdict.{name[found.verdict]}", severity=severity)


def finding_messages(found: Judgement) -> tuple[Message, ...]:
    """Return what is wrong and stays so until it is answered: patterns, crowns out of line, strings on a crown."""
    return (
        *(one.message for one in found.patterns),
        *(one.message() for one in found.crowns_apart),
        *resting_messages(found),
    )


def resting_messages(found: Judgement) -> tuple[Message, ...]:
    """Return where strings were read to lie on a crown, and nothing has answered it since."""
    return tuple(
        Message(
            key="verdict.on_crown",
            values={"place": reading_kind(one).place(one), "string": one.string, "fret": one.fret},
            about=(f"string {one.string}", f"fret {one.fret}"),
            severity="care",
        )
        for one in found.on_crowns
    )


def _touch(notes: Touching, key: str) -> Message | None:
    if not notes.heard:
        return None
    worst = notes.heard[0]
    where = tr(
        "string {string} {open}",
        string=worst.string,
        open=tr("open") if worst.stop == 0 else tr("at fret {stop}", stop=worst.stop),
    )
    values = {
        "strength": notes.strength,
        "where": where,
        "crown": worst.crown,
        "fault": notes.faults()[0][0],
    }
    about = (f"string {worst.string}", f"fret {worst.crown}")
    return Message(key=key, values=values, about=about, severity="care")


def touching_message(notes: Touching) -> Message | None:
    """Return where touches are heard as played, without a count: the worst of them and its likeliest fault; or None."""
    return _touch(notes, "verdict.touch" if notes.own else "verdict.may_touch")


def unless_it_buzzes(notes: Touching) -> Message | None:
    """Return how an instrument is left that may be heard to touch, though what was read is inside; or None."""
    return _touch(notes, "verdict.leave_but" if notes.own else "verdict.leave_unless")


def statements(found: Judgement, strength: str | None = None) -> tuple[Message, ...]:
    """Return what is said beside any answer: the verdict, what was found, touches that are heard, what is open."""
    touch = touching_message(found.touching(strength))
    return (
        verdict_message(found),
        *finding_messages(found),
        *([touch] if touch is not None else []),
        *message_of_open(found.open),
    )


def in_the_way(found: Judgement) -> tuple[Message, ...]:
    """Return what stands in the way of a lower set-up, in the plan's own findings; empty where nothing does."""
    proud = tuple(one.message() for one in found.crowns_apart)
    patterns = tuple(one.message for one in found.patterns)
    return (*patterns, *proud, *resting_messages(found), *message_of_open(open_heights(found)))


def counts_rest_on(own: bool) -> Message | None:
    """Return what is said beside every count of notes that touch; None where the shop set its own strengths."""
    return None if own else Message(key="verdict.not_set_by_ear")
