"""Whether a target that is not quiet at its strength is seen, every family with every hand, by all three ways.

`python -m bench.prove targets_heard`: the strings are planted at a quarter of a millimetre. The tests plant each family
with one hand, and go by the map of buzz for one family.
"""

import sys
from dataclasses import replace
from itertools import product
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from breakangle.planning.buzz.buzz_map import buzz_map
from breakangle.planning.buzz.no_buzz import conflicts
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.verdict.touches import touching
from breakangle.reference.families import HANDS, HandTargets, families, family
from breakangle.reference.strength import playing
from contact_setups import service

PLANTED_MM = 0.25
WAYS = ("the quick way", "no buzz", "the map")
LEAST_NOTES = 40  # of a map that is one


def heard_on(wanted: HandTargets, kind: str, hand: str, mapped: bool = True) -> list[list[object]]:
    """Return what is heard on a set-up: by the quick way of plans and sheets, by "no buzz", by the map (`mapped`)."""
    asked = service(
        kind=kind,
        low_mm=wanted.action_low_mm,
        high_mm=wanted.action_high_mm,
        relief_mm=wanted.relief_mm,
        nut_mm=0.5 * (wanted.nut_low_mm + wanted.nut_high_mm),
    )
    now, how = estimate(asked), playing(kind)
    told: list[list[object]] = [
        list(touching(now.picture, how, hand).heard),
        list(conflicts(now.picture, how, hand)),
    ]
    if mapped:
        found = buzz_map(now.picture, now.belief, how, (hand,))
        assert len(found.at(hand)) > LEAST_NOTES
        told.append([(one.string, one.stop, one.crown) for one in found.heard(hand)])
    return told


def planted(kind: str, hand: str) -> HandTargets:
    """Return the house's target with its strings so low that something must be heard."""
    return replace(family(kind).target(hand), action_low_mm=PLANTED_MM, action_high_mm=PLANTED_MM)


def prove(quick: bool = False) -> tuple[bool, str]:
    """Return whether every planted target is heard by every way, and which are not."""
    tried = list(product(families(), HANDS))[:: 5 if quick else 1]
    unheard = [
        f"{kind}, {hand}: not by {way}"
        for kind, hand in tried
        for way, found in zip(WAYS, heard_on(planted(kind, hand), kind, hand), strict=True)
        if not found
    ]
    return not unheard, "\n".join([f"{len(tried)} planted targets, {len(unheard)} not heard", *unheard])
