"""What was done, in the past tense, moves of one adjuster drawn together."""

from collections.abc import Sequence

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.planning.kinds.move import together as alike_together
from breakangle.planning.kinds.registry import adjustment_kind

AMOUNTS = ("turns", "mm", "degrees")
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
    return _sentences(work, instrument, done=True)


def planned_words(moves: Sequence[Adjustment], instrument: Instrument) -> tuple[str, ...]:
    """Return a sentence for each sort of move that was not made; like moves of several strings are one."""
    return _sentences(moves, instrument, done=False)


def _sentences(work: Sequence[Adjustment], instrument: Instrument, done: bool) -> tuple[str, ...]:
    moves = [adjustment_kind(one).move(one, instrument) for one in together(work)]
    return tuple(f"{one.words(done)}." for one in alike_together(moves))


def moved_kinds(work: Sequence[Adjustment]) -> frozenset[str]:
    """Return the names of the kinds of adjuster that were moved."""
    return frozenset(one.adjust for one in together(work))
