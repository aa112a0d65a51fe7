"""Electrics: what a meter at the jack should show, found against expected, pickup heights, and a checklist."""

from collections.abc import Mapping
from itertools import combinations
from typing import Any

import numpy as np

from breakangle.documents.true_size.kinds import Option
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.wiring import at_jack_kohm, resonance_hz
from breakangle.reference.families import family
from breakangle.services.making.kinds import Job, MakingSheet, mm

# Where nothing else is said below: common practice, no source.
WITHIN_RATIO = 0.1  # coils and pots differ by so much from their figure
COILS = (("neck", mark("neck pickup")), ("middle", mark("middle pickup")), ("bridge", mark("bridge pickup")))
# Pole to string, last fret held, bass and treble side, mm; common practice, no source.
HEIGHTS = {"single": (2.4, 1.8), "double": (2.4, 1.6)}
# How near to the pots alone, or to nothing, a meter tells a broken or shorted coil; common practice, no source.
OPEN_RATIO, SHORT_RATIO = 0.6, 0.5
CHECKLIST = (
    mark("Meter at the jack, volume full up, tone anywhere: a capacitor keeps the tone out of it."),
    mark(
        "Polarity: pull a screwdriver off each pickup's pole and watch which way the meter's needle kicks: all alike, "
        "or two together sound thin."
    ),
    mark(
        "Hum that stops with a hand on the strings: the screening or an earth wire. Hum that does not: a pickup near a "
        "lamp or a transformer, or a loop of earths. Buzz with the dimmer: the dimmer."
    ),
    mark(
        "Pickup too near: magnets pull strings off their pitch at high frets; lower it until they sound single."
    ),
    mark("Nothing on the mains side is opened here: an amplifier goes to a licensed technician."),
)


def _positions(asked: Mapping[str, Any]) -> list[tuple[str, float]]:
    """Return every setting of one pickup or two side by side, with what the meter should show, kΩ."""
    coils = {name: asked[name] for name, _ in COILS if asked[name] > 0.0}
    words = {name: tr(said) for name, said in COILS}
    found = []
    for count in (1, 2):
        for pair in combinations(coils, count):
            pots = [asked["volume"]] * (count if asked["volumes"] == "each" else 1)
            shown = float(at_jack_kohm([coils[one] for one in pair], pots))
            found.append((tr(" and ").join(words[one] for one in pair), shown))
    return found


def _told(found_kohm: float, positions: list[tuple[str, float]], volume_kohm: float) -> str:
    """Return what a figure at the jack tells."""
    near = [name for name, shown in positions if abs(found_kohm - shown) <= WITHIN_RATIO * shown]
    if near:
        return tr("{found:.2f} kΩ is as it should be for: {names}.", found=found_kohm, names="; ".join(near))
    if found_kohm >= OPEN_RATIO * volume_kohm:
        return tr(
            "{found:.2f} kΩ is the volume pot alone: the coil, its switch or a joint on the way is open.",
            found=found_kohm,
        )
    if found_kohm <= SHORT_RATIO * min(shown for _, shown in positions):
        return tr("{found:.2f} kΩ is too little: a short, at the jack or in a coil.", found=found_kohm)
    return tr("{found:.2f} kΩ fits none of the settings: measure each pickup by itself.", found=found_kohm)


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    if not family(service.instrument_now().kind).electrics and asked["found"] == 0.0:
        lead = tr("This kind has no pickups as a rule: give what the meter found where this one has.")
        return MakingSheet(title=tr("Electrics"), lead=lead, facts=(), figures={"applies": False})
    positions = _positions(asked)
    rings = float(resonance_hz(asked["henry"], asked["cable"] * 1e-12))
    bass, treble = HEIGHTS[asked["kind"]]
    lead = tr("With the volume full up the meter at the jack shows what stands below, within a tenth.")
    if not positions:
        lead = tr(
            "No pickup has a resistance: give the coils as they are sold, or as each measures by itself."
        )
    elif asked["found"] > 0.0:
        lead = _told(asked["found"], positions, asked["volume"])
    return MakingSheet(
        title=tr("Electrics"),
        lead=lead,
        facts=(
            (
                tr("pole to string, last fret held"),
                tr("{bass} bass, {treble} treble", bass=mm(bass), treble=mm(treble)),
            ),
            (tr("coil and cable ring at"), tr("{khz:.1f} kHz", khz=rings / 1000.0)),
        ),
        head=(tr("switched on"), tr("meter at the jack"), tr("from"), tr("to")),
        rows=tuple(
            (name, f"{shown:.2f} kΩ", f"{shown * (1.0 - WITHIN_RATIO):.2f}", f"{shown * (1.0 + WITHIN_RATIO):.2f}")
            for name, shown in positions
        ),
        rests_on=tuple(map(tr, CHECKLIST)),
        dangers=("mains", "amplifier", "battery", "hot-iron", "lead"),
        figures={
            "applies": True,
            "expected_kohm": {name: round(shown, 3) for name, shown in positions},
            "resonance_hz": round(rings, 1) if np.isfinite(rings) else None,
        },
    )  # fmt: skip


JOB = Job(
    name="electrics",
    words=mark("electrics"),
    told=mark("what a meter at the jack should show for each setting, found against expected, pickup heights"),
    reckon=_reckon,
    procedure="electronics-check",
    options=(
        Option("kind", mark("coils of a pickup"), "choice", "single", choices=tuple(HEIGHTS)),
        Option("neck", mark("resistance of the neck pickup, kΩ (0: none)"), "ratio", 6.5, 0.0, 60.0),
        Option("middle", mark("of the middle pickup, kΩ (0: none)"), "ratio", 0.0, 0.0, 60.0),
        Option("bridge", mark("of the bridge pickup, kΩ (0: none)"), "ratio", 7.0, 0.0, 60.0),
        Option("volume", mark("volume pot, kΩ"), "ratio", 250.0, 5.0, 2000.0),
        Option("volumes", mark("one volume for all, or one for each pickup"), "choice", "one", choices=("one", "each")),
        Option("found", mark("what the meter shows at the jack, kΩ (0: not measured)"), "ratio", 0.0, 0.0, 5000.0),
        Option("henry", mark("inductance of a pickup, henry"), "ratio", 2.5, 0.05, 30.0),
        Option("cable", mark("capacitance of the cable, picofarad"), "ratio", 600.0, 10.0, 5000.0),
    ),
)  # fmt: skip
