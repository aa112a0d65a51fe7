"""Why a take is doubted or refused, in plain words, with what to do about it."""

from dataclasses import dataclass
from enum import StrEnum

from breakangle.model.words.speech import mark


class Verdict(StrEnum):
    """What a take is worth."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    REFUSED = "refused"


@dataclass(frozen=True)
class Reason:
    """One thing wrong with a take.

    Attributes:
        code: short name that programs can test.
        words: what was heard.
        remedy: what to do about it.
        refuses: whether the take must not be used at all.
    """

    code: str
    words: str
    remedy: str
    refuses: bool

    def __str__(self) -> str:
        return f"{self.words}: {self.remedy}"


_WORDS = {
    "clipped": (mark("the recording is overdriven"), mark("turn the input down or move the microphone away")),
    "hum": (
        mark("mains hum is strong"),
        mark("move away from transformers, or switch the cable or lamp that hums"),
    ),
    "too-short": (mark("the note is too short"), mark("let it ring for at least one second")),
    "too-quiet": (mark("the note is too quiet"), mark("pluck harder or bring the microphone closer")),
    "second-string": (
        mark("another string rings too"),
        mark("mute the other strings with a cloth or a finger"),
    ),
    "beating": (
        mark("two sounds at almost the same pitch beat"),
        mark("mute the other string of the course, or pluck again, softer"),
    ),
    "not-a-string": (mark("this is no plucked string"), mark("pluck one string in a quiet room")),
    "second-pluck": (mark("the string was plucked again or touched"), mark("pluck once and let it ring")),
    "drifting": (
        mark("the pitch wanders, or a short note still glides"),
        mark("pluck softer and let it ring, hands off the tuner, the neck and the string"),
    ),
    "wandered": (
        mark("the pitch wandered by {} cents while it rang"),
        mark("let it settle and pluck again, hands off the tuner, the neck and the string"),
    ),
    "buzz": (
        mark("the string buzzes: it strikes something once a period until it swings lower"),
        mark("look at the crown that is named, and pluck softer for the pitch"),
    ),
    "gap": (
        mark("samples are missing in the sound"),
        mark("play it again; if it happens often, close what else uses the microphone"),
    ),
    "course": (
        mark("the two strings of the course ring {} cents apart"),
        mark("mute one of them with a finger and play each alone, then tune them together"),
    ),
    "which-note": (
        mark("which of two notes this is cannot be told from the sound and the order"),
        mark("play each open string, then the others after it, or say which order you played"),
    ),
    "moved": (
        mark("this string's open note and harmonic contradict each other"),
        mark("the string moved, or a note was taken for another: play all of its notes again"),
    ),
    "too-low": (
        mark("this is lower than any string looked for: two may sound at once, or it is another string"),
        mark("pluck only the string that is looked for, and mute the others with a cloth or a finger"),
    ),
    "not-this-string": (
        mark("this fits no note of the string that was named, as that one seems to be tuned"),
        mark("tune it first if it is slack; if another string was played, name that one, or none"),
    ),
    "other-string": (
        mark("another string has this note open or at its octave, and that is where notes mostly are read"),
        mark("if that one was played, name it, or none; if not, enter this pitch by hand"),
    ),
    "unsure": (
        mark("the parts of this take disagree"),
        mark("pluck again, softer, at one third of the string"),
    ),
}


def reason(code: str, refuses: bool, figure: str = "") -> Reason:
    """The reason with this code, and its figure where its words have one."""
    words, remedy = _WORDS[code]
    return Reason(code, words.format(figure), remedy, refuses)


def verdict_of(reasons: tuple[Reason, ...]) -> Verdict:
    """Refused when any reason refuses, doubtful when there is any, else good."""
    if any(one.refuses for one in reasons):
        return Verdict.REFUSED
    return Verdict.DOUBTFUL if reasons else Verdict.GOOD
