"""Strengths come from published strokes, the house's targets are quiet at theirs: every family, every hand.

Where a target is not quiet, the target is changed or the page says so, never the strength.
"""

from importlib import resources
from pathlib import Path
from statistics import fmean

import numpy as np
import pytest

from bench.targets_heard import heard_on, planted
from breakangle.cli.render.pages.buzz import lines
from breakangle.cli.render.units import Units
from breakangle.cli.verbs.service_files.lowest import lines as lowest_lines
from breakangle.fleet.items import Item
from breakangle.fleet.jobs import lowest as fleet_lowest
from breakangle.library.touching import lowest as library_lowest
from breakangle.planning.buzz.buzz_map import buzz_map
from breakangle.planning.buzz.no_buzz import conflicts
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.verdict.touches import touching
from breakangle.reference.families import HANDS, families, family
from breakangle.reference.rows import read_table
from breakangle.reference.strength import STRENGTHS, playing, ways
from breakangle.services.service_files.buzz import buzz
from breakangle.services.service_files.lowest import lowest_setup
from contact_setups import service


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("kind", families())
def test_nothing_is_heard_on_the_houses_target_at_its_strength(kind: str, hand: str) -> None:
    """By the map of buzz, by the quick way that plans and sheets go, and by what "no buzz" asks of a set-up."""
    assert heard_on(family(kind).target(hand), kind, hand) == [[], [], []]


def test_every_family_on_file_and_every_hand_are_tried() -> None:
    """Counted by the files themselves: a family that the registry forgot, or a hand without a strength, is missed."""
    folder = resources.files("breakangle.reference") / "data" / "families"
    on_file = {one.name.removesuffix(".toml") for one in folder.iterdir() if one.name.endswith(".toml")}
    assert set(families()) == on_file
    assert tuple(HANDS) == tuple(STRENGTHS)
    assert all(set(family(kind).targets) == set(HANDS) for kind in on_file)


@pytest.mark.parametrize("kind", families())
def test_a_target_that_is_not_clean_at_its_strength_is_seen(kind: str) -> None:
    """The check above can fail: with its strings planted at a quarter of a millimetre every target is heard.

    Each family with one hand, each hand with a third of the families; by the map too, for one family. All families with
    all hands, by the map too: `python -m bench.prove targets_heard`.
    """
    hand = HANDS[families().index(kind) % len(HANDS)]
    assert all(heard_on(planted(kind, hand), kind, hand, mapped=kind == "electric-guitar"))


@pytest.mark.parametrize("kind", families())
def test_map_and_quick_way_say_the_same_of_a_low_set_up(kind: str) -> None:
    low = family(kind).target("light")
    asked = service(kind=kind, low_mm=0.8 * low.action_low_mm, high_mm=0.8 * low.action_high_mm)
    now, how = estimate(asked), playing(kind)
    found = buzz_map(now.picture, now.belief, how, ("heavy",))
    quick = touching(now.picture, how, "heavy")
    assert {(one.string, one.stop) for one in found.touching("heavy")} == {
        (one.string, one.stop) for one in quick.notes
    }
    heard = {(one.string, one.stop) for one in found.heard("heavy")}
    assert heard == {(one.string, one.stop) for one in quick.heard}
    assert heard < {(one.string, one.stop) for one in found.at("heavy")}


def test_an_acoustic_set_for_a_hard_player_is_no_complaint() -> None:
    """2.4 and 1.9 mm with 0.30 mm of relief: in the trade's experience seldom buzzes (common practice, no source)."""
    asked = service(kind="steel-acoustic-guitar", low_mm=2.4, high_mm=1.9, relief_mm=0.30, nut_mm=0.06)
    found = buzz(asked, ("heavy",))
    assert found.map.heard("heavy") == ()
    assert len(found.map.touching("heavy")) <= 6
    assert "notes are clear" in "\n".join(lines(found)) or "None of" in "\n".join(lines(found))


@pytest.mark.parametrize("kind", families())
def test_every_family_has_a_lowest_set_up(kind: str) -> None:
    """With a rod or without, one saddle or many: nothing is heard in it."""
    wanted = service(kind=kind, low_mm=2.0, high_mm=1.8, relief_mm=0.1)
    found = lowest_setup(wanted, "medium", 0.02)
    assert (found.trade == ()) == (wanted.instrument.rod.kind == "none")
    assert len(found.lowest.limits) >= len(wanted.instrument.strings)
    assert conflicts(found.lowest.picture, playing(kind), "medium") == ()


