"""Set-ups for the contact tests: services whose readings tell relief, action and crowns; bare notes."""

import json
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.model.service_file import parse_service
from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.modes import Losses, Notes
from breakangle.planning.buzz.contact_notes import PERIOD_COUNT, board_notes, losses_of, pluck_of
from breakangle.planning.kinds.registry import file_kinds
from breakangle.planning.state.picture import Picture
from breakangle.reference.families import Family, family
from breakangle.reference.strength import Playing

LOSSES = Losses(1.8e-5, 1.2, 4.5e-3, 2.03e-4)
"""Air at room temperature; loss figures of Issanchou and others (2017), J. Sound Vib. 393, 229-251."""

Array = NDArray[np.float64]


def service_data(
    kind: str = "electric-guitar",
    low_mm: float = 1.5,
    high_mm: float = 1.25,
    relief_mm: float = 0.25,
    nut_mm: float = 0.05,
    crowns: dict[int, float] | None = None,
) -> dict[str, Any]:
    """An ordinary instrument of the family, read very well; action over the 12th with fret 1 held."""
    kin = family(kind)
    readings: list[dict[str, Any]] = []
    count = len(kin.strings)
    middle = round(kin.joint_fret / 2)
    for one in kin.strings:
        share = (one.string - 1) / max(count - 1, 1)
        action = high_mm + (low_mm - high_mm) * share
        first = one.nut_at_fret
        held = [1] if first == 0 else []
        at = {"string": one.string, "uncertainty_mm": 0.005}
        readings.append({"quantity": "gap", "fret": first + 12, "held": held, "mm": round(action, 3), **at})
        if first == 0:
            both = [1, kin.joint_fret]
            readings.append({"quantity": "gap", "fret": middle, "held": both, "mm": relief_mm, **at})
            readings.append({"quantity": "gap", "fret": 1, "held": [3], "mm": nut_mm, **at})
        for fret in range(first + 1, kin.frets + 1):
            height = (crowns or {}).get(fret, 0.0)
            readings.append({"quantity": "crown", "fret": fret, "mm": height, **at})
    return {"format": "breakangle/service/1", "instrument": _instrument(kin), "readings": readings}


def service(**wanted: Any) -> Service:
    """The same as a checked service."""
    return parse_service(json.dumps(service_data(**wanted)), file_kinds())


def _instrument(kin: Family) -> dict[str, Any]:
    bridge = {
        "kind": kin.bridge.kind,
        "height_mm_per_turn": kin.bridge.height_mm_per_turn,
        "position_mm_per_turn": kin.bridge.position_mm_per_turn,
    }
    return {
        "name": "Made for a test",
        "kind": kin.kind,
        "scale_mm": kin.scale_mm,
        "frets": kin.frets,
        "joint_fret": kin.joint_fret,
        "board_radius_mm": kin.board_radius_mm,
        "spread_nut_mm": kin.spread_nut_mm,
        "spread_bridge_mm": kin.spread_bridge_mm,
        "nut": {"kind": kin.nut},
        "rod": {"kind": kin.rod.kind if kin.rod else "none"},
        "bridge": {key: value for key, value in bridge.items() if value is not None},
        "strings": [
            {
                key: value
                for key, value in {
                    "string": one.string,
                    "note": one.note,
                    "make": one.make,
                    "diameter_mm": one.diameter_mm,
                    "core_mm": one.core_mm,
                    "wrap": one.wrap,
                    "course": one.course,
                    "nut_at_fret": one.nut_at_fret,
                }.items()
                if value is not None
            }
            for one in kin.strings
        ],
    }


