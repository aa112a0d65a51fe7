"""What was left alone, what is still open, and why: sentences for an owner."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from breakangle.documents.sheets.found import saying, still_words
from breakangle.documents.sheets.standing import Standing
from breakangle.documents.sheets.words import a_sentence, listed
from breakangle.model.plan import Note
from breakangle.model.words.speech import mark, tr

HELD = mark(
    "Nothing was cut for it, because of what was found in the readings: it stands under what to watch."
)


AT_YOUR_WISH = mark("It was left at your wish.")
NO_REASON = mark("No reason is written down.")


@dataclass(frozen=True)
class Reasons:
    """Why figures stay out. `beyond` holds the planner's notes of it, each naming its sort of figure.

    `held`: the sorts of figure that are only mended by cutting, which what was found in the readings forbids.
    `written`: what the bench wrote for a sort of figure.
    """

    beyond: Sequence[Note] = ()
    held: Sequence[str] = ()
    written: Mapping[str, str] = field(default_factory=dict)

    def of(self, name: str, declined: frozenset[str]) -> str:
        """Return why this sort of figure stays out, as a sentence; empty where nobody has said."""
        if self.written.get(name, "").strip():
            return a_sentence(self.written[name])
        if name in declined:
            return tr(AT_YOUR_WISH)
        reasons = [one.why for one in self.beyond if one.of == name]
        if reasons:
            return tr("It is beyond a set-up: {reasons}.", reasons=reasons[0])
        return tr(HELD) if name in self.held else ""


def left_alone(standing: Standing, clear: bool = True) -> tuple[str, ...]:
    """Return what was not touched because it was right.

    Right is only what was read at every string and not worked on, and only where nothing else was found (`clear`).
    """
    right = [
        saying(group.name).name
        for group in standing.groups
        if group.all_judged(after=False)
        and group.name not in standing.worked
        and not group.outside(after=False)
        and not group.outside(after=True)
    ]
    if not right:
        return ()
    names = listed([right[0], *(one.lower() for one in right[1:])])
    were = tr("was") if len(right) == 1 else tr("were")
    if clear:
        return (
            tr("{names} {were} right already, and what is right is best left alone.", names=names, were=were),
        )
    return (tr("{names} {were} within tolerance as read, and not touched.", names=names, were=were),)


def still_open(standing: Standing, reasons: Reasons) -> tuple[str, ...]:
    """Return what is still out of tolerance as it stands, and why."""
    return tuple(
        f"{still_words(group)} {reasons.of(group.name, standing.declined) or NO_REASON}"
        for group in standing.groups
        if group.outside(after=True)
    )
