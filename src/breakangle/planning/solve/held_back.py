"""Cuts that are called for and not ordered, each with what it waits for."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.targets.gap import is_relief
from breakangle.planning.solve.deferred import Moves
from breakangle.planning.solve.gate import Awaited, Gate, lever_key
from breakangle.planning.solve.margins import own_targets
from breakangle.planning.solve.unreached import Unreached

TO_BE_READ = ("rod", "slide")  # what is read after it is done, and then opens what waited for it
NECK = "neck"


@dataclass(frozen=True)
class HeldBack:
    """A cut that is called for and not ordered: its adjuster's key, what it serves, and what it waits for.

    `awaited` are the targets to read before; none where it is `beside` something that has to be seen to before: a turn
    of the rod (`rod`), a slide of the whole bridge (`slide`), a neck bowed past what its rod reaches (`neck`), or a
    pattern found in the readings (its key).
    """

    key: str
    serves: tuple[int, ...]
    awaited: tuple[Awaited, ...] = ()
    beside: str = ""

    @property
    def by_pattern(self) -> bool:
        """Return whether a pattern found in the readings holds it, which no reading of its own opens."""
        return self.beside not in ("", NECK, *TO_BE_READ)


def beside(moves: Moves, what: str, sight: Sight) -> tuple[HeldBack, ...]:
    """Return the cuts `moves` as held back beside `what` has to be seen to before."""
    levers = [lever for lever, _ in moves]
    own = own_targets(levers, sight.targets)
    return tuple(
        HeldBack(lever_key(lever), tuple(np.flatnonzero(own[:, column]).tolist()), beside=what)
        for column, lever in enumerate(levers)
    )


def under_the_neck(
    moves: Moves, vain: Sequence[Adjustment], missed: Sequence[Unreached], sight: Sight
) -> tuple[HeldBack, ...]:
    """Return the heights in `vain` as held back by a neck that no rod straightens: a master says why he leaves them."""
    bowed = any(is_relief(sight.targets[one.target]) and (one.far_ratio or 0.0) > 0.0 for one in missed)
    heights = [one for one in moves if one[0].trial.adjust == "saddle-height"]
    made = tuple(one for one in heights if one[0].made(one[1])[0] in vain)
    return beside(made, NECK, sight) if bowed else ()


def held_back(
    sight: Sight, levers: Sequence[Lever], own: NDArray[np.bool_], gate: Gate
) -> tuple[HeldBack, ...]:
    """Return the cuts among `levers` that a figure calls for and that the gate keeps from being ordered."""
    found = []
    for column, lever in enumerate(levers):
        effect = sight.rows @ lever.direction
        way = np.where(sight.off > 0.0, -lever.low, lever.high) * np.abs(effect)
        out = own[:, column] & sight.judged & ~sight.inside & (way > 0.0)
        if out.any() and not gate.is_open[column]:
            serves = tuple(np.flatnonzero(out).tolist())
            held = gate.held_by[column]
            found.append(HeldBack(lever_key(lever), serves, () if held else gate.awaited[column], held))
    return tuple(found)