def random_notes(random: np.random.Generator, count: int) -> tuple[Notes, Array]:
    """Notes of three families (steel, nylon, bass), random lengths, crowns, gaps; and pluck heights, mm.

    Gaps are drawn around the swing of the pluck, so that many notes touch by little and many clear by little.
    """
    family_of = random.integers(0, 3, count)
    scale = np.array([648.0, 650.0, 864.0])[family_of]
    stop = random.integers(0, 18, count)
    length = scale / 2.0 ** (stop / 12.0)
    tension = random.uniform([50.0, 50.0, 130.0], [95.0, 80.0, 220.0], (count, 3))[
        np.arange(count), family_of
    ]
    open_hz = np.exp(random.uniform(np.log([82.0, 82.0, 31.0]), np.log([330.0, 330.0, 98.0]), (count, 3)))
    mass = tension / (2.0 * scale * open_hz[np.arange(count), family_of]) ** 2 * 1e9
    spread = np.exp(random.uniform(np.log([40.0, 15.0, 200.0]), np.log([600.0, 90.0, 4000.0]), (count, 3)))
    fret = np.arange(1, 25)
    from_stop = length[:, None] - scale[:, None] / 2.0 ** (fret / 12.0)
    beyond = fret[None, :] > stop[:, None]
    height = random.uniform(0.2, 1.5, count)
    along = np.where(beyond, from_stop / length[:, None], np.nan)
    swing = np.minimum(along / 0.75, 1.0) * height[:, None]
    gap = swing * np.exp(random.uniform(-0.2, 2.2, (count, 1))) + random.exponential(0.03, (count, len(fret)))
    notes = Notes(
        length,
        tension,
        mass,
        spread[np.arange(count), family_of],
        np.full(count, 0.6),
        np.where(beyond, from_stop, np.nan),
        np.where(beyond, gap, np.inf),
    )
    return notes, height


def bare_note(
    length_mm: float = 648.0,
    tension_n: float = 78.6,
    unit_mass_g_per_m: float = 6.89,
    bending_n_mm2: float = 428.0,
    crown_mm: Array | None = None,
    gap_mm: Array | None = None,
) -> Notes:
    """One note with the crowns given; by default a low E with one crown far below."""
    crowns = np.array([100.0]) if crown_mm is None else crown_mm
    gaps = np.full(len(crowns), 50.0) if gap_mm is None else gap_mm
    return Notes(
        np.array([length_mm]),
        np.array([tension_n]),
        np.array([unit_mass_g_per_m]),
        np.array([bending_n_mm2]),
        np.array([1.17]),
        crowns[None, :],
        gaps[None, :],
    )


def steel_board(low_mm: float, high_mm: float, relief_mm: float) -> Notes:
    """Six steel strings at 648 mm over 22 level crowns of an even bow; action over the 12th with fret 1 held.

    Strings from low to high; figures of an ordinary 10–46 set, wound cores from memory.
    """
    hertz = np.array([82.41, 110.0, 146.83, 196.0, 246.94, 329.63])
    tension = np.array([78.6, 86.7, 82.5, 74.2, 68.9, 72.6])
    core = np.array([0.457, 0.406, 0.356, 0.432, 0.330, 0.254])
    place = 648.0 * (1.0 - 2.0 ** (-np.arange(24) / 12.0))
    bow = np.clip((place - place[1]) / (place[17] - place[1]), None, 1.0)
    crown = -4.0 * relief_mm * bow * (1.0 - bow)
    string, stop = np.divmod(np.arange(6 * 22), 22)
    action = np.linspace(low_mm, high_mm, 6)
    saddle = crown[1] + (action + crown[12] - crown[1]) * (648.0 - place[1]) / (place[12] - place[1])
    length = 648.0 - place[stop]
    beyond = np.arange(1, 23)[None, :] > stop[:, None]
    along = place[1:23][None, :] - place[stop][:, None]
    start = np.where(stop == 0, 0.45, crown[stop])
    line = start[:, None] + (saddle[string] - start)[:, None] * along / length[:, None]
    return Notes(
        length,
        tension[string],
        (tension / (2 * 648.0 * hertz) ** 2 * 1e9)[string],
        (200e3 * np.pi / 64.0 * core**4)[string],
        np.full(len(string), 0.6),
        np.where(beyond, along, np.nan),
        np.where(beyond, line - crown[1:23][None, :], np.inf),
    )


def left_mm(picture: Picture, hand: Playing, strength: str) -> float:
    """Least gap that the exact motion leaves anywhere on the board, beside what it may lack unheard."""
    notes, height = board_notes(picture).notes, hand.strengths.height_mm(strength)
    found = reach(notes, pluck_of(hand), losses_of(hand), np.array([height]), PERIOD_COUNT)
    touch = np.where(np.isfinite(notes.gap_mm), notes.gap_mm - height * found.depth, np.nan)
    least = np.nanmin(touch, axis=1)
    told = np.abs(least) > 1e-9
    assert np.array_equal((found.first_crown[:, 0] >= 0)[told], (least < 0.0)[told])
    needed = height * np.maximum(found.depth - hand.classes.heard_from_depth_ratio, 0.0)
    return float(np.nanmin(np.where(np.isfinite(notes.gap_mm), notes.gap_mm - needed, np.nan)))
