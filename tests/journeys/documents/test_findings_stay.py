"""A finding stays until its place is read again or surely mended; no figure is told as read that nobody read."""

import argparse
import json

import pytest

from breakangle.cli.verbs.service_files import lowest as lowest_verb
from breakangle.documents.sheets.buzz import buzz_words
from breakangle.model.plan import Plan
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.planning.buzz.buzz_map import buzz_map
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.kinds.targets.intonation import IntonationTarget
from breakangle.planning.verdict.as_read import as_read
from breakangle.reference.messages import words
from breakangle.reference.strength import own_playing, playing
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.visits.entries import do_adjustment, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from contact_setups import service_data
from planning_cases import good, made_of
from shop_fixtures.people import ADA, later

LYING = Gap(string=5, fret=6, held=(), mm=0.0)
ACTION = GapTarget(string=6, fret=12, held=(1,), mm=1.4)


def with_all(
    service: Service, readings: tuple[Reading, ...] = (), work: tuple[Adjustment, ...] = ()
) -> Service:
    return service.model_copy(
        update={"readings": (*service.readings, *readings), "work": (*service.work, *work)}
    )


def told(made: Plan, *parts: str) -> bool:
    said = [*made.notes, *(words(one.message) for one in made.findings)]
    return any(all(part in one for part in parts) for one in said)


def lowest_of(tmp_path, **wanted) -> int:
    """Run `lowest` on a service file, and return its exit code."""
    path = tmp_path / "service.json"
    path.write_text(json.dumps(service_data(**wanted)), encoding="utf-8")
    parser = argparse.ArgumentParser()
    lowest_verb.add(parser.add_subparsers(required=True))
    arguments = parser.parse_args(["lowest", str(path)])
    return int(arguments.run(arguments))


def lies(made: Plan) -> bool:
    return told(made, "string 5 over fret 6", "lies on the crown")


def test_a_string_on_a_crown_is_told_of_until_its_place_reads_clear():
    lying = with_all(good(), (LYING,))
    assert lies(made_of(lying))
    other = with_all(lying, work=(NutSlot(string=2, mm=-0.02), Tune()))
    assert lies(made_of(other))
    assert made_of(other).verdict != "leave"
    elsewhere = with_all(other, (Gap(string=2, fret=1, held=(3,), mm=0.05, after=2),))
    assert lies(made_of(elsewhere))
    clear = with_all(elsewhere, (LYING.model_copy(update={"mm": 0.4, "after": 2}),))
    assert not lies(made_of(clear))


@pytest.mark.parametrize(("mm", "stays"), [(0.1, True), (2.0, False)])
def test_work_answers_a_string_on_a_crown_only_where_it_surely_clears_it(mm, stays):
    """A saddle lifts the string over fret 6 by about three tenths of its rise; nothing may mean 0.16 mm; derived."""
    raised = with_all(good(), (LYING,), (SaddleHeight(string=5, mm=mm),))
    assert lies(made_of(raised)) == stays


def test_a_crown_read_proud_is_told_of_until_that_crown_is_read_again():
    proud = with_all(good(), tuple(Crown(string=one, fret=9, mm=0.05) for one in (1, 6)))
    made = made_of(proud)
    assert made.verdict == "beyond-setup"
    assert told(made, "crown of fret 9", "0.05 mm", "levelling")
    turned = with_all(proud, work=(RodTurn(turns=0.125), Tune()))
    assert told(made_of(turned), "crown of fret 9", "0.05 mm")
    level = tuple(Crown(string=one, fret=9, mm=0.0, after=2) for one in (1, 6))
    assert not told(made_of(with_all(turned, level)), "crown of fret 9")


@pytest.mark.parametrize(("mm", "verdict"), [(0.04, "leave"), (0.05, "beyond-setup")])
def test_the_edge_of_a_proud_crown(mm, verdict):
    """0.05 mm and more is proud; common practice, no source."""
    crowns = tuple(Crown(string=one, fret=9, mm=mm) for one in (1, 3, 6))
    assert made_of(with_all(good(), crowns)).verdict == verdict


def test_nothing_is_left_that_nobody_read():
    service = good()
    heights = tuple(one for one in service.readings if isinstance(one, Gap))
    made = made_of(service.model_copy(update={"readings": heights}))
    assert made.verdict == "read-first"
    assert told(made, "Read first: ", "intonation at strings 1 to 6")
    assert not told(made, "leave it")


def test_a_doubted_figure_is_read_before_anything_is_left_and_a_confirmed_one_is_not_asked_for_again():
    service = good()
    slip = next(one for one in service.readings if isinstance(one, Gap) and (one.string, one.fret) == (6, 12))
    wrong = slip.model_copy(update={"mm": slip.mm + 0.6, "uncertainty_mm": 0.02})
    readings = tuple(wrong if one is slip else one for one in service.readings)
    doubted = made_of(service.model_copy(update={"readings": readings}))
    assert doubted.verdict != "leave"
    asked = "String 6 over fret 12, with fret 1 held disagrees"
    assert told(doubted, asked, "read it again")
    twice = made_of(service.model_copy(update={"readings": (*readings, wrong)}))
    assert not told(twice, asked, "read it again")


