"""Neck angle and reset: the angle now and wanted, the wedge off the heel at each side, and what follows from it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.documents.true_size.kinds import Option
from breakangle.documents.true_size.wanted import board_for, over_frets_mm
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.neck_angle import (
    airspace_wanted_mm,
    break_angle_degrees,
    neck_angle_degrees,
    scale_change_mm,
    tongue_gap_mm,
    wedge_mm,
)
from breakangle.services.making.kinds import Job, MakingSheet, Paper, mm

# Where nothing else is said below: common practice, no source.
LEAST_TURN_DEGREES = 0.1  # less is within what a straight-edge tells
DANGERS = ("wire-under-tension", "rod", "wood-dust", "filing", "glued-neck", "heat-steam", "structure")
RESTS_ON = (
    mark("Two figures stand for the bass and the treble side; the saddle is what stands over the bridge."),
    mark(
        "The tongue follows the neck: a tapered shim as high as its end comes up, or the board planed to a fall."
    ),
    mark(
        "A glued neck is steamed or heated out: a specialist's work, as are loose braces, "
        "cracks, and any old or valuable instrument."
    ),
)
Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Turn:
    """What the neck's angle comes to; pairs are bass and treble side, lengths mm, angles degrees."""

    now_degrees: Array
    wanted_degrees: Array
    wedge_mm: Array
    saddle_now_mm: Array
    tongue_mm: float
    tongue_long_mm: float
    longer_mm: float
    reset: bool

    @property
    def mean_degrees(self) -> float:
        """Return by how much the neck leans farther back, mean of both sides."""
        return float((self.wanted_degrees - self.now_degrees).mean())


def _turn(service: Service, asked: Mapping[str, Any]) -> _Turn:
    board = board_for(service)
    joint = board.instrument.joint_fret
    over = over_frets_mm(service, board)[[-1, 0]]  # bass, treble
    tongue = asked["tongue"] or float(np.mean(board.along_mm[:, -2] - board.along_mm[:, joint]))
    rest = {
        "bridge_mm": asked["bridge"], "board_mm": asked["board"], "fret_mm": asked["fret"],
        "joint_to_saddle_mm": float(np.mean(board.along_mm[:, -1] - board.along_mm[:, joint])),
    }  # fmt: skip
    air = np.array([asked["airspace_bass"], asked["airspace_treble"]])
    now = neck_angle_degrees(airspace_mm=air, **rest)
    wanted = neck_angle_degrees(airspace_mm=airspace_wanted_mm(asked["saddle"], over), **rest)
    mean = float((wanted - now).mean())
    longer = scale_change_mm(
        mean,
        over_joint_mm=asked["board"] + asked["fret"],
        nut_to_joint_mm=float(board.along_mm[:, joint].mean()),
    )
    low = bool((air + over).min() < asked["least_saddle"])
    return _Turn(
        now, wanted, wedge_mm(wanted - now, asked["heel"]), air + over, float(tongue_gap_mm(mean, tongue)),
        tongue, float(longer), low and mean > LEAST_TURN_DEGREES,
    )  # fmt: skip


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    turn = _turn(service, asked)
    steep = float(break_angle_degrees(asked["saddle"], asked["behind"], asked["anchor"]))
    return MakingSheet(
        title=tr("Neck angle and reset"),
        lead=_lead(turn, asked),
        facts=(
            (tr("angle now"), tr(" and ").join(f"{one:.2f}°" for one in turn.now_degrees)),
            (tr("angle wanted"), tr(" and ").join(f"{one:.2f}°" for one in turn.wanted_degrees)),
            (tr("saddle as the neck stands"), tr(" and ").join(map(mm, turn.saddle_now_mm))),
            (tr("off the heel at its cap"), tr(" and ").join(map(mm, turn.wedge_mm))),
            (tr("tongue's end rises"), mm(turn.tongue_mm)),
            (tr("string length grows"), mm(turn.longer_mm)),
            (tr("break angle after"), f"{steep:.0f}°"),
        ),
        rests_on=(
            tr(
                "Airspace over the bridge by a straight-edge on the frets: {mm} bass, {mm_2} treble; "
                "a neck with relief, or a tongue that rises, lifts the edge: set the rod and read "
                "along frets 1 to the joint.",
                mm=mm(asked["airspace_bass"]),
                mm_2=mm(asked["airspace_treble"]),
            ),
            tr(
                "Action wanted over the 12th fret, with a saddle {mm} over the bridge.",
                mm=mm(asked["saddle"]),
            ),
            *RESTS_ON,
        ),
        dangers=DANGERS if turn.reset else ("rod",),
        figures={name: _plain(value) for name, value in vars(turn).items()},
        papers=(Paper("neck-wedge", _wedge(turn, asked)),) if turn.reset else (),
    )


