"""A refret: every wire's length and bend, what its tang does to the neck, and what nut and saddle must follow."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from breakangle.documents.true_size.kinds import Option
from breakangle.documents.true_size.wanted import board_for
from breakangle.model.instrument import ConicalRadius
from breakangle.model.measure import INCH_MM
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.refret import back_bow_mm, wire_length_mm
from breakangle.planning.state.board import Board
from breakangle.services.making.kinds import Job, MakingSheet, Paper, mm

# Where nothing else is said below: common practice, no source.
BENT_RATIO = 0.85  # of the board's radius, so that the ends press first
TAKEN_RATIO = (
    0.05,
    0.4,
)  # of what a tang is too wide that opens the slot for good: the rest crushes the wood
ARM_RATIO = (0.3, 1.0)  # of a strip stretched on its whole face
SPARE_RATIO = 1.1  # wire to buy, for cuts and one that is spoilt
RESTS_ON = (
    mark("The board's width is taken as strings and edges: measure it before wire is cut."),
    mark(
        "How much of a tang's excess opens its slot differs from wood to wood: read relief "
        "before and after, on a few frets first."
    ),
    mark(
        "Old frets out: heat, slowly, with pullers that press the board down; chips are glued back at once."
    ),
)


def _bows_mm(board: Board, asked: Mapping[str, Any]) -> list[float]:
    """Return the least and the most relief that the tangs may take, mm."""
    joint = board.instrument.joint_fret
    reach = float(board.along_mm[:, joint].mean())
    return [
        float(
            back_bow_mm(
                tang_mm=asked["tang"], slot_mm=asked["slot"], frets=joint, taken_ratio=taken, length_mm=reach,
                arm_ratio=arm, depth_mm=asked["depth"],
            )
        )
        for taken, arm in zip(TAKEN_RATIO, ARM_RATIO, strict=True)
    ]  # fmt: skip


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    board = board_for(service)
    instrument, frets = board.instrument, board.fret_count
    along = board.along_mm.mean(axis=0)[1:-1] / float(board.along_mm[:, -1].mean())
    inner = instrument.spread_nut_mm + (instrument.spread_bridge_mm - instrument.spread_nut_mm) * along
    width, radius = inner + 2.0 * asked["edge"], _radius_mm(instrument.board_radius_mm, along / along[-1])
    length = wire_length_mm(width, radius, asked["over"])
    bows, rise = _bows_mm(board, asked), asked["crown"] - asked["crown_before"]
    tangs = tr("Tangs no wider than their slots bend nothing: they need glue or a crimp to hold.")
    if asked["tang"] > asked["slot"]:
        wide = mark("Tangs wider than their slots bend the neck back by {least} to {most} of relief.")
        tangs = tr(wide, least=mm(bows[0]), most=mm(bows[1]))
    bent = tr("nothing: the board is flat") if np.isinf(radius).all() else _bent(radius)
    way = tr("higher") if rise >= 0 else tr("lower")
    shortest, longest = mm(float(length.min())), mm(float(length.max()))
    return MakingSheet(
        title=tr("Refret"),
        lead=tr("{frets} wires of {shortest} to {longest}.", frets=frets, shortest=shortest, longest=longest)
        + f" {tangs}",
        facts=(
            (tr("wire in all, a tenth to spare"), _in_all(float(length.sum()) * SPARE_RATIO)),
            (tr("bend the wire to a radius of"), bent),
            (tr("crowns come out"), tr("{mm} {way}: nut and saddles follow", mm=mm(abs(rise)), way=way)),
        ),
        head=(tr("fret"), tr("board there"), tr("wire")),
        rows=tuple((str(fret + 1), mm(float(width[fret])), mm(float(length[fret]))) for fret in range(frets)),
        rests_on=RESTS_ON,
        dangers=("metal-dust", "filing", "waste", "hot-iron", "thin-glue"),
        figures={
            "wire_mm": length.round(2).tolist(),
            "back_bow_mm": [round(one, 3) for one in bows],
            "rise_mm": round(rise, 3),
        },
        papers=() if np.isinf(radius).all() else (Paper("radius-gauges", {"radii": _radii(radius)}),),
    )


def _in_all(length_mm: float) -> str:
    """Return a length of wire as it is bought, in both units: neither is a figure that a bench reads."""
    return tr("{metres:.1f} m ({inches:.0f} in)", metres=length_mm / 1000.0, inches=length_mm / INCH_MM)


def _radii(radius_mm: Any) -> tuple[float, ...]:
    """Return the radii to bend the wire to, at the nut end and at the last fret, each once."""
    ends = (round(float(radius_mm[0]) * BENT_RATIO, 1), round(float(radius_mm[-1]) * BENT_RATIO, 1))
    return tuple(dict.fromkeys(max(one, 50.0) for one in ends))


def _bent(radius_mm: Any) -> str:
    ends = [float(radius_mm[0]) * BENT_RATIO, float(radius_mm[-1]) * BENT_RATIO]
    return (
        mm(ends[0])
        if abs(ends[0] - ends[1]) < 1.0
        else tr("{mm} at the nut end to {mm_2}", mm=mm(ends[0]), mm_2=mm(ends[1]))
    )


def _radius_mm(radius: float | ConicalRadius | None, share: Any) -> Any:
    if radius is None:
        return np.full_like(share, np.inf)
    if isinstance(radius, ConicalRadius):
        return radius.at_nut + (radius.at_last_fret - radius.at_nut) * share
    return np.full_like(share, radius)


JOB = Job(
    name="refret",
    words=mark("refret"),
    told=mark("new frets: a list of wires, their bend, what tang and slot do to the relief, and what must follow"),
    reckon=_reckon,
    findings=("worn-first-position",),
    procedure="refret",
    options=(
        Option("edge", mark("from an outer string to the board's edge, mm"), "length", 3.5, 0.5, 15.0),
        Option("over", mark("wire left over at each end, mm"), "length", 3.0, 0.0, 15.0),
        Option("tang", mark("width of the new tang with its barbs, mm"), "length", 0.55, 0.2, 2.0),
        Option("slot", mark("width of the slots, measured, mm"), "length", 0.55, 0.2, 2.0),
        Option("crown", mark("height of the new crowns, mm"), "length", 1.2, 0.3, 3.0),
        Option("crown_before", mark("height of the old crowns, mm"), "length", 0.9, 0.0, 3.0),
        Option("depth", mark("depth of the neck with its board, mm"), "length", 21.0, 10.0, 40.0),
    ),
)  # fmt: skip
