"""What a plan says: one thing once, in its order, with one figure for one thing, and in this instrument's words."""

import io
import re

import pytest
from rich.console import Console

from breakangle.cli.render.pages.plan import print_plan
from breakangle.cli.render.units import Units
from breakangle.model.instrument import Bridge, Rod
from breakangle.model.reading import Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.explain.next_reading import MOST_ASKED
from breakangle.planning.kinds.adjustments.restring import Restring
from breakangle.planning.kinds.reading_names import reading_named
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.plan import plan, planned
from breakangle.services.service_files.compare import figures, told
from planning_cases import good, made_of, only, ordinary, role, service_reading


def page(service: Service, units: str = "mm") -> str:
    out = io.StringIO()
    print_plan(Console(file=out, width=400), service, made_of(service), Units(units))
    return out.getvalue()


def restrung(service: Service, ratio: float) -> Service:
    heavier = tuple(
        one.model_copy(update={"diameter_mm": round(one.diameter_mm * ratio, 3), "core_mm": None})
        for one in service.instrument.strings
    )
    return service.model_copy(update={"work": (Restring(strings=heavier),)})


def test_the_page_judges_as_the_plan_does():
    """Far outside is out however little else is known of it; what is neither in nor out is not marked."""
    service = service_reading(ordinary("electric-guitar"), only("relief", 15.0))
    vague = tuple(
        one.model_copy(update={"uncertainty_mm": 0.12})
        if isinstance(one, Gap) and len(one.held) == 2
        else one
        for one in service.readings
    )
    service = service.model_copy(update={"readings": vague})
    now = estimate(service)
    sight = sight_of(now, targets_of(service, now.board).wanted)
    rows = {(one.words, one.string): one.judged for one in figures(plan(service, now))}
    assert rows == {
        (role(target), target.string): bool(judged)
        for target, judged in zip(sight.targets, sight.judged, strict=True)
    }
    spread = next(
        share
        for target, share in zip(sight.targets, sight.spread / sight.tolerance, strict=True)
        if (role(target), target.string) == ("relief", 6)
    )
    assert spread > 1.0
    assert rows["relief", 6]


def test_the_whole_of_a_saddle_is_cut_before_it_is_shaped_under_one_string():
    def wish(target: Target) -> float:
        return 8.0 - abs(target.string - 3.5) if role(target) == "action" else 0.0

    made = made_of(service_reading(ordinary("steel-acoustic-guitar"), wish))
    heights = [one.adjustment for one in made.steps if one.adjustment.adjust == "saddle-height"]
    whole = [one.post is not None for one in heights]
    assert set(whole) == {True, False}
    assert whole == sorted(whole, reverse=True)


def test_a_turn_of_the_rod_says_to_bring_the_strings_back_to_pitch_and_counts_down_what_is_left():
    instrument = ordinary("electric-guitar").model_copy(update={"rod": Rod(kind="single", turns_left=1.0)})
    made = made_of(service_reading(instrument, only("relief", 4.0)))
    turns = [one for one in made.steps if one.adjustment.adjust == "rod"]
    assert len(turns) >= 2
    assert all("back to pitch" in " ".join(one.caution) for one in turns)
    left, at = [], 1.0
    for one in turns:
        left.append(f"before this one: {at:g}.")
        at -= one.adjustment.turns
    assert [words in " ".join(one.caution) for one, words in zip(turns, left, strict=True)] == [True] * len(
        turns
    )


def test_new_strings_whose_relief_is_not_read_again_are_not_left():
    stale = restrung(good(), 1.25)
    assert made_of(stale).verdict == "read-first"
    assert not [note for note in made_of(stale).notes if "leave it" in note or "Stop here" in note]
    text = page(stale)
    assert "Read first:" in text
    assert "Leave it" not in text


def test_a_slip_is_not_called_near_the_edge():
    service = good()
    slipped = tuple(
        one.model_copy(update={"mm": 14.0})
        if isinstance(one, Gap) and (one.string, one.fret) == (6, 12)
        else one
        for one in service.readings
    )
    made = made_of(service.model_copy(update={"readings": slipped}))
    assert [reading_kind(one).place(one) for one in made.read_again] == [
        "string 6 over fret 12, with fret 1 held"
    ]
    assert not [note for note in made.notes if "near the edge" in note]


def test_one_reason_is_given_once_for_all_its_strings():
    made = made_of(service_reading(ordinary("steel-acoustic-guitar"), only("action", -5.0)))
    about = [note for note in made.notes if "taller saddle" in note]
    assert len(about) == 1
    assert "action at strings 1 to 6 would still be" in about[0]
    assert re.search(
        r"would still be \d\.\d\d mm to \d\.\d\d mm, wanted \d\.\d\d mm to \d\.\d\d mm", about[0]
    )


