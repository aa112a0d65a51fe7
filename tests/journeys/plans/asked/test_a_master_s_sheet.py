"""Sheets typed by a master who knows beforehand what is wrong: what the plan says, and what it never says.

What a master does and leaves alone is common practice, no source; lengths and signs are derived beside each.
"""

import pytest

from breakangle.cli.main import main
from breakangle.model.instrument import Bridge, Rod
from breakangle.model.plan import Plan
from breakangle.model.service import Room, Service, Targets
from breakangle.model.service_file import service_text
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.services.making.registry import jobs_for
from breakangle.services.service_files.service import plan_service
from planning_cases import ordinary

GUITAR, FLAT_TOP = "electric-guitar", "steel-acoustic-guitar"
RELIEF = {GUITAR: (8, (1, 17)), FLAT_TOP: (7, (1, 14)), "mandolin": (7, (1, 14)), "banjo-five": (8, (1, 17))}


def sheet(kind, relief, action, nut, octave=(), more=(), **instrument):
    """Return a service typed as a bench sheet: relief by string, the rest from string 1 on."""
    fret, held = RELIEF[kind]
    readings = [Gap(string=one, fret=fret, held=held, mm=mm) for one, mm in relief.items()]
    readings += [Gap(string=at, fret=12, held=(1,), mm=mm) for at, mm in enumerate(action, 1)]
    readings += [Gap(string=at, fret=1, held=(3,), mm=mm) for at, mm in enumerate(nut, 1)]
    for at, cents in enumerate(octave, 1):
        readings += [Pitch(string=at, fret=0, cents=0.0), Pitch(string=at, fret=12, cents=cents)]
    made = ordinary(kind).model_copy(update=instrument)
    return Service(instrument=made, readings=(*readings, *more))


def guitar(relief=(0.30, 0.30), **other):
    """Return a six-string electric that reads as wanted: 1.40 to 1.15 mm, slots at 0.05 and 0.04."""
    return sheet(
        GUITAR, {6: relief[0], 1: relief[1]}, (1.15, 1.2, 1.25, 1.3, 1.35, 1.4),
        (0.04, 0.04, 0.04, 0.05, 0.05, 0.05), **other,
    )  # fmt: skip


def flat_top(relief=(0.20, 0.20), action=(1.6, 1.7, 1.8, 1.9, 2.0, 2.1), **other):
    nut = (0.04, 0.04, 0.04, 0.05, 0.05, 0.05)
    return sheet(FLAT_TOP, {6: relief[0], 1: relief[1]}, action, nut, **other)


def with_string(service: Service, number: int, **update) -> Service:
    strings = [
        one.model_copy(update=update) if one.string == number else one for one in service.instrument.strings
    ]
    instrument = service.instrument.model_copy(update={"strings": tuple(strings)})
    return service.model_copy(update={"instrument": instrument})


def said(plan: Plan) -> str:
    return " ".join((*plan.notes, *(str(one.reason) for one in plan.steps)))


@pytest.mark.parametrize("wrong", [{"note": "E3"}, {"note": "E1"}])
def test_no_string_is_tuned_or_set_by_a_note_that_may_be_an_octave_off(wrong):
    """Pull goes with the square of the frequency: an octave up is four times the pull, and wire that breaks."""
    made = plan_service(with_string(guitar(), 6, **wrong))
    assert made.questions[0].ask == "note"
    assert not made.steps


def test_no_string_is_raised_for_a_gauge_that_may_not_be_on_it():
    """A 0.40 mm string at D3 pulls 34 N beside 76 N: asked. Its action reads 1.30 mm, as wanted of a usual one."""
    made = plan_service(with_string(guitar(), 4, diameter_mm=0.40))
    assert made.questions[0].ask == "gauge"
    assert not made.steps


def test_the_rod_is_not_turned_for_one_side_of_a_twist_whose_other_side_is_doubted():
    """Relief .10 and .50 where .30 is wanted: their mean is right, so the rod stays where it is."""
    service = sheet(
        GUITAR, {6: 0.10, 1: 0.50}, (1.25, 1.25, 1.25, 1.3, 1.35, 1.4), (0.04, 0.04, 0.05, 0.05, 0.05, 0.05), (0.0,) * 6
    )  # fmt: skip
    made = plan_service(service)
    assert "twist" in {one.finding for one in made.findings}
    assert not any(isinstance(one.adjustment, RodTurn) for one in made.steps)


