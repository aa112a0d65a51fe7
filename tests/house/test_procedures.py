"""Every procedure is whole, and every caution of the trade stands wherever it applies.

Where a caution applies is told here from what a step does, with what and for which instrument: from its words, its
tools and its conditions, never from the cautions it lists. The same walk must find a caution that is taken away.
"""

import re
from collections.abc import Callable, Iterator

import pytest

from breakangle.desk.example import example_service, usual_instrument
from breakangle.model.instrument import Bridge, Rod
from breakangle.planning.adjustments.saddle_height import SaddleHeight
from breakangle.planning.registry import adjustment_kinds, reading_kinds
from breakangle.procedures.facts import usual_facts
from breakangle.procedures.model import NOTED, Procedure, Step
from breakangle.procedures.shelf import own_procedures
from breakangle.procedures.text import procedure_text
from breakangle.tables.families import families, family
from breakangle.tables.routine import cautions, facts, orders

PROCEDURES = own_procedures()
STEPS = [(name, step) for name, one in PROCEDURES.items() for step in one.steps]


def words_of(step: Step) -> str:
    return " ".join([step.do, *step.tools]).lower()


def says(pattern: str, otherwise: str = r"(?!)") -> Callable[[Step], bool]:
    """Return whether a step's words (what it does, and its tools) hold a pattern."""
    return lambda step: bool(re.search(pattern, words_of(step)) and not re.search(otherwise, words_of(step)))


def floats(step: Step) -> bool:
    return step.when.get("bridge") == ("floating",)


# What the trade warns of, by the names of the cautions that say it: (one of these cautions, where it applies).
APPLIES: dict[str, tuple[tuple[str, ...], Callable[[Step], bool]]] = {
    "eye protection when slackening, cutting and stretching wire": (
        ("eye-protection",),
        says(r"\bslacken|wire cutters|\bcut each|\bstretch (it|each)|stretch of each|spare ends close"),
    ),
    "eyes clear while strings come up to pitch": (
        ("eyes-clear", "eye-protection"),
        says(r"\b(tune|retune|to pitch|up to pitch)\b"),
    ),
    "slacken before cutting": (("slacken-before-cutting",), says(r"cut each|slacken every string")),
    "a rod moves a quarter turn at a time, never forced, stop at its stop": (
        ("rod-quarter-turn",),
        says(r"\bthe rod\b|\brod's\b|rod key"),
    ),
    "strings slackened for the rod where the maker says so": (
        ("rod-slacken",),
        says(r"\bthe rod\b|\brod's\b|rod key"),
    ),
    "solvent and oil: air, gloves, a test on the finish": (
        ("solvent-air",),
        says(r"\boil\b|solvent|\bcleaner\b(?! cleaner)", otherwise=r"no oil\.|wipe the oil off|vacuum"),
    ),
    "cloths wet with drying oil": (
        ("oily-cloths",),
        says(r"wipe (a thin film of|the) oil|oily cloths"),
    ),
    "nut, saddle and shell dust": (
        ("dust",),
        says(r"nut file\b|fine file|cut the nut|paper on glass|polishing thread", otherwise=r"as gauges"),
    ),
    "wood and metal dust": (
        ("wood-dust", "dust"),
        says(r"abrasive|fret end file|take the dust off|tape and dust|felt wheel"),
    ),
    "springs of a floating bridge": (("springs",), floats),
    "mains: unplug first": (("unplug",), says(r"solder|open the cover|from the mains")),
    "mains work is for licensed people": (("licensed",), says(r"\bamplifier\b.*plug|solder|plug in")),
    "mats and rubber on lacquer": (("mats",), says(r"padded")),
    "defer to a specialist": (
        ("specialist",),
        says(r"loose glue|cracks, loose|a reset|old or valuable|a specialist"),
    ),
    "local rules on waste solvent and dust": (
        ("local-rules",),
        says(
            r"\boil\b|cleaner for|contact cleaner|nut file\b|fine file|end file|paper on glass|abrasive papers",
            otherwise=r"no oil\.|as gauges",
        ),
    ),
}


def missing(procedures: dict[str, Procedure]) -> Iterator[tuple[str, str, str]]:
    """Yield (what the trade warns of, procedure, step) wherever none of its cautions stands."""
    for warning, (names, applies) in APPLIES.items():
        for name, one in procedures.items():
            for step in one.steps:
                if applies(step) and not set(names) & set(step.cautions):
                    yield warning, name, step.id


def test_every_caution_stands_where_it_applies():
    assert list(missing(PROCEDURES)) == []


@pytest.mark.parametrize("warning", APPLIES)
def test_every_caution_applies_somewhere(warning):
    _, applies = APPLIES[warning]
    assert [name for name, step in STEPS if applies(step)] != []


@pytest.mark.parametrize("warning", APPLIES)
def test_the_walk_finds_a_caution_that_was_taken_away(warning):
    """Each caution in turn is struck from one step it applies to: the walk must name that step."""
    names, applies = APPLIES[warning]
    for name, one in PROCEDURES.items():
        for index, step in enumerate(one.steps):
            if not applies(step):
                continue
            bare = step.model_copy(
                update={"cautions": tuple(each for each in step.cautions if each not in names)}
            )
            steps = (*one.steps[:index], bare, *one.steps[index + 1 :])
            worse = {**PROCEDURES, name: one.model_copy(update={"steps": steps})}
            assert (warning, name, step.id) in set(missing(worse))


def test_a_procedure_that_slackens_or_strings_has_a_step_for_the_floating_bridge():
    for name, one in PROCEDURES.items():
        touches = {"slacken", "string", "height"} & {act for step in one.steps for act in step.acts}
        if touches and name not in ("nut-slots",):
            assert any(floats(step) and "springs" in step.cautions for step in one.steps), name


def test_one_text_for_one_caution():
    """What the planner says with its adjustments stands in the table, word for word."""
    table = {one.words for one in cautions().values()}
    guitar = usual_instrument(family("electric-guitar"), "one")
    said = set()
    for bridge in ("individual", "two-post", "one-piece", "floating"):
        instrument = guitar.model_copy(update={"bridge": Bridge(kind=bridge), "rod": Rod()})
        for kind in adjustment_kinds().values():
            wanted = {"string": 1, "strings": instrument.strings, "turns": 0.25, "mm": -0.1, "degrees": 0.2}
            keys = {key: wanted[key] for key in kind.model.model_fields if key in wanted}
            made = SaddleHeight(string=1, mm=0.1) if kind.name == "saddle-height" else kind.model(**keys)
            said |= set(kind.cautions(made, instrument))
    assert len(said) > 8
    assert said - table == set()


def test_the_procedures_the_bench_needs_are_there():
    assert set(PROCEDURES) == {
        "take-in", "unstring", "clean-and-oil", "fret-polish", "restring", "settle", "set-up-check", "nut-slots",
        "saddle-work", "electronics-check", "hand-back",
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
    assert list(step.cautions) == list(dict.fromkeys(step.cautions))


def test_every_caution_order_and_fact_is_used():
    used = {name for _, step in STEPS for name in step.cautions}
    # What only the planner says: of a shim, which no routine procedure makes, and of what a turn or a slide asks for.
    planned = {"neck-screws", "round-again", "rod-back-to-pitch", "loose-wheels", "loose-bridge"}
    assert set(cautions()) - used <= planned
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