def test_no_height_is_offered_that_nobody_sets() -> None:
    """At heavy play nothing is heard on an acoustic at .9 mm; none is set below 1.8 and 1.3 (common practice)."""
    asked = service(kind="steel-acoustic-guitar", low_mm=2.4, high_mm=1.9, relief_mm=0.30, nut_mm=0.06)
    found = lowest_setup(asked, "heavy")
    light = family("steel-acoustic-guitar").target("light")
    assert found.lowest.action_mm.max() < light.action_high_mm
    assert found.below_usual
    assert found.to_set_mm[[-1, 0]] == pytest.approx([light.action_low_mm, light.action_high_mm], abs=0.005)
    said = " ".join(" ".join(lowest_lines(found, Units("mm"))).split())
    assert "Set no lower than 1.80 at string 6 and 1.30 at string 1" in said


def test_command_library_and_fleet_give_one_height_to_set() -> None:
    asked = service(kind="steel-acoustic-guitar", low_mm=2.4, high_mm=1.9, relief_mm=0.30, nut_mm=0.06)
    wanted = lowest_setup(asked, "heavy").to_json()
    told = library_lowest(asked, "heavy")
    assert told.action_to_set_mm == pytest.approx(wanted["action_to_set_mm"], abs=0.0005)
    assert told.action_mm == pytest.approx(wanted["lowest"]["action_mm"], abs=0.0005)
    assert np.all(told.action_to_set_mm > told.action_mm)
    item = Item("acoustic.json", "", asked.model_dump_json().encode())
    rows = fleet_lowest.rows(item, {"strength": "heavy"})
    assert [row["action_to_set_mm"] for row in rows] == pytest.approx(list(told.action_to_set_mm))
    assert [row["action_mm"] for row in rows] == pytest.approx(list(told.action_mm))
    assert set(rows[0]) == {name for name, _, _ in fleet_lowest.COLUMNS}


def test_where_the_shops_own_ear_decides_no_usual_height_stands_in_the_way(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        "[strengths.all]\nlight_mm = 0.2\nmedium_mm = 0.3\nheavy_mm = 0.5\n"
        'pluck_from_saddle_mm = 150.0\nrelease = "away"\n',
        encoding="utf-8",
    )
    asked = service(kind="steel-acoustic-guitar", low_mm=2.4, high_mm=1.9, relief_mm=0.30, nut_mm=0.06)
    found = lowest_setup(asked, "heavy", own=own)
    assert not found.below_usual
    assert found.to_set_mm == pytest.approx(found.lowest.action_mm)


@pytest.mark.parametrize("kind", families())
def test_every_family_has_its_heights(kind: str) -> None:
    assert "medium_mm" in read_table(f"families/{kind}")["strengths"]
    found = playing(kind).strengths
    assert found.light_mm < found.medium_mm < found.heavy_mm
    assert found.source
    assert found.pluck_from_saddle_mm < family(kind).scale_mm / 3.0


@pytest.mark.parametrize("kind", families())
def test_heights_follow_from_the_way_of_playing(kind: str) -> None:
    """Derived: share toward the board × √(2 E x(L − x)/(T L)), at the mean tension of the family's own strings."""
    found, scale = playing(kind).strengths, family(kind).scale_mm
    tension = fmean(one.tension_n for one in estimate(service(kind=kind)).picture.board.strings)
    way, x = ways()[found.way], found.pluck_from_saddle_mm
    for strength in STRENGTHS:
        wanted = way.height_mm(strength, tension, scale, x)
        assert found.height_mm(strength) == pytest.approx(wanted, abs=0.0051)


def test_a_typical_plectrum_stroke_is_the_published_one() -> None:
    """Zollner and Zwicker, "Physics of the Electric Guitar", section 1.5.1: 2 mm, 1000 to 2000 N/m, 2 to 4 mJ."""
    way = ways()["plectrum"]
    assert (way.medium_mj, way.heavy_mj) == (2.0, 4.0)
    # An ordinary set, 75 N at 648 mm, in the middle of 6 to 10 cm from the bridge.
    assert 1.0 < 75.0 * 648.0 / (80.0 * 568.0) < 2.0
    moved_mm = way.height_mm("medium", 75.0, 648.0, 80.0) / way.toward_board_ratio
    assert moved_mm == pytest.approx(2.0, rel=0.05)