def test_a_post_raised_against_the_other_says_what_would_sink_without_it():
    """String 1 stands right, the bass 0.8 mm high: the bass post comes down and takes string 1 with it.

    Derived: the treble post goes up, and a figure that is too high is no reason to raise anything.
    """
    bridge = Bridge(kind="two-post", height_mm_per_turn=0.8, position_mm_per_turn=0.6)
    service = sheet(
        GUITAR, {6: 0.30, 1: 0.30}, (1.15, 1.33, 1.5, 1.7, 1.95, 2.2), (0.04, 0.04, 0.04, 0.05, 0.05, 0.05),
        bridge=bridge, scale_mm=628.0,
    )  # fmt: skip
    raised = [one for one in plan_service(service).steps if getattr(one.adjustment, "post", "") == "treble"]
    assert len(raised) == 1
    assert raised[0].adjustment.mm > 0.0
    assert "without it action at string 1 would come to 1.0" in str(raised[0].reason)
    assert "wanted 1.15 mm" in str(raised[0].reason)


def test_crowns_that_read_level_are_not_called_worn_with_those_that_are():
    """Frets 1 to 3 read .07 to .10 mm low under three strings, 4 and 5 level: worn are 1 to 3."""
    read = ((1, -0.07), (2, -0.10), (3, -0.09), (4, -0.01), (5, 0.0))
    crowns = [Crown(string=string, fret=fret, mm=mm) for string in (1, 2, 3) for fret, mm in read]
    made = plan_service(flat_top(more=crowns))
    (worn,) = [one for one in made.findings if one.finding == "worn-first-position"]
    assert worn.where.frets == (1, 2, 3)
    assert worn.message.values["last"] == 3


def test_a_hump_is_said_once_and_not_fret_by_fret():
    """Crowns 13 to 15 rise to .13 mm at the body joint: one thing, told once."""
    read = ((11, 0.0), (12, 0.02), (13, 0.09), (14, 0.13), (15, 0.10), (16, 0.04), (17, 0.0))
    crowns = [Crown(string=string, fret=fret, mm=mm) for string in (1, 6) for fret, mm in read]
    made = plan_service(flat_top(more=crowns, octave=(0.0,) * 6))
    assert [one.finding for one in made.findings] == ["hump"]
    assert not any("crown of fret" in note for note in made.notes)


def test_a_crown_far_above_a_hump_is_still_told_by_itself():
    """The board rises .10 mm at the joint; fret 15 stands .40 mm: it is loose, and no part of that rise."""
    read = ((11, 0.0), (12, 0.04), (13, 0.08), (14, 0.10), (15, 0.40), (16, 0.04), (17, 0.0))
    crowns = [Crown(string=string, fret=fret, mm=mm) for string in (1, 6) for fret, mm in read]
    made = plan_service(flat_top(more=crowns, octave=(0.0,) * 6))
    told = [*made.notes, *(str(one.message.values) for one in made.findings if one.finding == "high-fret")]
    assert any("15" in one for one in told)


def test_all_strings_sharp_together_send_nobody_to_the_body_nor_to_a_fixed_bridge():
    """14 cents on 350 mm is 2.8 mm: the bridge was slid. A body pulls single notes, and the bridge stands loose."""
    service = sheet(
        "mandolin", {8: 0.10, 1: 0.10}, (1.45, 1.45, 1.53, 1.53, 1.62, 1.62, 1.7, 1.7),
        (0.04, 0.04, 0.04, 0.04, 0.05, 0.05, 0.05, 0.05), (14.0, 14.0, 14.0, 15.0, 14.0, 13.0, 14.0, 14.0),
    )  # fmt: skip
    made = plan_service(service)
    slid = [one.adjustment.mm for one in made.steps if one.adjustment.adjust == "bridge-position"]
    assert slid == [pytest.approx(2.8, abs=0.3)]
    assert not any(one.message.key == "effects.ask_harmonic" for one in made.questions)
    assert not jobs_for(made.findings, service.instrument)
    assert [one.name for one in jobs_for(made.findings, flat_top().instrument)] == ["bridge"]