def test_a_figure_is_as_read_until_work_moves_it():
    service = good()
    read = next(one for one in service.readings if isinstance(one, Gap) and (one.string, one.fret) == (6, 12))
    now = estimate(service)
    assert as_read(service, ACTION, now) == read
    other = with_all(service, work=(SaddleHeight(string=1, mm=0.2), Tune()))
    assert as_read(other, ACTION, estimate(other)) == read
    own = with_all(service, work=(SaddleHeight(string=6, mm=0.2),))
    assert as_read(own, ACTION, estimate(own)) is None
    again = with_all(own, (read.model_copy(update={"mm": 1.61, "after": 1}),))
    assert as_read(again, ACTION, estimate(again)).mm == 1.61  # type: ignore[union-attr]


def test_intonation_as_read_is_the_stopped_note_less_the_open_string():
    target = IntonationTarget(string=6, fret=12)
    plain = good()
    gaps = tuple(one for one in plain.readings if isinstance(one, Gap))
    pitches = (Pitch(string=6, fret=0, cents=-3.0), Pitch(string=6, fret=12, cents=1.5))
    service = plain.model_copy(update={"readings": (*gaps, *pitches)})
    assert as_read(service, target, estimate(service)).cents == 4.5  # type: ignore[union-attr]
    alone = plain.model_copy(update={"readings": (*gaps, pitches[1])})
    assert as_read(alone, target, estimate(alone)) is None


def test_an_owner_is_given_counts_only_where_the_shop_set_its_strengths(tmp_path):
    low = estimate(good())
    own = tmp_path / "own.toml"
    own.write_text("[strengths.all]\nlight_mm = 0.5\nmedium_mm = 1.2\nheavy_mm = 2.0\n"
                   'pluck_from_saddle_mm = 130.0\nrelease = "away"\n', encoding="utf-8")  # fmt: skip
    mine = own_playing(own, "electric-guitar")
    assert mine.own and not playing("electric-guitar").own
    counted = buzz_words(None, buzz_map(low.picture, low.belief, mine, ("medium",)), "medium", "as it stands")
    assert "of 132 notes are heard to touch" in counted
    usual = playing("electric-guitar")
    heavy = buzz_words(None, buzz_map(low.picture, low.belief, usual, ("heavy",)), "heavy", "as it stands")
    assert "notes may be heard to touch a fret" in heavy
    assert not any(letter.isdigit() for letter in heavy.split("held at fret")[0].replace("string ", "")[:-3])


def sheet_text(shop, visit) -> str:
    return " ".join(sheet_file(shop, visit, form="txt", pictures=False).decode().split())


def test_a_hand_back_marks_what_was_not_read_and_what_is_reckoned(tmp_path):
    shop = shop_at(tmp_path)
    try:
        data = json.loads(service_text(good()))
        data["readings"] = [one for one in data["readings"] if one["quantity"] == "gap"]
        visit = bring_in(shop, json.dumps(data).encode(), "a file", ADA).visit
        before = sheet_text(shop, visit)
        assert "not read: intonation" in before
        assert "needed nothing" not in before
        do_adjustment(shop, visit.id, {"adjust": "saddle-height", "string": 6, "mm": 0.1}, later(minutes=5))
        after = sheet_text(shop, visit)
        assert "≈" in after
        assert "≈ marks what is calculated" in after
        reading = {"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": 1.51}
        take_reading(shop, visit.id, reading, later(minutes=6))
        assert "1.51" in sheet_text(shop, visit)
    finally:
        shop.close()


def test_an_instrument_on_which_all_was_read_and_nothing_found_needed_nothing(tmp_path):
    shop = shop_at(tmp_path)
    try:
        visit = bring_in(shop, service_text(good()).encode(), "a file", ADA).visit
        assert "It needed nothing and is right for a medium hand" in sheet_text(shop, visit)
        take_reading(shop, visit.id, {"quantity": "crown", "string": 3, "fret": 9, "mm": 0.06}, ADA)
        found = sheet_text(shop, visit)
        assert "needed nothing" not in found and "as it should be" not in found
        assert "crown of fret 9, read as 0.06 mm above its line" in found
    finally:
        shop.close()


def test_a_lower_set_up_names_the_finding_that_stands_in_the_way(tmp_path, capsys):
    """2.0 mm comes down on a level board (exit 0); with a crown read 0.06 mm proud only once that is mended."""
    assert lowest_of(tmp_path, low_mm=2.0, high_mm=1.75) == 0
    assert "Not lower before" not in capsys.readouterr().out
    assert lowest_of(tmp_path, low_mm=2.0, high_mm=1.75, crowns={9: 0.06}) == 1
    told_so = " ".join(capsys.readouterr().out.split())
    assert (
        "Not lower before this is seen to: - The crown of fret 9, read as 0.06 mm above its line" in told_so
    )
