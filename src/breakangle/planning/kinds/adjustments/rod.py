"""The truss rod: bends the whole neck, so it moves every gap. Positive turns tighten: less relief."""

from collections.abc import Sequence
from typing import Annotated, Any, Literal

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.words.noun import Between
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.kind import AdjustmentKind, Effect, Lever
from breakangle.planning.kinds.move import Move
from breakangle.planning.kinds.readings.gap import is_gap, pressed
from breakangle.planning.state.effects.rod_play import moved_ahead, worked_turns
from breakangle.planning.state.picture import Picture

# Where nothing else is said below: common practice, no source.
LARGEST_MOVE_TURNS = 0.25
EIGHTH_TURNS = 0.125
# A key is set to half of an eighth by eye, to either side of where it stood.
FINEST_TURNS = 0.0625
MOST_TURNS = 1.5
# Two like turns of one rod differ so much. Common practice, no source; with the family's spread and the rod's play held
# honest by `bench.intervals`.
RESPONSE_SCATTER_RATIO = 0.10
KEY_MINUTES = 0.5  # the key found and set, and relief read: however little it turns
SETTLING_MM = 0.005  # sag amplitude; the neck creeps after a turn; common practice, no source
DETUNED_CENTS = 12.0


class RodTurn(Adjustment):
    """A turn of the rod; positive tightens."""

    adjust: Literal["rod"] = "rod"
    turns: Annotated[float, Between(-4.0, 4.0, "turns")]

    def changed_instrument(self, instrument: Instrument) -> Instrument:
        """Return the instrument with what the rod has left to tighten after this turn, where that is known."""
        left = instrument.rod.turns_left
        if left is None:
            return instrument
        rod = instrument.rod.model_copy(update={"turns_left": max(left - self.turns, 0.0)})
        return instrument.model_copy(update={"rod": rod})


def _effect(adjustment: RodTurn, picture: Picture) -> Effect:
    layout, size = picture.layout, picture.layout.size
    rows, after, rod = np.eye(size), picture.mean.copy(), picture.mean[layout["rod"]]
    works, by_play = worked_turns(adjustment.turns, picture.mean, layout)
    rows[layout["neck"]] += np.outer(rod, by_play)
    rows[layout["neck"], layout["rod"]] = works
    after[layout["neck"]] += works * rod
    moved_ahead(adjustment.turns, picture.mean, layout, rows, after)
    variance = np.zeros(size)
    variance[layout["neck"]] = (RESPONSE_SCATTER_RATIO * works * rod[0]) ** 2 * np.array([1.0, 0.25, 0.25])
    variance[layout["neck"][0]] += (SETTLING_MM * min(abs(adjustment.turns) / EIGHTH_TURNS, 1.0)) ** 2
    if adjustment.turns:
        variance[layout["pitch"]] = DETUNED_CENTS**2
    return Effect(after, rows, variance)


def _made(turns: float) -> Sequence[Adjustment]:
    """Return the turns as moves of at most a quarter turn, whole quarters first."""
    finest = round(turns / FINEST_TURNS)
    quarters, rest = divmod(abs(finest), round(LARGEST_MOVE_TURNS / FINEST_TURNS))
    moves = [LARGEST_MOVE_TURNS] * quarters + [rest * FINEST_TURNS] * bool(rest)
    return [RodTurn(turns=float(np.copysign(move, finest))) for move in moves]


def _levers(picture: Picture) -> Sequence[Lever]:
    rod = picture.board.instrument.rod
    if rod.kind == "none":
        return []
    direction = np.zeros(picture.layout.size)
    direction[picture.layout["neck"]] = picture.mean[picture.layout["rod"]]
    tighten = MOST_TURNS if rod.turns_left is None else min(rod.turns_left, MOST_TURNS)
    return [
        Lever(
            name="rod",
            order=KIND.order,
            unit="turns",
            direction=direction,
            low=-MOST_TURNS,
            high=float(np.floor(tighten / FINEST_TURNS) * FINEST_TURNS),
            step=FINEST_TURNS,
            cost=FINEST_TURNS / EIGHTH_TURNS,
            typical=0.25,
            made=_made,
            doubtful=True,
            trip="at-pitch",
            trip_minutes=KEY_MINUTES,
            least_chance_out=0.2,
        )
    ]


def _in_words(turns: float) -> str:
    names = {
        1: tr("a sixteenth of a turn"),
        2: tr("an eighth of a turn"),
        4: tr("a quarter turn"),
        8: tr("half a turn"),
        12: tr("three quarters of a turn"),
        16: tr("a whole turn"),
    }
    count = round(abs(turns) * 16)
    if count > 16 and count % 16 == 0:
        return tr("{count} turns", count=count // 16)
    parts = f"{count // 2}/8" if count % 2 == 0 else f"{count}/16"
    return names.get(count, tr("{parts} of a turn", parts=parts))


def _move(adjustment: RodTurn, instrument: Instrument) -> Move:
    del instrument
    values = {"in_words": _in_words(adjustment.turns)}
    if adjustment.turns > 0:
        to_do, done = mark("Tighten the truss rod {in_words}"), mark("Tightened the truss rod {in_words}")
    else:
        to_do, done = mark("Loosen the truss rod {in_words}"), mark("Loosened the truss rod {in_words}")
    return Move(to_do, done, values=values)


def _dangers(adjustment: RodTurn, instrument: Instrument) -> tuple[str, ...]:
    del adjustment
    always = ("rod", "slack-reading")
    return (*always, "spring-load", "shared-pull") if instrument.bridge.kind == "floating" else always


def _particulars(adjustment: RodTurn, instrument: Instrument) -> tuple[str, ...]:
    if adjustment.turns <= 0 or instrument.rod.turns_left is None:
        return ()
    left = f"{instrument.rod.turns_left:g}"
    return (tr("Turns this rod is known to have left to tighten, before this one: {left}.", left=left),)


def _verified_by(adjustment: Any, target: Any) -> bool:
    del adjustment
    return is_gap(target) and pressed(target) == (True, True)


KIND = AdjustmentKind(
    name="rod",
    words=mark("truss rod"),
    order=10,
    model=RodTurn,
    effect=_effect,
    levers=_levers,
    dangers=_dangers,
    particulars=_particulars,
    move=_move,
    screw=lambda adjustment, instrument: _in_words(adjustment.turns),
    verified_by=_verified_by,
    finest=lambda instrument: FINEST_TURNS,
)
