"""Why a take is doubted or refused, in plain words, with what to do about it."""

from dataclasses import dataclass
from enum import StrEnum


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
    "clipped": ("the recording is overdriven", "turn the input down or move the microphone away"),
    "hum": ("mains hum is strong", "move away from transformers, or switch the cable or lamp that hums"),
    "too-short": ("the note is too short", "let it ring for at least one second"),
    "too-quiet": ("the note is too quiet", "pluck harder or bring the microphone closer"),
    "second-string": ("another string rings too", "mute the other strings with a cloth or a finger"),
    "beating": (
        "two sounds at almost the same pitch beat",
        "mute the other string of the course, or pluck again, softer",
    ),
    "not-a-string": ("this is no plucked string", "pluck one string in a quiet room"),
    "second-pluck": ("the string was plucked again or touched", "pluck once and let it ring"),
    "drifting": (
        "the pitch wanders, or a short note still glides",
        "pluck softer and let it ring, hands off the tuner, the neck and the string",
    ),
    "wandered": (
        "the pitch wandered by {} cents while it rang",
        "let it settle and pluck again, hands off the tuner, the neck and the string",
    ),
    "buzz": (
        "the string buzzes: it strikes something once a period until it swings lower",
        "look at the crown that is named, and pluck softer for the pitch",
    ),
    "gap": (
        "samples are missing in the sound",
        "play it again; if it happens often, close what else uses the microphone",
    ),
    "course": (
        "the two strings of the course ring {} cents apart",
        "mute one of them with a finger and play each alone, then tune them together",
    ),
    "which-note": (
        "which of two notes this is cannot be told from the sound and the order",
        "play each open string, then the others after it, or say which order you played",
    ),
    "moved": (
        "this string's open note and harmonic contradict each other",
        "the string moved, or a note was taken for another: play all of its notes again",
    ),
    "too-low": (
        "this is lower than any string looked for: two may sound at once, or it is another string",
        "pluck only the string that is looked for, and mute the others with a cloth or a finger",
    ),
    "not-this-string": (
        "this fits no note of the string that was named, as that one seems to be tuned",
        "tune it first if it is slack; if another string was played, name that one, or none",
    ),
    "other-string": (
        "another string has this note open or at its octave, and that is where notes mostly are read",
        "if that one was played, name it, or none; if not, enter this pitch by hand",
    ),
    "unsure": ("the parts of this take disagree", "pluck again, softer, at one third of the string"),
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
