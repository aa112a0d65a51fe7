"""Adjustments as arrows: where on the elevation each acts, which way, how far, in which step, in words."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from breakangle.drawings.figures import length_text, ordered, turns_number
from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.words.speech import mark, tr, tr_n
from breakangle.planning.kinds.registry import adjustment_kind

Place = Literal["nut", "rod", "heel", "saddle"]
Way = Literal["up", "down", "away", "toward", "tighten", "loosen"]


@dataclass(frozen=True)
class Move:
    """One arrow: `words` say what to do, `extra` how (turns of the screw, which way round)."""

    place: Place
    way: Way
    words: str
    extra: str
    steps: tuple[int, ...]

    def step_words(self) -> str:
        """Return the steps of the plan this is: `step 3`, `steps 1 and 2`."""
        if not self.steps:
            return ""
        steps = ordered(list(self.steps))
        return tr_n("step {numbers}", "steps {numbers}", len(self.steps), numbers=steps)

    def how(self) -> str:
        """Return in which step and how: `step 3: 5/8 turn down`."""
        return ": ".join(one for one in (self.step_words(), self.extra) if one)


Numbered = tuple[int, Any]


def _rod(found: Sequence[Numbered], instrument: Instrument, units: str) -> list[Move]:
    del instrument, units
    turns = sum(one.turns for _, one in found)
    if not turns:
        return []
    verb, round_ = (tr("Tighten"), tr("clockwise")) if turns > 0 else (tr("Loosen"), tr("anticlockwise"))
    quarters = len(found) > 1
    extra = tr("{round} on a right-hand thread", round=round_) + (
        tr("; a quarter turn at most at a time") if quarters else ""
    )
    steps = tuple(step for step, _ in found)
    way: Way = "tighten" if turns > 0 else "loosen"
    return [
        Move(
            "rod",
            way,
            tr("{verb} the rod {turns_number}", verb=verb, turns_number=turns_number(turns)),
            extra,
            steps,
        )
    ]


def _nut_slot(found: Sequence[Numbered], instrument: Instrument, units: str) -> list[Move]:
    del instrument
    moves = []
    for step, one in found:
        amount = length_text(abs(one.mm), units)
        words = (
            tr("Cut the nut slot {amount} deeper", amount=amount)
            if one.mm < 0
            else tr("Raise the nut slot {amount}", amount=amount)
        )
        moves.append(Move("nut", "down" if one.mm < 0 else "up", words, "", (step,)))
    return moves


def _saddle_height(found: Sequence[Numbered], instrument: Instrument, units: str) -> list[Move]:
    moves = []
    for step, one in found:
        what = tr("the saddle") if one.string is not None else tr("the {post} side", post=one.post)
        amount = length_text(abs(one.mm), units)
        if instrument.bridge.kind == "one-piece" and one.mm < 0:
            where = tr("here") if one.string is not None else tr("on the {post} side", post=one.post)
            words = tr("Take {amount} off the saddle {where}", amount=amount, where=where)
        else:
            words = mark("Raise {what} {amount}") if one.mm > 0 else mark("Lower {what} {amount}")
            words = tr(words, what=what, amount=amount)
        moves.append(Move("saddle", "up" if one.mm > 0 else "down", words, _screw(one, instrument), (step,)))
    return moves


def _saddle_position(found: Sequence[Numbered], instrument: Instrument, units: str) -> list[Move]:
    moves = []
    for step, one in found:
        way: Way = "away" if one.mm > 0 else "toward"
        side = tr("away from") if one.mm > 0 else tr("toward")
        what = (
            tr("Shape the saddle's crown") if instrument.bridge.kind == "one-piece" else tr("Move the saddle")
        )
        words = tr(
            "{what} {length_text} {side} the nut",
            what=what,
            length_text=length_text(abs(one.mm), units),
            side=side,
        )
        moves.append(Move("saddle", way, words, _screw(one, instrument), (step,)))
    return moves


def _shim(found: Sequence[Numbered], instrument: Instrument, units: str) -> list[Move]:
    del units
    return [
        Move(
            "heel",
            "down" if one.degrees > 0 else "up",
            adjustment_kind(one).told(one, instrument),
            "",
            (step,),
        )
        for step, one in found
    ]


def _screw(adjustment: Adjustment, instrument: Instrument) -> str:
    return adjustment_kind(adjustment).screw(adjustment, instrument) or ""


# Where the adjusters of an instrument are to be seen from the side. What is not here has no arrow: it
# stands in the list of steps beside the drawing.
_ARROWS: dict[str, Callable[[Sequence[Numbered], Instrument, str], list[Move]]] = {
    "shim": _shim,
    "rod": _rod,
    "saddle-height": _saddle_height,
    "nut-slot": _nut_slot,
    "saddle-position": _saddle_position,
}


def moves_of(
    adjustments: Sequence[tuple[int, Adjustment]],
    string: int,
    instrument: Instrument,
    units: str,
    posts: Sequence[str] = ("bass", "treble"),
    whole: bool = True,
) -> list[Move]:
    """Return the arrows on the elevation of `string`: those of its own adjusters first.

    Args:
        adjustments: in the order they are to be made, each with the number of its step.
        string: its number.
        instrument: whose bridge and screws they are.
        units: `mm` or `inch`, for the words.
        posts: sides of the bridge to show, the nearer to the string first.
        whole: whether to show what moves the whole neck.
    """

    def shown(one: Adjustment) -> bool:
        if getattr(one, "post", None) is not None:
            return getattr(one, "post", None) in posts
        own = getattr(one, "string", None)
        return bool(own == string or (whole and own is None))

    moves: list[Move] = []
    for name, arrows in _ARROWS.items():
        mine = [(step, one) for step, one in adjustments if one.adjust == name and shown(one)]
        mine.sort(key=lambda found: _rank(found[1], posts))
        moves += arrows(mine, instrument, units) if mine else []
    return moves


def _rank(adjustment: Adjustment, posts: Sequence[str]) -> int:
    post = getattr(adjustment, "post", None)
    return posts.index(post) if post is not None else -1
