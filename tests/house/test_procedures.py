"""Every procedure is whole, and reads well for every family. What can hurt in it: `test_dangers`."""

import pytest

from breakangle.planning.kinds.registry import reading_kinds
from breakangle.procedures.facts import usual_facts
from breakangle.procedures.model import NOTED, Step
from breakangle.procedures.shelf import own_procedures
from breakangle.procedures.text import procedure_text
from breakangle.reference.families import families, family
from breakangle.reference.routine import facts, orders
from breakangle.services.service_files.example import example_service, usual_instrument

PROCEDURES = own_procedures()
STEPS = [(name, step) for name, one in PROCEDURES.items() for step in one.steps]


def floats(step: Step) -> bool:
    return step.when.get("bridge") == ("floating",)


def test_a_procedure_that_slackens_or_strings_has_a_step_for_the_floating_bridge():
    for name, one in PROCEDURES.items():
        touches = {"slacken", "string", "height"} & {act for step in one.steps for act in step.acts}
        if touches and name not in ("nut-slots",):
            assert any(floats(step) and "springs" in step.shown_cautions for step in one.steps), name


def test_the_procedures_the_bench_needs_are_there():
    assert set(PROCEDURES) == {
        "take-in", "unstring", "clean-and-oil", "fret-polish", "fret-levelling", "restring", "settle", "set-up-check",
        "nut-slots", "saddle-work", "electronics-check", "hand-back", "neck-reset", "refret",
        "nut-making", "saddle-making",
    }  # fmt: skip
    ranks = [one.rank for one in PROCEDURES.values()]
    assert ranks == sorted(ranks)


def test_bare_and_lacquered_boards_are_cleaned_differently():
    one = PROCEDURES["clean-and-oil"]
    bare, lacquered = ({step.id for step in one.steps_for({"board": kind})} for kind in ("bare", "lacquered"))
    assert {"oil", "dry", "test"} <= bare - lacquered
    assert "board-lacquered" in lacquered - bare
    oil = next(step for step in one.steps if step.id == "oil")
    assert oil.timer is not None
    assert (oil.timer.least_s, oil.timer.most_s) == (120, 180)


def test_every_way_of_stringing_has_its_step():
    one = PROCEDURES["restring"]
    ids = {step.id for step in one.steps}
    assert {"post-plain", "post-slotted", "post-locking", "roller", "tie", "pin", "ball", "unblock"} <= ids
    for tuners, head in (
        ("plain", "plain"),
        ("slotted", "plain"),
        ("locking", "plain"),
        ("plain", "slotted"),
    ):
        known = {"tuners": tuners, "head": head, "anchor": "ball", "bridge": "individual"}
        posts = [step for step in one.steps_for(known) if "take-up" in step.acts]
        assert len(posts) == 1, (tuners, head)


@pytest.mark.parametrize(("name", "step"), STEPS, ids=[f"{name}/{step.id}" for name, step in STEPS])
def test_a_step_says_what_why_and_how_long(name, step):
    assert step.do.endswith((".", "!"))
    assert step.why.endswith(".")
    assert 0.0 < step.minutes <= 15.0
    assert len(step.do) < 240, name
    for one in step.record:
        assert one.kind in (*reading_kinds(), *NOTED)
    assert list(step.dangers) == list(dict.fromkeys(step.dangers))
    assert step.cautions == (), "the cautions of our own steps follow from their dangers"


def test_every_order_and_fact_is_used():
    acts = {act for _, step in STEPS for act in step.acts}
    assert {one for order in orders() for one in (order.first, order.then)} <= acts
    asked = {name for _, step in STEPS for name in step.when}
    assert set(facts()) == asked


@pytest.mark.parametrize("kind", families())
def test_every_procedure_reads_well_for_every_family(kind):
    known = usual_facts(usual_instrument(family(kind), "one")) | {"board": "bare", "worth": "ordinary"}
    for name, one in PROCEDURES.items():
        if not one.steps_for(known):
            assert name == "electronics-check"
            continue
        text = procedure_text(one, known)
        assert one.title in text
        for step in one.steps_for(known):
            assert step.do.split()[0] in text
        assert max(map(len, text.splitlines())) <= 78


def test_what_is_not_known_is_said_and_asked():
    known = usual_facts(example_service().instrument)
    one = PROCEDURES["clean-and-oil"]
    assert one.asks(known) == ("board", "worth")
    assert "Only if the board's face is bare wood:" in procedure_text(one, known)
    assert "Only if" not in procedure_text(one, known | {"board": "bare", "worth": "ordinary"})
