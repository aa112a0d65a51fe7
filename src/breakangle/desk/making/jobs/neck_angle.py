"""Neck angle and reset: the angle now and wanted, the wedge off the heel at each side, and what follows from it."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from breakangle.desk.making.kinds import Job, MakingSheet, mm
from breakangle.desk.making.wanted import board_for, over_frets_mm
from breakangle.model.service import Service
from breakangle.physics.making.neck_angle import (
    airspace_wanted_mm,
    break_angle_degrees,
    neck_angle_degrees,
    scale_change_mm,
    tongue_gap_mm,
    wedge_mm,
)
from breakangle.report.kinds import Option

# Where nothing else is said below: common practice, no source.
LEAST_TURN_DEGREES = 0.1  # less is within what a straight-edge tells
SPECIALIST = (
    "A glued neck is steamed or heated out: a specialist's work, as are loose braces, cracks, and any old or valuable "
    "instrument."
)


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    board = board_for(service)
    joint = board.instrument.joint_fret
    over = over_frets_mm(service, board)[[-1, 0]]  # bass, treble
    away = float(np.mean(board.along_mm[:, -1] - board.along_mm[:, joint]))
    tongue = asked["tongue"] or float(np.mean(board.along_mm[:, -2] - board.along_mm[:, joint]))
    rest = {
        "bridge_mm": asked["bridge"], "board_mm": asked["board"], "fret_mm": asked["fret"],
        "joint_to_saddle_mm": away,
    }  # fmt: skip
    air = np.array([asked["airspace_bass"], asked["airspace_treble"]])
    now = neck_angle_degrees(airspace_mm=air, **rest)
    wanted = neck_angle_degrees(airspace_mm=airspace_wanted_mm(asked["saddle"], over), **rest)
    turn = wanted - now
    saddle_now = air + over
    wedge = wedge_mm(turn, asked["heel"])
    mean = float(turn.mean())
    longer = float(
        scale_change_mm(
            mean,
            over_joint_mm=asked["board"] + asked["fret"],
            nut_to_joint_mm=float(board.along_mm[:, joint].mean()),
        )
    )
    lift = float(tongue_gap_mm(mean, tongue))
    reset = bool(saddle_now.min() < asked["least_saddle"]) and mean > LEAST_TURN_DEGREES
    facts = (
        ("angle now", f"{now[0]:.2f}° and {now[1]:.2f}°"),
        ("angle wanted", f"{wanted[0]:.2f}° and {wanted[1]:.2f}°"),
        ("saddle as the neck stands",
         f"{mm(saddle_now[0])} and {mm(saddle_now[1])}"),
        ("off the heel at its cap", f"{mm(wedge[0])} and {mm(wedge[1])}"),
        ("tongue's end rises", mm(lift)),
        ("string length grows", mm(longer)),
        ("break angle after", f"{float(break_angle_degrees(asked['saddle'], asked['behind'])):.0f}°"),
    )  # fmt: skip
    return MakingSheet(
        title="Neck angle and reset",
        lead=_lead(reset, mean, wedge, saddle_now, asked),
        facts=facts,
        rests_on=(
            f"Airspace over the bridge by a straight-edge on the frets: {mm(air[0])} bass, {mm(air[1])} treble; a neck "
            "with relief, or a tongue that rises, lifts the edge: set the rod and read along frets 1 to the joint.",
            f"Action wanted over the 12th fret, with a saddle {mm(asked['saddle'])} over the bridge.",
            "Two figures stand for the bass and the treble side; the saddle is what stands over the bridge.",
            "The tongue follows the neck: a tapered shim as high as its end comes up, or the board planed to a fall.",
            SPECIALIST,
        ),
        dangers=("wire-under-tension", "wood-dust", "filing") if reset else (),
        figures={
            "reset": reset, "now_degrees": now.round(3).tolist(), "wanted_degrees": wanted.round(3).tolist(),
            "wedge_mm": wedge.round(3).tolist(), "tongue_mm": round(lift, 3), "longer_mm": round(longer, 3),
            "saddle_now_mm": saddle_now.round(3).tolist(),
        },
    )  # fmt: skip


def _lead(reset: bool, turn: float, wedge: Any, saddle_now: Any, asked: Mapping[str, Any]) -> str:
    if reset:
        return (
            f"Reset: lean the neck back by {turn:.2f}°, {mm(wedge[0])} off the heel at the bass side and "
            f"{mm(wedge[1])} at the treble side. Left as it is, the action wanted needs a saddle only "
            f"{mm(float(saddle_now.min()))} over the bridge, below the least good {mm(asked['least_saddle'])}."
        )
    if turn < -LEAST_TURN_DEGREES:
        return f"The neck leans back {-turn:.2f}° more than it need: the saddle stands taller, nothing is reset for it."
    least = float(saddle_now.min())
    return f"No reset: a saddle {mm(least)} over the bridge at its lowest gives the action wanted."


JOB = Job(
    name="neck-angle",
    words="neck angle and reset",
    told="the neck's angle now and wanted, the wedge off the heel, and where tongue, saddle and scale come to",
    reckon=_reckon,
    options=(
        Option("bridge", "height of the bridge at the saddle, mm", "length", 9.5, 1.0, 40.0),
        Option("airspace_bass", "from the bridge's top up to a straight-edge on the frets, bass side, mm", "length",
               0.8, -15.0, 15.0),
        Option("airspace_treble", "the same at the treble side, mm", "length", 0.8, -15.0, 15.0),
        Option("board", "thickness of the board at the joint, mm", "length", 6.0, 0.0, 20.0),
        Option("fret", "height of a crown there, mm", "length", 1.05, 0.0, 3.0),
        Option("heel", "depth of the heel from the top's edge to its cap, mm", "length", 90.0, 10.0, 150.0),
        Option("tongue", "of the board over the body, mm (0: to the last fret)", "length", 0.0, 0.0, 200.0),
        Option("saddle", "wanted of the saddle over the bridge, mm", "length", 3.5, 0.5, 15.0),
        Option("least_saddle", "least good of the saddle over the bridge, mm", "length", 1.6, 0.2, 10.0),
        Option("behind", "from the saddle back to pin or tie, mm", "length", 8.0, 2.0, 60.0),
    ),
)  # fmt: skip
