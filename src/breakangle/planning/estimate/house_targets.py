"""The house's targets for an instrument and a hand, and a person's own wishes in their place."""

from functools import lru_cache

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Target
from breakangle.model.service import Service, Targets
from breakangle.planning.estimate.family_fit import for_swing, intonation_tolerance_cents, swing_ratios
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.kinds.targets.intonation import IntonationTarget
from breakangle.planning.state.board import Board
from breakangle.reference.families import Family, family_of

# Where nothing else is said below: common practice, no source.
ACTION_FRET, NUT_HELD = 12, 3
ZERO_FRET_MM = (
    0.02  # past the first fret, where a zero fret is as high as the others; common practice, no source
)


def relief_fret(instrument: Instrument, kin: Family) -> int:
    """Return the fret over which relief is read on this instrument: the family's, scaled to its joint."""
    joint = instrument.joint_fret
    return min(max(round(kin.relief_fret * joint / kin.joint_fret), 2), joint - 1)


def _action_mm(string: int, board: Board, kin: Family, hand: str, share: float) -> float:
    """Return the wanted action of one string, for how wide it swings."""
    figures = {
        name: one.action_high_mm + (one.action_low_mm - one.action_high_mm) * share
        for name, one in kin.targets.items()
    }
    return for_swing(kin, hand, float(swing_ratios(board)[string - 1]), figures)


def _of_string(string: int, first: int, share: float, board: Board, kin: Family, hand: str) -> list[Target]:
    """Return the targets of one string; `share` is 0 at the treble edge and 1 at the bass edge."""
    frets, good, figures = board.fret_count, kin.tolerances, kin.targets[hand]
    fret = min(first + ACTION_FRET, frets)
    found: list[Target] = [
        GapTarget(
            string=string,
            fret=fret,
            held=(first + 1,),
            mm=round(_action_mm(string, board, kin, hand, share), 3),
            tolerance_mm=good.action_mm,
        ),
        IntonationTarget(
            string=string,
            fret=fret,
            cents=figures.intonation_cents,
            tolerance_cents=intonation_tolerance_cents(board.instrument, kin),
        ),
    ]
    if frets >= first + NUT_HELD:
        nut = figures.nut_high_mm + (figures.nut_low_mm - figures.nut_high_mm) * share
        if first == 0 and board.instrument.nut.kind == "zero-fret":
            nut = ZERO_FRET_MM
        found.append(
            GapTarget(
                string=string,
                fret=first + 1,
                held=(first + NUT_HELD,),
                mm=round(nut, 3),
                tolerance_mm=good.nut_mm,
            )
        )
    return found


@lru_cache(maxsize=128)
def house_targets(board: Board, hand: str) -> tuple[Target, ...]:
    """Return the house's targets: relief at both edges, then action, intonation and nut of every string.

    They are the family's for the hand, as this bridge, scale, tuning and stringing make them
    (`planning.estimate.family_fit`).
    """
    instrument = board.instrument
    kin = family_of(instrument)
    joint, middle = instrument.joint_fret, relief_fret(instrument, kin)
    full = [one.string for one in instrument.in_order() if one.nut_at_fret == 0]
    edges = sorted({full[0], full[-1]}, reverse=True) if full else []
    reliefs = {name: one.relief_mm for name, one in kin.targets.items()}
    relief = for_swing(kin, hand, float(np.mean(swing_ratios(board))), reliefs)
    found: list[Target] = [
        GapTarget(
            string=string,
            fret=middle,
            held=(1, joint),
            mm=round(relief, 3),
            tolerance_mm=kin.tolerances.relief_mm,
        )
        for string in edges
        if 1 < middle < joint
    ]
    shares = np.clip((1.0 - board.side_ratio) / 2.0, 0.0, 1.0)
    for index, one in enumerate(instrument.in_order()):
        found += _of_string(one.string, one.nut_at_fret, float(shares[index]), board, kin, hand)
    return tuple(found)


def targets_of(service: Service, board: Board) -> Targets:
    """Return what is wanted of this service: single wishes first, the house's figures for the rest."""
    asked = service.targets or Targets()
    roles = {target_kind(one).role(one) for one in asked.wanted}
    rest = tuple(one for one in house_targets(board, asked.hand) if target_kind(one).role(one) not in roles)
    # Of the class that has a name: that of a file's model is made in each process and goes to no other.
    told = dict(asked) | {"wanted": asked.wanted + rest}
    return Targets.model_construct(asked.model_fields_set | {"wanted"}, **told)
