"""A thin top: how the bridge leans on it, what damp air does to the action, and whether to humidify, look or leave."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from breakangle.documents.true_size.kinds import Option
from breakangle.model.service import Service
from breakangle.model.words.said import figured
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.top import bridge_lean_degrees, dome_radius_mm, saddle_forward_mm
from breakangle.reference.families import Family, Prior, family_of
from breakangle.reference.season import season_table
from breakangle.services.making.kinds import Job, MakingSheet, mm

# Where nothing else is said below: common practice, no source.
USUAL_LEAN_DEGREES = 1.0  # tops under tension lean
MOST_LEAN_DEGREES = 2.0  # more wants looking at, then a specialist
DRY_PERCENT, DAMP_PERCENT = 40.0, 60.0  # air in which tops and braces are safe
SPREADS = 1.959964  # spreads of a normal that hold 95 % of it; exact
RESTS_ON = (
    mark(
        "Read a straight-edge along the top before and behind the bridge, strings at pitch, and the room's humidity."
    ),
    mark(
        "Wood follows the air by days: read again after two weeks in air that is right, before anything is cut."
    ),
    mark(
        "Braces by mirror and lamp, and by tapping: a loose one rattles. Glue, cracks and braces are a specialist's."
    ),
)


@dataclass(frozen=True)
class _Top:
    """What the top comes to: lean in degrees, saddle forward and dome radius in mm, action by the air in mm."""

    lean_degrees: float
    forward_mm: float
    radius_mm: float
    action_mm: float
    action_spread_mm: float


def _target_percent(asked: Mapping[str, Any]) -> float:
    """Return the air to bring it to: the usual, but no drier than is safe from dry air, no damper from damp."""
    if asked["humidity"] < DRY_PERCENT:
        return float(max(asked["usual"], DRY_PERCENT))
    if asked["humidity"] > DAMP_PERCENT:
        return float(min(asked["usual"], DAMP_PERCENT))
    return float(asked["usual"])


def _top(asked: Mapping[str, Any]) -> _Top:
    lean = float(bridge_lean_degrees(asked["front"], asked["behind"], asked["span"]))
    swing = season_table().top_action_mm_per_humidity_percent
    if asked["rate_spread"] > 0.0:  # as this top has shown at its visits, what tops usually do counted in
        swing = Prior(asked["rate"], asked["rate_spread"])
    change = _target_percent(asked) - asked["humidity"]
    return _Top(
        lean, float(saddle_forward_mm(lean, asked["height"])), float(dome_radius_mm(asked["rise"], asked["width"])),
        swing.mean * change, abs(swing.sd * change),
    )  # fmt: skip


def _lead(top: _Top, asked: Mapping[str, Any]) -> str:
    half, target = SPREADS * top.action_spread_mm, _target_percent(asked)
    if asked["humidity"] < DRY_PERCENT:
        return tr(
            "Humidify first: at {humidity:.0f} % a top sinks and shrinks. At {target:.0f} % the action comes up by "
            "{low} to {high}, and nothing is cut before that.",
            humidity=asked["humidity"], target=target, low=mm(max(top.action_mm - half, 0.0)),
            high=mm(top.action_mm + half),
        )  # fmt: skip
    if top.lean_degrees > MOST_LEAN_DEGREES:
        return tr(
            "The bridge leans forward by {lean:.1f}°, more than tops under tension do: look at its glue, the plate and "
            "the braces under it, slacken the strings, and leave it to a specialist.",
            lean=top.lean_degrees,
        )
    if asked["humidity"] > DAMP_PERCENT:
        return tr(
            "Dry the air first: at {humidity:.0f} % a top swells. At {target:.0f} % the action comes down by about "
            "{mm}.",
            humidity=asked["humidity"], target=target, mm=mm(abs(top.action_mm)),
        )  # fmt: skip
    if top.lean_degrees > USUAL_LEAN_DEGREES:
        return tr(
            "The bridge leans forward by {lean:.1f}°: read it again at the next visit, and look at the braces now.",
            lean=top.lean_degrees,
        )
    return tr("Leave the top: the bridge leans by {lean:.1f}°, the air is right.", lean=top.lean_degrees)


def _has_thin_top(family: Family) -> bool:
    return family.bridge.on_top


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    if not _has_thin_top(family_of(service.instrument_now())):
        lead = tr("No thin wooden top carries this bridge: nothing of this applies.")
        return MakingSheet(title=tr("Top"), lead=lead, facts=(), figures={"applies": False})
    top = _top(asked)
    dome = tr("flat") if asked["rise"] == 0.0 else mm(top.radius_mm)
    band = f"{mm(top.action_mm)} ± {figured(SPREADS * top.action_spread_mm, 2)}"
    return MakingSheet(
        title=tr("Top"),
        lead=_lead(top, asked),
        facts=(
            (tr("bridge leans toward the nut by"), f"{top.lean_degrees:.2f}°"),
            (tr("saddle's top has come forward by"), mm(top.forward_mm)),
            (tr("radius of the dome"), dome),
            (tr("action changes in air of {percent:.0f} % by", percent=_target_percent(asked)), band),
        ),
        rests_on=tuple(map(tr, RESTS_ON)),
        dangers=("structure", "wire-under-tension", "string-to-pitch", "heat-steam"),
        figures={
            "applies": True,
            "lean_degrees": round(top.lean_degrees, 3),
            "forward_mm": round(top.forward_mm, 3),
            "action_mm": round(top.action_mm, 3),
        },
    )


JOB = Job(
    name="top",
    words=mark("top"),
    told=mark("how the bridge leans on a thin top, what the air does to the action: humidify, look or leave"),
    reckon=_reckon,
    findings=("top-moved",),
    usual_on=_has_thin_top,
    options=(
        Option("humidity", mark("humidity of the room's air, percent"), "ratio", 45.0, 1.0, 100.0),
        Option("usual", mark("humidity of the air it is kept in, percent"), "ratio", 48.0, 30.0, 70.0),
        Option("front", mark("how much the top lies lower in front of the bridge, mm"), "length", 0.0, 0.0, 15.0),
        Option("behind", mark("how much the top rises behind the bridge, mm"), "length", 0.5, 0.0, 15.0),
        Option("span", mark("between these two places, mm"), "length", 100.0, 20.0, 300.0),
        Option("height", mark("height of the saddle's top over the wooden top, mm"), "length", 13.0, 3.0, 40.0),
        Option("rate", mark("change of action per percent of humidity, mm, from its visits"), "ratio", 0.0, -0.2, 0.2),
        Option("rate_spread", mark("spread of that change (0: as tops usually do)"), "ratio", 0.0, 0.0, 0.5),
        Option("rise", mark("rise of the top under a straight-edge across, mm (0: flat)"), "length", 0.0, -10.0, 20.0),
        Option("width", mark("width of that straight-edge from foot to foot, mm"), "length", 300.0, 50.0, 600.0),
    ),
)  # fmt: skip