def _wedge(turn: _Turn, asked: Mapping[str, Any]) -> dict[str, float]:
    """Return what the template of the wedge is drawn with."""
    tongue = {"tongue": float(np.clip(turn.tongue_long_mm, 5.0, 90.0)), "rise": max(turn.tongue_mm, 0.0)}
    wedge = np.maximum(turn.wedge_mm, 0.0)
    return {"wedge_bass": float(wedge[0]), "wedge_treble": float(wedge[1]), "heel": asked["heel"]} | tongue


def _plain(value: Any) -> Any:
    if isinstance(value, bool):
        return value
    return np.round(value, 3).tolist()


def _lead(turn: _Turn, asked: Mapping[str, Any]) -> str:
    least = float(turn.saddle_now_mm.min())
    if turn.reset:
        return tr(
            "Reset: lean the neck back by {mean_degrees:.2f}°, {mm} off the heel at the bass "
            "side and {mm_2} at the treble side. Left as it is, the action wanted needs a saddle "
            "only {mm_3} over the bridge, below the least good {mm_4}.",
            mean_degrees=turn.mean_degrees,
            mm=mm(turn.wedge_mm[0]),
            mm_2=mm(turn.wedge_mm[1]),
            mm_3=mm(least),
            mm_4=mm(asked["least_saddle"]),
        )
    if turn.mean_degrees < -LEAST_TURN_DEGREES:
        return tr(
            "The neck leans back {mean_degrees:.2f}° more than it need: the saddle stands "
            "taller, nothing is reset for it.",
            mean_degrees=-turn.mean_degrees,
        )
    return tr("No reset: a saddle {mm} over the bridge at its lowest gives the action wanted.", mm=mm(least))


JOB = Job(
    name="neck-angle",
    words=mark("neck angle and reset"),
    told=mark("the neck's angle now and wanted, the wedge off the heel, and where tongue, saddle and scale come to"),
    reckon=_reckon,
    findings=("neck-reset",),
    procedure="neck-reset",
    options=(
        Option("bridge", mark("height of the bridge at the saddle, mm"), "length", 9.5, 1.0, 40.0),
        Option("airspace_bass",
        mark("from the bridge's top up to a straight-edge on the frets, bass side, mm"), "length",
               0.8, -15.0, 15.0),
        Option("airspace_treble", mark("the same at the treble side, mm"), "length", 0.8, -15.0, 15.0),
        Option("board", mark("thickness of the board at the joint, mm"), "length", 6.0, 0.0, 20.0),
        Option("fret", mark("height of a crown there, mm"), "length", 1.05, 0.0, 3.0),
        Option("heel", mark("depth of the heel from the top's edge to its cap, mm"), "length", 90.0, 10.0, 150.0),
        Option("tongue", mark("length of the board over the body, mm (0: to its end)"), "length", 0.0, 0.0, 200.0),
        Option("saddle", mark("wanted of the saddle over the bridge, mm"), "length", 3.5, 0.5, 15.0),
        Option("least_saddle", mark("least good of the saddle over the bridge, mm"), "length", 1.6, 0.2, 10.0),
        Option("behind", mark("from the saddle back to pin or tie, mm"), "length", 8.0, 2.0, 60.0),
        Option("anchor", mark("how far the string leaves below the bridge's top there, mm"), "length", 1.0, 0.0, 20.0),
    ),
)  # fmt: skip
