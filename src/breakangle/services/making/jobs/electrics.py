"""Electrics: what a meter at the jack should show, found against expected, pickup heights, and a checklist."""

from collections.abc import Mapping
from itertools import combinations
from typing import Any

import numpy as np

from breakangle.documents.true_size.kinds import Option
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.wiring import at_jack_kohm, resonance_hz
from breakangle.reference.families import Family, family_of
from breakangle.services.making.kinds import Job, MakingSheet, mm

# Where nothing else is said below: common practice, no source.
WITHIN_RATIO = 0.1  # coils and pots differ by so much from their figure
COILS = (("neck", mark("neck pickup")), ("middle", mark("middle pickup")), ("bridge", mark("bridge pickup")))
# Pole to string, last fret held, bass and treble side, mm; common practice, no source.
HEIGHTS = {"single": (2.4, 1.8), "double": (2.4, 1.6)}
# How near to the pots alone, or to nothing, a meter tells a broken or shorted coil; common practice, no source.
OPEN_RATIO, SHORT_RATIO = 0.6, 0.5
NOT_HEARD = "not-heard"
# Hum by what makes it, as listening tells it apart: what to do first. Common practice, no source.
HUMS = {
    "loop": mark(
        "The mains and its odd multiples were heard: turn the instrument in place. Where that changes it, a coil picks "
        "it up from a transformer or lamp; where not, look for two ways to earth, and plug all into one socket."
    ),
    "rectifier": mark(
        "Twice the mains was heard: that is the power supply of the amplifier or of a pedal, not this instrument. Try "
        "it on a battery; an amplifier is a licensed technician's."
    ),
    "dimmer": mark(
        "A buzz far up was heard, as of a dimmer or a switching supply: switch off lamps and chargers one by one first."
    ),
}
HANDS = {
    "stills": mark(
        "A hand on the strings stills it: the strings are earthed, the cavity is not screened well. Look for paint or "
        "foil that is not tied to earth: the meter shows less than 1 Ω from it to the jack's sleeve."
    ),
    "louder": mark(
        "A hand on the strings makes it louder: the strings' earth is broken. Measure from a string to the jack's "
        "sleeve: more than a few Ω is a broken bridge wire or a cold joint."
    ),
    "nothing": mark(
        "A hand on the strings changes nothing: it comes in by a coil or the cable. Try another cable, then each "
        "pickup by itself: two coils wound against each other hum less together than one alone."
    ),
}
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


def _heard(asked: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what was heard of hum and what to do about it, the likeliest first."""
    kinds = (HUMS.get(asked["hum"]), HANDS.get(asked["hand"]))
    return tuple(tr(one) for one in kinds if one is not None)


def _lead(asked: Mapping[str, Any], positions: list[tuple[str, float]], heard: tuple[str, ...]) -> str:
    if not positions:
        return tr(
            "No pickup has a resistance: give the coils as they are sold, or as each measures by itself."
        )
    if asked["found"] > 0.0:
        return _told(asked["found"], positions, asked["volume"])
    if heard:
        return heard[0]
    return tr("With the volume full up the meter at the jack shows what stands below, within a tenth.")


def _has_pickups(family: Family) -> bool:
    return bool(family.electrics)


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    if not _has_pickups(family_of(service.instrument_now())) and not (asked["found"] or _heard(asked)):
        lead = tr("This kind has no pickups as a rule: give what the meter found where this one has.")
        return MakingSheet(title=tr("Electrics"), lead=lead, facts=(), figures={"applies": False})
    positions = _positions(asked)
    rings = float(resonance_hz(asked["henry"], asked["cable"] * 1e-12))
    bass, treble = HEIGHTS[asked["kind"]]
    heard = _heard(asked)
    figures = {
        "applies": True,
        "expected_kohm": {name: round(shown, 3) for name, shown in positions},
        "resonance_hz": round(rings, 1) if np.isfinite(rings) else None,
        **{name: None if asked[name] == NOT_HEARD else asked[name] for name in ("hum", "hand")},
    }
    return MakingSheet(
        title=tr("Electrics"),
        lead=_lead(asked, positions, heard),
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
        rests_on=(*heard, *map(tr, CHECKLIST)),
        dangers=("mains", "amplifier", "battery", "hot-iron", "lead"),
        figures=figures,
    )  # fmt: skip


JOB = Job(
    name="electrics",
    words=mark("electrics"),
    told=mark("what a meter at the jack should show for each setting, found against expected, pickup heights"),
    reckon=_reckon,
    procedure="electronics-check",
    usual_on=_has_pickups,
    options=(
        Option("kind", mark("coils of a pickup"), "choice", "single", choices=tuple(HEIGHTS)),
        Option("neck", mark("resistance of the neck pickup, kΩ (0: none)"), "ratio", 6.5, 0.0, 60.0),
        Option("middle", mark("resistance of the middle pickup, kΩ (0: none)"), "ratio", 0.0, 0.0, 60.0),
        Option("bridge", mark("resistance of the bridge pickup, kΩ (0: none)"), "ratio", 7.0, 0.0, 60.0),
        Option("volume", mark("volume pot, kΩ"), "ratio", 250.0, 5.0, 2000.0),
        Option("volumes", mark("one volume for all, or one for each pickup"), "choice", "one", choices=("one", "each")),
        Option("found", mark("what the meter shows at the jack, kΩ (0: not measured)"), "ratio", 0.0, 0.0, 5000.0),
        Option("hum", mark("hum as it was listened to"), "choice", NOT_HEARD, choices=(NOT_HEARD, *HUMS)),
        Option("hand", mark("what a hand on the strings does to it"), "choice", NOT_HEARD, choices=(NOT_HEARD, *HANDS)),
        Option("henry", mark("inductance of a pickup, henry"), "ratio", 2.5, 0.05, 30.0),
        Option("cable", mark("capacitance of the cable, picofarad"), "ratio", 600.0, 10.0, 5000.0),
    ),
)  # fmt: skip
