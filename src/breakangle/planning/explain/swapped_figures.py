"""Two figures of one kind, each of which would be right at the other's string: written down in each other's place."""

from collections.abc import Iterator, Sequence
from itertools import combinations

from breakangle.model.plan import Question
from breakangle.model.words.message import Message
from breakangle.model.words.said import strings_in_words
from breakangle.planning.estimate.estimate import Surprise
from breakangle.planning.kinds.reading_names import reading_named
from breakangle.reference.minutes import minutes_of

# Of how far off each is where it stands: nearer than that it is where the other stands. Common practice, no source.
FITS_SHARE = 0.35


def swapped_pairs(surprises: Sequence[Surprise]) -> Iterator[tuple[Surprise, Surprise]]:
    """Yield the pairs of surprising readings, taken alike at two strings, that fit once they change places."""
    used: set[int] = set()
    for (at, one), (behind, other) in combinations(enumerate(surprises), 2):
        if at in used or behind in used or not _alike(one, other):
            continue
        crossed = (abs(one.read - other.expected), abs(other.read - one.expected))
        now = (abs(one.read - one.expected), abs(other.read - other.expected))
        if all(there < FITS_SHARE * here for there, here in zip(crossed, now, strict=True)):
            used |= {at, behind}
            yield one, other


def _alike(one: Surprise, other: Surprise) -> bool:
    """Return whether two readings are of one kind, taken in one way at one time, at two strings."""
    keys = ("quantity", "fret", "held", "harmonic", "after")
    same = all(getattr(one.reading, key, None) == getattr(other.reading, key, None) for key in keys)
    return same and one.reading.string != other.reading.string


def swapped_question(one: Surprise, other: Surprise, decides: Sequence[str]) -> Question:
    """Return the question to read both again, naming what has probably happened; `decides`: the adjusters that wait."""
    readings = tuple(sorted((one.reading, other.reading), key=lambda each: each.string))
    first = readings[0]
    words = reading_named(first).replace(
        f"string {first.string}", strings_in_words(r.string for r in readings)
    )
    values: dict[str, float | str] = {"place": words[:1].upper() + words[1:]}
    each = minutes_of("reading") * (2 if first.quantity == "pitch" else 1)
    return Question(
        ask="reading",
        readings=readings,
        message=Message(
            key="ask.swapped", values=values, about=tuple(f"string {r.string}" for r in readings)
        ),
        decides=tuple(decides) or ("verdict",),
        minutes=len(readings) * each,
    )