def test_a_note_on_a_neck_bent_back_names_no_other_amount_than_the_step():
    service = good()
    flat = tuple(
        one.model_copy(update={"mm": 0.0}) if isinstance(one, Gap) and len(one.held) == 2 else one
        for one in service.readings
    )
    made = made_of(service.model_copy(update={"readings": flat}))
    note = next(one for one in made.notes if "lies on the crown" in one)
    assert "quarter" in made.steps[0].reason
    assert "eighth" not in note
    no_rod = ordinary("electric-guitar").model_copy(update={"rod": Rod(kind="none")})
    bare = made_of(service.model_copy(update={"readings": flat, "instrument": no_rod}))
    assert not [one for one in bare.notes if "Loosen the rod" in one]


def test_one_step_is_one_step():
    bridge = Bridge(kind="individual", height_travel_mm=(0.0, 0.0), position_travel_mm=(-1.0, 1.0))
    instrument = ordinary("electric-guitar").model_copy(update={"bridge": bridge})
    service = service_reading(instrument, only("intonation", 3.5, 3))
    made = made_of(service)
    assert (made.verdict, len(made.steps)) == ("beyond-setup", 1)
    assert "This step gets as near" in page(service)


def test_nothing_is_never_less_than_nothing_and_a_minus_is_a_minus():
    wish = {"action": 9.0, "intonation": -3.0, "relief": 4.0}
    service = service_reading(ordinary("electric-guitar"), lambda target: wish.get(role(target), 0.0))
    text = page(service)
    assert "−" in text
    assert not re.findall(r"[−-]0\.0+(?!\d)", text)
    assert not re.findall(r"(?<![\w\d])-\d", text)


@pytest.mark.parametrize("kind", ["ukulele-concert", "nylon-acoustic-guitar", "electric-guitar"])
@pytest.mark.parametrize("off", [3.0, 4.3, 5.6])
def test_a_step_states_one_figure_for_one_reading(kind, off):
    service = service_reading(
        ordinary(kind), lambda target: off + 0.37 * target.string if role(target) == "action" else 0.0
    )
    compared = 0
    for one in made_of(service).steps:
        step = told(one, service)
        main = re.search(r"should then read (\S+ \S+ ± \d+\.\d+)", step.why)
        if main:
            compared += 1
            assert main[1] in " ".join(step.expect)
    assert compared


def test_cautions_are_in_the_unit_asked_for():
    service = service_reading(ordinary("steel-acoustic-guitar"), only("action", 7.0))
    assert "about 2.0 mm must stay" in " ".join(
        caution for one in made_of(service).steps for caution in one.caution
    )
    text = page(service, "in")
    assert "must stay" in text
    assert not re.findall(r"\d mm\b(?! per mm)", text)


def test_the_verdict_is_not_said_again_as_a_note():
    text = page(Service(instrument=ordinary("electric-guitar")))
    assert text.count("Nothing can be decided yet") == 1


def test_few_figures_are_asked_for_at_once_each_once_and_none_hides_what_is_not_read():
    """No pitch at all has been taken, and every nut stands on its edge."""
    service = service_reading(ordinary("electric-guitar"), only("nut clearance", 0.95))
    silent = tuple(one for one in service.readings if one.quantity != "pitch")
    service = service.model_copy(update={"readings": silent})
    found = planned(service, estimate(service))
    places = [reading_kind(one).place(one) for one in found.plan.read_again]
    assert len(found.again.all) > MOST_ASKED
    assert len(places) == len(set(places)) == MOST_ASKED
    assert set(places) <= {reading_kind(one).place(one) for one in found.again.all}
    assert any("take the pitch of strings 1 to 6, open and at fret 12" in note for note in found.plan.notes)


def test_the_most_telling_reading_is_asked_for_beside_what_is_read_once_more():
    service = service_reading(ordinary("electric-guitar"), only("intonation", 0.8, 2))
    bare = tuple(one for one in service.readings if not (isinstance(one, Gap) and one.held == (3,)))
    made = made_of(service.model_copy(update={"readings": bare}))
    assert made.read_again
    assert made.read_next is not None
    told_most = reading_named(made.read_next)
    assert told_most == "nut clearance, string 1, fret 1 with fret 3 held"
    asked = [one for one in made.questions if one.readings[0].model_dump() == made.read_next.model_dump()]
    assert [one.message.key for one in asked] == ["ask.tells_most"]
    # What a question asks for is said once.
    assert not [note for note in made.notes if told_most in note and "One more reading" in note]
    assert not [note for note in made.notes if note.startswith("Read these once more")]
