"""One move of an adjuster in words: what to do, what was done, and like moves of several strings in one sentence."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import tr


@dataclass(frozen=True)
class Move:
    """A move as two sentences without their stop, `to_do` and `done`, and what stands in both.

    `{strings}` stands for `strings` by their numbers, `{amount}` for `amounts_mm`, the others for `values`, whose own
    words are said in the language spoken.
    """

    to_do: str
    done: str
    strings: tuple[int, ...] = ()
    amounts_mm: tuple[float, ...] = ()
    values: Mapping[str, str] = field(default_factory=dict)

    def words(self, done: bool = False) -> str:
        """Return it in words, as what is to be done or as what was done."""
        said = dict(self.values)
        if self.strings:
            said["strings"] = strings_in_words(self.strings)
        if self.amounts_mm:
            said["amount"] = _span(self.amounts_mm)
        return tr(self.done if done else self.to_do, **said)

    def like(self, other: "Move") -> bool:
        """Return whether both differ in nothing but their strings and amounts."""
        mine, theirs = ((one.to_do, one.done, dict(one.values)) for one in (self, other))
        return mine == theirs and bool(self.strings) and bool(other.strings)


def together(moves: Sequence[Move]) -> tuple[Move, ...]:
    """Return the moves with those that are alike as one, where the first of them stands."""
    found: list[Move] = []
    for move in moves:
        place = next((place for place, one in enumerate(found) if one.like(move)), None)
        if place is None:
            found.append(move)
            continue
        one = found[place]
        strings = (*one.strings, *move.strings)
        found[place] = replace(one, strings=strings, amounts_mm=(*one.amounts_mm, *move.amounts_mm))
    return tuple(found)


def _span(amounts_mm: Sequence[float]) -> str:
    low, high = f"{min(amounts_mm):.2f}", f"{max(amounts_mm):.2f}"
    with_unit = f"{high} mm"
    return with_unit if low == high else tr("{low} to {high}", low=low, high=with_unit)
