"""Plan, map of buzz, lowest set-up and the owner's sheet say one thing of 75 instruments built by another hand.

Truth and readings come from instruments that share no geometry with the planner; thresholds are common practice, no
source, unless said.
"""

from dataclasses import replace

import numpy as np
import pytest

from bench.workshop.arrivals import arrival, sound
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.patterns import high_fret
from bench.workshop.readings import Reader
from bench.workshop.wanted import figure_of, targets_of, wanted_of
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.reference.families import families
from breakangle.services.workshop.opening import shop_at
from verdict_said import contradictions, proud_frets, said_of

HIGH_MM = 0.14  # high enough to be read 0.05 mm proud or more through any scatter of the crowns here; derived


@pytest.fixture
def shop(tmp_path):
    """A shop of its own for each: what other necks have taught it would be known to the sheet alone."""
    made = shop_at(tmp_path)
    yield made
    made.close()


def reader(one: WorkshopInstrument, seed: int, slips: float = 0.0) -> Reader:
    return Reader(one, np.random.default_rng(seed), mistyped_share=slips)


def service_of(one: WorkshopInstrument, readings: list[Reading], name: str) -> Service:
    instrument = one.instrument.model_copy(update={"name": name})
    return Service(instrument=instrument, targets=targets_of(one), readings=tuple(readings))


def sound_one(kind: str, seed: int) -> Service:
    one = sound(kind, seed)
    return service_of(one, reader(one, seed).full_set(), f"sound {kind}")


def arrived(kind: str, seed: int) -> Service:
    one = arrival(kind, seed)
    return service_of(one, reader(one, seed, 0.04).full_set(), f"arrived {kind}")


def with_a_high_fret(kind: str, seed: int) -> Service:
    one = sound(kind, seed)
    high_fret(one, 7, HIGH_MM)
    eyes = reader(one, seed)
    crowns = [eyes.crown(string, 7) for string in (1, one.count)]
    return service_of(one, [*eyes.full_set(), *crowns], f"high fret {kind}")


def partly_read(kind: str, seed: int) -> Service:
    """Relief and action alone: nothing of nut and intonation."""
    one = sound(kind, seed)
    eyes = reader(one, seed)
    heights = [target for target in wanted_of(one) if figure_of(target) in ("relief", "action")]
    return service_of(one, [one for target in heights for one in eyes._of(target)], f"partly read {kind}")


def with_a_string_on_a_crown(kind: str, seed: int) -> Service:
    """A string read to lie on a crown as it came, and tuned since: nothing has answered it."""
    service = sound_one(kind, seed)
    gap = next(one for one in service.readings if one.quantity == "gap" and len(one.held) == 1)
    lying = gap.model_copy(update={"mm": 0.0})
    readings = tuple(lying if one is gap else one for one in service.readings)
    instrument = service.instrument.model_copy(update={"name": f"on a crown {kind}"})
    return service.model_copy(update={"instrument": instrument, "readings": readings, "work": (Tune(),)})


CASES = (sound_one, arrived, with_a_high_fret, partly_read, with_a_string_on_a_crown)


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("kind", families())
def test_plan_buzz_lowest_and_sheet_say_the_same(shop, kind, case):
    said = said_of(case(kind, families().index(kind)), shop)
    assert contradictions(said) == []


@pytest.mark.parametrize("kind", families())
def test_a_crown_read_proud_is_never_left(kind, shop):
    service = with_a_high_fret(kind, 40 + families().index(kind))
    said = said_of(service, shop)
    assert proud_frets(service) == {7}
    if any(one.crown == 7 for one in said.map.map.touching("medium")):
        assert said.plan.verdict != "leave"
    assert "needed nothing" not in said.sheet


def test_a_planted_contradiction_is_found(shop):
    """Each rule, broken once by hand: the rules are able to fail."""
    said = said_of(with_a_high_fret("electric-guitar", 3), shop)
    assert contradictions(said) == []
    leave = said.plan.model_copy(update={"verdict": "leave"})
    read = said.plan.verdict
    planted = {
        "buzz says": replace(said, buzz=said.buzz.replace("The plan: ", "The plan, then: ")),
        "the plan says leave": replace(said, plan=leave),
        "the sheet says needed nothing": replace(said, sheet=said.sheet + " It needed nothing."),
        "counts on limits": replace(said, sheet=said.sheet + " 106 of 110 notes touch a fret."),
        "lowest does not say so": replace(said, lowest=said.lowest.replace("fret 7", "that fret")),
        "both unknown and beyond": replace(
            said,
            notes=said.notes
            + "\nBeyond a set-up: action at strings 1 to 3 would still be 2 mm\nNot judged: action at string 2.",
        ),
        "nobody read that": replace(said, sheet=said.sheet + " (9.99 mm, where 1.40 mm is wanted)"),
    }
    part = said_of(partly_read("bass-four", 3), shop)
    assert contradictions(part) == []
    planted["is not said"] = replace(
        part, lowest=part.lowest.replace("Not lower before", "Maybe lower before")
    )
    asked = part.plan.questions
    assert asked
    beyond = {"verdict": "beyond-setup", "steps": ()}
    planted["while a question is open"] = replace(part, plan=part.plan.model_copy(update=beyond))
    nearest = part.plan.model_copy(update={"read_next": part.service.readings[0]})
    planted["where one was just taken"] = replace(part, plan=nearest)
    assert read != "leave"
    for what, one in planted.items():
        found = contradictions(one)
        assert any(what in told for told in found), (what, found)
