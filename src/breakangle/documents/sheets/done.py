"""What was done, in the past tense, moves of one adjuster drawn together."""

import re
from collections.abc import Sequence

from breakangle.documents.sheets.words import in_the_past, strings_words
from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.registry import adjustment_kind

AMOUNTS = ("turns", "mm", "degrees")
STRING, AMOUNT = re.compile(r"\bstring (\d+)"), re.compile(r"\b(\d+\.\d+) mm\b")
NUMBERS_MEET = re.compile(r"(?<=\d) (?=\d+\.\d)")  # a list of strings, and an amount right after it
NOTHING = 1e-6


def together(work: Sequence[Adjustment]) -> tuple[Adjustment, ...]:
    """Return the work with all moves of one adjuster as one, where it was first moved; what cancels is left out."""
    found: dict[str, Adjustment] = {}
    for one in work:
        amount = _amount(one)
        key = f"{one.adjust} {one.model_dump_json(exclude={amount} if amount else None)}"
        if key in found and amount:
            total = getattr(found[key], amount) + getattr(one, amount)
            found[key] = one.model_copy(update={amount: round(total, 6)})
        else:
            found[key] = one
    return tuple(one for one in found.values() if not _nothing(one))


def _amount(one: Adjustment) -> str | None:
    return next((name for name in AMOUNTS if isinstance(getattr(one, name, None), float | int)), None)


def _nothing(one: Adjustment) -> bool:
    amount = _amount(one)
    return amount is not None and abs(getattr(one, amount)) < NOTHING


def done_words(work: Sequence[Adjustment], instrument: Instrument) -> tuple[str, ...]:
    """Return a sentence for each sort of move, in the order of the work; like moves of several strings are one."""
    return _sentences([in_the_past(adjustment_kind(one).told(one, instrument)) for one in together(work)])


def planned_words(moves: Sequence[Adjustment], instrument: Instrument) -> tuple[str, ...]:
    """Return a sentence for each sort of move that was not made; like moves of several strings are one."""
    return _sentences([adjustment_kind(one).told(one, instrument) for one in together(moves)])


def _sentences(every: Sequence[str]) -> tuple[str, ...]:
    found: dict[str, list[str]] = {}
    for told in every:
        found.setdefault(AMOUNT.sub("{}", STRING.sub("{}", told)), []).append(told)
    return tuple(f"{_as_one(told)}." for told in found.values())


def _as_one(told: Sequence[str]) -> str:
    """Return sentences that differ only in a string and an amount as one: all strings, least and greatest amount."""
    places = sorted({int(found[1]) for one in told if (found := STRING.search(one))})
    if len(told) == 1 or len(places) != len(told):
        return "; ".join(told)
    amounts = sorted((float(found[1]), found[0]) for one in told if (found := AMOUNT.search(one)))
    sentence = STRING.sub(strings_words(places), told[0], count=1)
    if amounts:
        low, high = amounts[0][1], amounts[-1][1]
        span = low if low == high else tr("{low} to {high}", low=low.split()[0], high=high)
        sentence = AMOUNT.sub(span, sentence, count=1)
    return NUMBERS_MEET.sub(", ", sentence)


def moved_kinds(work: Sequence[Adjustment]) -> frozenset[str]:
    """Return the names of the kinds of adjuster that were moved."""
    return frozenset(one.adjust for one in together(work))