def test_a_banjo_that_sank_has_its_head_seen_to_before_a_taller_bridge():
    """All actions .7 mm low together: a slack head lets the bridge sink."""
    fifth = [
        Gap(string=5, fret=17, held=(6,), mm=1.6), Gap(string=5, fret=6, held=(8,), mm=0.05),
        Pitch(string=5, fret=0, cents=0.0), Pitch(string=5, fret=17, cents=1.0),
    ]  # fmt: skip
    service = sheet(
        "banjo-five", {4: 0.15, 1: 0.15}, (1.5, 1.5, 1.55, 1.6), (0.04, 0.04, 0.05, 0.05),
        (1.0, 0.0, 1.0, 1.0), fifth,
    )  # fmt: skip
    made = plan_service(service)
    assert made.verdict == "beyond-setup"
    assert any("see to the head: a slack one" in note for note in made.notes)


def test_a_saddle_left_under_a_neck_that_no_rod_straightens_is_left_with_a_word():
    """Relief .45 and a rod at its stop: nothing is cut, and the six high actions are not passed over."""
    made = plan_service(
        flat_top((0.45, 0.44), (2.2, 2.3, 2.4, 2.5, 2.6, 2.7), octave=(2.0,) * 6, rod=Rod(turns_left=0.0))
    )
    assert not made.steps
    assert any(
        "Nothing is cut under a neck that is bowed so far: the saddle height" in one for one in made.notes
    )


def test_a_saddle_on_its_plate_has_nothing_left_and_not_minus_nothing():
    bridge = Bridge(kind="individual", height_travel_mm=(0.0, 3.0))
    service = sheet(
        GUITAR, {6: 0.30, 1: 0.30}, (1.7, 1.75, 1.8, 1.85, 1.9, 1.95), (0.04, 0.04, 0.04, 0.05, 0.05, 0.05),
        (0.0,) * 6, bridge=bridge,
    )  # fmt: skip
    (reset,) = plan_service(service).findings
    assert str(reset.message.values["travel"]) == "0.0"


def test_nothing_is_said_to_tell_most_beside_a_question_or_where_nothing_is_left_to_do():
    """One reading decides what comes next, not two; a neck at its end waits for a shim and for no reading."""
    asked = plan_service(guitar((0.10, 0.50), octave=(0.0,) * 6))
    assert asked.questions
    stuck = plan_service(flat_top(action=(2.6, 2.7, 2.8, 2.9, 3.0, 3.1), octave=(3.0,) * 6,
                                  bridge=Bridge(kind="one-piece", height_travel_mm=(-0.1, 0.0))))  # fmt: skip
    assert stuck.verdict == "beyond-setup"
    assert not any("One more reading would tell most" in said(one) for one in (asked, stuck))


@pytest.mark.parametrize(
    ("kind", "percent", "key"),
    [
        (FLAT_TOP, 18.0, "effects.room_dry"),
        (FLAT_TOP, 80.0, "effects.room_damp"),
        (FLAT_TOP, 45.0, ""),
        (GUITAR, 18.0, ""),  # no thin top
    ],
)
def test_a_thin_top_read_in_air_far_from_usual_is_let_settle_first(kind, percent, key):
    """A top sinks as it dries and rises in damp air: what is set to it then is wrong once the air is right again."""
    service = flat_top() if kind == FLAT_TOP else guitar()
    made = plan_service(service.model_copy(update={"room": Room(humidity_percent=percent)}))
    assert [one.key for one in made.noted if one.key.startswith("effects.room")] == ([key] if key else [])


def test_buzz_and_lowest_are_judged_at_the_hand_that_the_file_asks_for(tmp_path, capsys):
    """A heavy player's plan is judged at heavy play: a map drawn at medium would say that all is clear."""
    wish = Targets(hand="heavy", no_buzz_at="heavy")
    file = tmp_path / "heavy.json"
    file.write_text(service_text(guitar().model_copy(update={"targets": wish})), encoding="utf-8")
    for verb in ("buzz", "lowest"):
        main([verb, str(file)])
        assert "heavy play" in " ".join(capsys.readouterr().out.split())
        main([verb, str(file), "--strength", "light"])
        assert "light play" in " ".join(capsys.readouterr().out.split())


def test_crowns_that_nobody_read_are_not_said_to_stand_level(tmp_path, capsys):
    """Gaps alone do not tell single crowns: "none stands above the others" is said of what was read."""
    for more, words in (
        ((), "no crown has been read"),
        ((Crown(string=3, fret=9, mm=0.0),), "no crown stands above"),
    ):
        file = tmp_path / "guitar.json"
        file.write_text(service_text(guitar(more=more)), encoding="utf-8")
        main(["lowest", str(file)])
        assert words in " ".join(capsys.readouterr().out.split())
