"""What warmth and damp do to open strings: steel by its tables, polymers and gut learned for each set.

The prior of a polymer set has no sign. Learning: the same strings heard before and after the air has changed, without
retuning, tell the set's own response, which the strings of one make share but for a scatter.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot

from breakangle.model.words.message import Message
from breakangle.physics.string.laws import CENTS_PER_NEPER
from breakangle.planning.state.board import Board
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.behaviour import behaviour
from breakangle.reference.expansion import expansion
from breakangle.reference.strings import make

GRAIN = "wood-along-the-grain"
HEARD_SPREAD_CENTS = 1.0  # two pitches by a tuner's eye, a night apart; common practice, no source
# How unlike strings of one make in one set are, as a share of how unlike sets are; common practice, no source.
WITHIN_SET_SHARE = 0.3


@dataclass(frozen=True)
class Warmth:
    """What a kelvin does to one open string, in cents; `learned`: from this very set, not from tables alone."""

    string: int
    cents_per_k: Known
    learned: bool


def is_learned_by_set(make_key: str) -> bool:
    """Return whether what warmth does to a make is learned for each set: where a polymer or gut carries the pull."""
    return make(make_key).soft


def warmth(
    board: Board, heard: Mapping[int, float] | None = None, warmer_k: float = 0.0
) -> tuple[Warmth, ...]:
    """Return what a kelvin does to each open string, in cents.

    Args:
        board: the instrument as strung.
        heard: by how many cents each string moved, without retuning, by string number.
        warmer_k: the change of temperature that moved them; nothing is learned from less than a degree.
    """
    grows, found = [_growth(board, index) for index in range(board.string_count)], []
    learned = _learned(board, grows, heard or {}, warmer_k) if abs(warmer_k) >= 1.0 else {}
    for index, one in enumerate(board.instrument.in_order()):
        growth = learned.get(index, grows[index])
        constants = board.strings[index]
        cents = cents_per_growth(board, index)
        value = cents * growth.value
        # What was heard holds whatever the stiffness is: pitch was read, not growth.
        stiffness = 0.0 if index in learned else constants.axial_sd_ratio * value
        spread = hypot(cents * growth.uncertainty, stiffness)
        found.append(Warmth(one.string, Known(value, spread), index in learned))
    return tuple(found)


def cents_per_growth(board: Board, index: int) -> float:
    """Return cents for each unit of growth that a string (from 0) has over the neck: -(C/2) EA/T."""
    constants = board.strings[index]
    return -CENTS_PER_NEPER / 2.0 * constants.axial_stiffness_n / constants.tension_n


def damp(board: Board, index: int) -> Known:
    """Return what a percent of moisture does to an open string (from 0), in cents, once all has settled."""
    own = expansion(behaviour(board.instrument.in_order()[index].make).expands_as).per_moisture_percent
    neck, cents = expansion(GRAIN).per_moisture_percent, cents_per_growth(board, index)
    return Known(cents * (own.mean - neck.mean), abs(cents) * hypot(own.sd, neck.sd))


def _growth(board: Board, index: int) -> Known:
    """Return growth per kelvin of a string over that of the neck's length."""
    own, neck = expansion(behaviour(board.instrument.in_order()[index].make).expands_as), expansion(GRAIN)
    return Known(own.per_k.mean - neck.per_k.mean, hypot(own.per_k.sd, neck.per_k.sd))


def _learned(
    board: Board, grows: Sequence[Known], heard: Mapping[int, float], warmer_k: float
) -> dict[int, Known]:
    """Return growth over the neck's per kelvin by string, of every make of which a string was heard.

    A string's growth is its set's with a scatter, and both are normal: what the others tell of the set is the prior of
    what the string itself was heard to do.
    """
    found: dict[int, Known] = {}
    strings = board.instrument.in_order()
    for key in {one.make for one in strings if is_learned_by_set(one.make)}:
        alike = [index for index, one in enumerate(strings) if one.make == key]
        read = {
            index: Known(heard[strings[index].string] / slope, abs(HEARD_SPREAD_CENTS / slope))
            for index in alike
            if strings[index].string in heard
            for slope in [cents_per_growth(board, index) * warmer_k]
        }
        if not read:
            continue
        scatter = WITHIN_SET_SHARE * grows[alike[0]].uncertainty
        for index in alike:
            others = [
                Known(one.value, hypot(one.uncertainty, scatter))
                for place, one in read.items()
                if place != index
            ]
            of_set = _weighed([grows[index], *others])
            own = Known(of_set.value, hypot(of_set.uncertainty, scatter))
            found[index] = _weighed([own, read[index]]) if index in read else own
    return found


def _weighed(parts: Sequence[Known]) -> Known:
    """Return the mean of independent normal figures, each by its information."""
    information = [1.0 / one.uncertainty**2 for one in parts]
    total = sum(information)
    value = sum(one.value * weight for one, weight in zip(parts, information, strict=True)) / total
    return Known(value, total**-0.5)


def warmth_messages(board: Board, found: Sequence[Warmth]) -> tuple[Message, ...]:
    """Return what was learned of this set, a message for each make of it."""
    said, strings = {}, board.instrument.in_order()
    for one in found:
        key = strings[one.string - 1].make
        if one.learned and key not in said:
            values = {"make": make(key).words, "string": one.string, "cents": one.cents_per_k.value}
            values["uncertainty_cents"] = 2.0 * one.cents_per_k.uncertainty
            said[key] = Message(key="effects.set_learned", values=values, about=("strings",))
    return tuple(said.values())


def warmth_not_known(board: Board, found: Sequence[Warmth]) -> tuple[Message, ...]:
    """Return that a set's own way in warmth is not known, where no table and nothing heard tells it."""
    strings = board.instrument.in_order()
    open_makes = [one for one in found if not one.learned and is_learned_by_set(strings[one.string - 1].make)]
    return (Message(key="effects.set_unknown", about=("strings",)),) if open_makes else ()
