"""What damp air does to relief and action before any visit has shown it: the prior of a neck's own history.

Relief by the board and the neck as two glued layers, action by the top's rise where one carries the bridge. A neck's
own visits sharpen both (a line through the origin on this prior); what of it is not known is said.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import hypot

from breakangle.model.instrument import Instrument
from breakangle.model.words.message import Message
from breakangle.physics.climate.wood_moisture import equilibrium_moisture_percent
from breakangle.physics.neck.gaps import fret_positions_mm
from breakangle.physics.neck.layered_neck import layered_curvature_per_mm, relief_change_mm
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import FamilyBridge, family_of
from breakangle.reference.season import season_table

# What the table's figures of necks and of tops are for; common practice, no source.
NECK_SCALE_MM, TOP_SCALE_MM = 648.0, 650.0
# A dry and a damp room, between which wood's moisture goes about straight with humidity; common practice, no source.
DRY_PERCENT, DAMP_PERCENT, ROOM_C = 40.0, 60.0, 20.0
SAID_FROM_MM = 0.02  # finer than a gauge reads; common practice, no source


@dataclass(frozen=True)
class SeasonPrior:
    """How relief and action follow the room's humidity, in mm per percent, before any visit has shown it."""

    relief: Known
    action: Known


def moisture_per_humidity() -> float:
    """Return how many percent of moisture wood takes up for one percent of humidity, once it has settled."""
    dry, damp = equilibrium_moisture_percent(
        temperature_c=ROOM_C, humidity_percent=[DRY_PERCENT, DAMP_PERCENT]
    )
    return float((damp - dry) / (DAMP_PERCENT - DRY_PERCENT))


def season_prior(instrument: Instrument) -> SeasonPrior:
    """Return the prior for this instrument: its span from the first fret to the joint, and what carries its bridge."""
    return _season_prior(
        family_of(instrument).bridge, instrument.scale_mm, instrument.frets, instrument.joint_fret
    )


@lru_cache(maxsize=128)
def _season_prior(bridge: FamilyBridge, scale_mm: float, frets: int, joint_fret: int) -> SeasonPrior:
    table, along = season_table(), fret_positions_mm(scale_mm, frets)
    span_mm = float(along[joint_fret] - along[1])
    layers = {
        "board_mm": table.board_mm.mean,
        "neck_mm": table.neck_mm.mean,
        "board_over_neck_modulus_ratio": table.board_over_neck_modulus_ratio.mean,
        "neck_growth_ratio": 0.0,
    }
    curvature = layered_curvature_per_mm(board_growth_ratio=moisture_per_humidity(), **layers)
    for_each = float(relief_change_mm(curvature_per_mm=curvature, span_mm=span_mm))
    apart, beside = table.growth_apart_per_moisture_percent, table.relief_beside_mm_per_humidity_percent
    long_ratio = (scale_mm / NECK_SCALE_MM) ** 2
    relief = Known(
        for_each * apart.mean + beside.mean * long_ratio,
        hypot(for_each * apart.sd, beside.sd * long_ratio),
    )
    return SeasonPrior(relief, _action(bridge, scale_mm, relief))


def _action(bridge: FamilyBridge, scale_mm: float, relief: Known) -> Known:
    """Return how action at the 12th fret follows: the neck's own bending and what carries the bridge."""
    table = season_table()
    if bridge.on_top:
        wide_ratio = (scale_mm / TOP_SCALE_MM) ** 2  # a plate's rise goes with its width squared
        top = table.top_action_mm_per_humidity_percent
        return Known(top.mean * wide_ratio, hypot(top.sd * wide_ratio, relief.uncertainty))
    if bridge.on_head:
        return Known(0.0, hypot(table.head_action_mm_per_humidity_percent.sd, relief.uncertainty))
    return Known(0.0, relief.uncertainty)


def action_messages(action_mm: Known, own_pairs: int) -> tuple[Message, ...]:
    """Return what a change of action at the 12th fret is told as; nothing where it is next to nothing."""
    if abs(action_mm.value) < SAID_FROM_MM:
        return ()
    way = "up" if action_mm.value > 0.0 else "down"
    by = "action" if own_pairs else "top"
    values = {"mm": abs(action_mm.value), "uncertainty_mm": 2.0 * action_mm.uncertainty}
    return (Message(key=f"effects.{by}_{way}", values=values, about=("action",)),)


def not_known(instrument: Instrument, own_pairs: int) -> tuple[Message, ...]:
    """Return what of neck and top in damp air no visit and no table tells."""
    if own_pairs or not family_of(instrument).bridge.on_head:
        return ()
    return (Message(key="effects.head_unknown", about=("action",)),)
