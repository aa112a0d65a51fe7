"""Keys that are nearly known, or that would change what is meant: refused where a person types, doubted in a file."""

from collections.abc import Iterable, Mapping
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.noun import Noun
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import KEYS

# Words for what a form calls otherwise, which would change what is meant if they were kept and not understood.
MEANT = {
    "hold": "held", "holding": "held", "holds": "held", "pressed": "held", "capo": "held", "stopped": "held",
    "on": "string", "at": "fret", "over": "fret", "inch": "mm", "inches": "mm", "in": "mm", "thou": "mm",
    "turn": "turns", "degree": "degrees",
}  # fmt: skip


# Other programs keep such keys for something else; only where a person types do they mean what they say.
FOREIGN = ("on", "at", "over", "in", "stopped")


def near_misses(noun: Noun) -> list[tuple[str, str]]:
    """Return every key in a file's `noun` that is nearly a known one, or means one, with that one."""
    names, extra = type(noun).model_fields, noun.model_extra or {}
    return [(key, meant) for key in extra if key not in FOREIGN and (meant := meant_by(key, names))]


def meant_by(key: str, known: Iterable[str]) -> str | None:
    """Return the known key that `key` was likely meant as; None where it is known, or like none of them."""
    names = tuple(known)
    if key in names or key in KEYS:
        return None
    word = key.strip().lower().replace("-", "_")
    if word in names:
        return word
    if MEANT.get(word) in names:
        return MEANT[word]
    return next((name for name in names if _within_one(word, name)), None)


def refuse_near_misses(given: Mapping[str, Any], known: Iterable[str]) -> None:
    """Refuse the first key that is nearly a known one, or means one.

    Raises:
        CorrectInputError: with what was meant.
    """
    names = tuple(known)
    for key, value in given.items():
        meant = meant_by(key, names)
        if meant is not None:
            raise CorrectInputError(
                tr("{key}={shown} is not known", key=key, shown=_shown(value)),
                "",
                tr("did you mean {meant}={shown}?", meant=meant, shown=_shown(value)),
            )


def _shown(value: Any) -> str:
    return ",".join(map(str, value)) if isinstance(value, list | tuple) else str(value)[:40]


def _within_one(one: str, other: str) -> bool:
    """Return whether one letter put in, left out, changed or exchanged with its neighbour makes `one` into `other`."""
    if min(len(one), len(other)) < 3 or abs(len(one) - len(other)) > 1:
        return False
    at = next((i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), None)
    if at is None:
        return True
    rest, others = one[at:], other[at:]
    return (
        rest[1:] == others[1:]
        or rest[1:] == others
        or rest == others[1:]
        or (rest[:2] == others[:2][::-1] and rest[2:] == others[2:])
    )
