"""Buzz that was heard beside what the map foretells: where they agree, and what each says of the other."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.planning.buzz.buzz_map import BuzzMap, NoteBuzz
from breakangle.planning.kinds.readings.buzz_heard import BuzzHeard

Agreement = Literal["agrees", "other-crown", "softer-than-heard", "not-foretold"]
SAID: dict[Agreement, str] = {
    "agrees": mark("the map foretells it"),
    "other-crown": mark("the map foretells a buzz there, on another crown: read both crowns"),
    "softer-than-heard": mark(
        "the map has it touch and not heard: your ear, or your hand, is sharper than the limit"
    ),
    "not-foretold": mark(
        "the map has it clear: a crown or the relief is not as it was read, or it was played harder"
    ),
}


@dataclass(frozen=True)
class Beside:
    """One buzz that was heard, and the note as the map has it at the hardest strength asked for."""

    heard: BuzzHeard
    foretold: NoteBuzz | None

    @property
    def stop(self) -> int:
        """The fret that stops the note; 0 when open."""
        return self.heard.held[-1] if self.heard.held else 0

    @property
    def agreement(self) -> Agreement:
        """How the two go together; the crown beside counts as the same."""
        found = self.foretold
        if found is None or found.verdict == "clear":
            return "not-foretold"
        if found.verdict == "trace":
            return "softer-than-heard"
        near = found.crown is not None and abs(found.crown - self.heard.fret) <= 1
        return "agrees" if near else "other-crown"

    def words(self) -> str:
        """Return what was heard and what the map says of it, in a sentence."""
        one = self.heard
        note = tr("fret {stop}", stop=self.stop) if self.stop else tr("open")
        return tr(
            "Heard: string {string}, {note}, on the crown of fret {fret}, until {mm:.2f} mm "
            "({mm_2:.3f} in) over it; {said}.",
            string=one.string,
            note=note,
            fret=one.fret,
            mm=one.mm,
            mm_2=one.mm / 25.4,
            said=SAID[self.agreement],
        )

    def to_json(self) -> dict[str, Any]:
        """Plain data."""
        found = self.foretold
        return {
            "string": self.heard.string,
            "stop": self.stop,
            "crown": self.heard.fret,
            "chance": self.heard.chance,
            "mm": self.heard.mm,
            "foretold": None if found is None else found.verdict,
            "foretold_crown": None if found is None else found.crown,
            "agreement": self.agreement,
        }


def heard_beside(service: Service, found: BuzzMap) -> tuple[Beside, ...]:
    """Return every buzz heard since the last work, beside the map's word on it."""
    notes = {(one.string, one.stop): one for one in found.at(found.strengths[-1])}
    heard = [
        reading
        for reading in service.readings
        if isinstance(reading, BuzzHeard) and reading.after == len(service.work)
    ]
    return tuple(Beside(one, notes.get((one.string, one.held[-1] if one.held else 0))) for one in heard)


def heard_from_ratio(found: Sequence[Beside]) -> float | None:
    """Return the depth below a crown, over the height of the pluck, from which touches were heard here, where that is
    less than the limit has it; None where no note that the map has touch unheard was heard."""
    ratios = [
        one.foretold.depth_ratio for one in found if one.foretold and one.agreement == "softer-than-heard"
    ]
    return min(ratios) if ratios else None
