"""A kind of instrument that the shop made: copied, kept, planned by, exported, changed, taken off the list."""

import json
import re

import pytest
from starlette.testclient import TestClient

import breakangle as ba
from breakangle.model.errors import CorrectInputError
from breakangle.model.kind.kind_table import KindTable
from breakangle.model.service_file import ServiceFileError, service_text
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.state.board import board_of
from breakangle.reference.families import families, family, family_of, family_with
from breakangle.reference.strength import playing, playing_with
from breakangle.services.intake.kept_kinds import add_kind, change_kind, put_back_kind, remove_kind
from breakangle.services.records.upkeep import exported, merge_in
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.kinds.boxes import boxes_of, kind_typed
from breakangle.services.service_files.kinds.copied import key_for, table_of
from breakangle.services.service_files.service import plan_service, service_from
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.visits import add_instrument, instrument_of, open_visit
from breakangle.services.workshop.house_targets import every_house_target
from breakangle.services.workshop.house_targets import house_targets as shop_targets
from breakangle.services.workshop.kinds import kinds_on_list, shop_kind, shop_kinds
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.storage.schema.tables import STATES
from shop_fixtures.people import ADA
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand", "shop_fixtures.shops", "shop_fixtures.command_line"]
# Of such instruments; from memory.
CITTERN = {
    "words": "Cittern, ten strings", "scale_mm": "480", "spread_nut_mm": "38", "spread_bridge_mm": "58",
    "medium_action_low_mm": "2.1", "strings": "\n".join(
        line for course, line in enumerate((
            "D4 0.30 mm plain-steel", "A3 0.41 mm plain-steel", "E3 0.66 wound-steel core 0.36 mm wrap phosphor-bronze",
            "A2 1.07 wound-steel core 0.41 mm wrap phosphor-bronze",
            "E2 1.37 wound-steel core 0.46 mm wrap phosphor-bronze",
        ), 1) for line in (f"{line} course {course}",) * 2
    ),
}  # fmt: skip


def cittern() -> KindTable:
    return kind_typed(table_of(family("mandolin")), CITTERN)


@pytest.mark.parametrize("kind", families())
def test_a_copy_says_all_that_the_nearest_says(kind):
    """The table copied, and typed back box by box in either unit, is the family itself: sizes, priors, targets."""
    made = table_of(family(kind))
    own = family_with(f"{kind}-copied", made)
    assert (own.strings, own.priors, own.targets, own.tolerances, own.bridge, own.rod) == (
        family(kind).strings, family(kind).priors, family(kind).targets, family(kind).tolerances,
        family(kind).bridge, family(kind).rod,
    )  # fmt: skip
    assert playing_with("copied", made).strengths.medium_mm == playing(kind).strengths.medium_mm
    for unit in ("mm", "in"):
        assert kind_typed(made, boxes_of(made, unit), unit).targets == made.targets


def test_a_plan_of_the_new_kind_borrows_nothing_and_wants_its_own_targets():
    table = cittern()
    service = empty_service(family_with("cittern-ten-strings", table), "Ouzel")
    assert len(service.instrument.strings) == 10
    plan = plan_service(service)
    assert "borrowed" not in " ".join(plan.notes)
    action = {one.string: one.mm for one in house_targets(board_of(service.instrument), "medium")
              if getattr(one, "fret", 0) == 12 and getattr(one, "held", ()) == (1,)}  # fmt: skip
    assert action[10] == pytest.approx(2.1)
    assert action[1] == pytest.approx(family("mandolin").targets["medium"].action_high_mm)


def test_the_swing_follows_from_the_new_strings():
    """Derived: toward-board share × √(2 E x(L − x)/(T L)), E and share of the way of playing, as the tables' own."""
    made = cittern()
    usual = family("mandolin").scale_mm
    assert made.strengths.pluck_from_saddle_mm == pytest.approx(80.0 * 480.0 / usual, abs=0.06)
    assert made.strengths.light_mm < made.strengths.medium_mm < made.strengths.heavy_mm
    assert made.strengths.medium_mm != playing("mandolin").strengths.medium_mm


def test_a_file_carries_its_kind_and_is_read_where_nobody_knows_it():
    service = empty_service(family_with("cittern-ten-strings", cittern()), "Ouzel")
    text = service_text(service)
    assert json.loads(text)["format"] == "breakangle/service/2"
    read = service_from(text.encode(), "here")
    assert (read.instrument, service_text(read)) == (service.instrument, text)
    assert plan_service(read).notes == plan_service(service).notes
    assert (
        json.loads(service_text(empty_service(family("mandolin"), "x")))["format"] == "breakangle/service/1"
    )


@pytest.mark.parametrize(
    ("place", "value", "said"),
    [
        (("shape", "scale_mm"), 48.0, "kind_table.shape.scale_mm is 48"),
        (("shape", "relief_fret"), 15, "kind_table.shape.relief_fret"),
        (("shape", "post"), "quokka", "kind_table.shape.post is"),
        (("rod", "relief_mm_per_turn", "mean"), 0.0, "kind_table.rod.relief_mm_per_turn.mean is"),
        (("priors", "relief_mm", "sd"), 0.0, "kind_table.priors.relief_mm.sd is"),
        (("targets", "light", "action_low_mm"), "1.5", "kind_table.targets.light.action_low_mm"),
        (("strengths", "medium_mm"), 0.01, "kind_table.strengths.medium_mm"),
        (("stringing", "rows", 0, "make"), "quokka", "kind_table.stringing.rows[0].make is"),
        (("tolerances", "nut_mm"), None, "kind_table.tolerances.nut_mm"),
    ],
)
def test_a_wrong_figure_of_a_kind_is_refused_with_its_place(place, value, said):
    data = json.loads(service_text(empty_service(family_with("cittern-ten-strings", cittern()), "Ouzel")))
    part = data["instrument"]["kind_table"]
    for name in place[:-1]:
        part = part[name]
    part[place[-1]] = value
    with pytest.raises(ServiceFileError) as refused:
        service_from(json.dumps(data).encode(), "here")
    assert said in " ".join(refused.value.problems)


@pytest.mark.parametrize(
    ("boxes", "said"),
    [
        ({"strings": "E5 plain-steel"}, "string 1 is"),
        ({"strings": "E5 0.28 quokka"}, "makes are"),
        ({"strings": "E5 0.28 plain-steel course two"}, "string 1 is"),
        ({"scale_mm": "48"}, "scale"),
        ({"medium_action_low_mm": "0.070"}, "0.07in"),
        ({"frets": "many"}, "whole number"),
        ({"joint_fret": "25"}, "joint_fret"),
        ({"anchor": "glue"}, "one of ball, pins, tied"),
        ({"quokka": "1"}, "nothing that is told of a kind"),
        ({"words": "x" * 81}, "the name has 81 signs"),
    ],
)
def test_what_cannot_be_right_in_a_box_is_said(boxes, said):
    with pytest.raises(CorrectInputError) as refused:
        kind_typed(table_of(family("mandolin")), boxes)
    assert said in str(refused.value)


def test_a_key_is_free_and_plain():
    assert key_for("Cittern, ten strings", ()) == "cittern-ten-strings"
    assert key_for("Mandolin", ()) == "mandolin-2"
    assert key_for("Mandolin", ("mandolin-2",)) == "mandolin-3"
    assert key_for("New", ()) == "new-2"
    assert (key_for("Домра", ()), key_for("三味線", ("kind",))) == ("kind", "kind-2")
    with pytest.raises(CorrectInputError):
        key_for("…", ())


def test_it_is_offered_and_its_instruments_outlive_it(shop):
    found = add_kind(shop, ADA, cittern())
    assert found.key in kinds_on_list(shop)
    assert found.key in [one.kind for one in every_house_target(shop)]
    made = empty_service(family_with(found.key, found.table), "Ouzel").instrument
    record = add_instrument(shop, ADA, made)
    visit = open_visit(shop, ADA, record)
    remove_kind(shop, ADA, found.key)
    assert found.key not in kinds_on_list(shop)
    with pytest.raises(NoSuchRecordError):
        shop_kind(shop, found.key)
    with pytest.raises(CorrectInputError):
        shop_targets(shop, found.key)
    assert "borrowed" not in " ".join(plan_service(service_of(shop, visit.id)).notes)
    again = open_visit(shop, ADA, shop.get(InstrumentRecord, record.id))
    assert family_of(service_of(shop, again.id).instrument).target("medium").action_low_mm == 2.1
    assert put_back_kind(shop, ADA, found.key).table == found.table
    assert add_kind(shop, ADA, cittern()).key == "cittern-ten-strings-2"


def test_a_change_reaches_open_visits_and_leaves_those_handed_back(shop):
    found = add_kind(shop, ADA, cittern())
    record = add_instrument(shop, ADA, empty_service(family_with(found.key, found.table), "Ouzel").instrument)
    closed = open_visit(shop, ADA, record)
    move_visit(shop, closed, STATES[-1], ADA)
    here = open_visit(shop, ADA, record)
    renamed = kind_typed(found.table, {"words": "Cittern", "medium_action_low_mm": "2.3"})
    changed = change_kind(shop, ADA, found.key, renamed, found.version)
    assert (changed.key, changed.table.words, changed.instruments) == (found.key, "Cittern", 1)

    def wanted(visit: Visit) -> float:
        return family_of(service_of(shop, visit.id).instrument).target("medium").action_low_mm

    assert (wanted(closed), wanted(here)) == (2.1, 2.3)
    assert instrument_of(shop.get(InstrumentRecord, record.id)).kind_table.words == "Cittern"
    with pytest.raises(EditedMeanwhileError):
        change_kind(shop, ADA, found.key, renamed, found.version)


def test_a_kind_goes_along_in_the_export(shop, tmp_path):
    found = add_kind(shop, ADA, cittern())
    add_instrument(shop, ADA, empty_service(family_with(found.key, found.table), "Ouzel").instrument)
    other = shop_at(tmp_path / "other")
    try:
        merge_in(other, str(exported(shop)))
        assert [(one.key, one.table, one.instruments) for one in shop_kinds(other)] == [
            (found.key, found.table, 1)
        ]
    finally:
        other.close()


def test_from_the_command_line(run, tmp_path):
    (tmp_path / "strings.txt").write_text(CITTERN["strings"], encoding="utf-8")
    said = run(
        "kind", "--copy", "mandolin", "--name", CITTERN["words"], "--set", "scale_mm=480", "--set", "spread_nut_mm=38",
        "--set", "spread_bridge_mm=58", "--strings", str(tmp_path / "strings.txt"),
        "--file", str(tmp_path / "one.json"),
    )  # fmt: skip
    assert said.startswith("cittern-ten-strings: Cittern, ten strings")
    assert "cittern-ten-strings" in run("kind")
    assert run("take-in", str(tmp_path / "one.json")).startswith("Sheet 1")
    assert "1 instrument" in run("kind")
    said = run("kind", "cittern-ten-strings", "--set", "medium_action_low_mm=2.2", "--name", "Cittern")
    assert "medium_action_low_mm=2.2 mm" in said
    told = json.loads(run("kind", "cittern-ten-strings", "--json"))
    assert told["kind_table"]["targets"]["medium"]["action_low_mm"] == 2.2
    assert "off the list" in run("kind", "cittern-ten-strings", "--delete")
    assert "not on the list" in run("kind")
    assert "Cittern" in run("kind", "cittern-ten-strings", "--back")
    assert "is not in this shop" in run("kind", "quokka", code=2)
    assert "give one" in run("kind", "--copy", "mandolin", code=2)
    assert "name one" in run("kind", "cittern-ten-strings", "--copy", "mandolin", code=2)
    for dangling in (("--set", "scale_mm=480"), ("--name", "x"), ("--delete",), ("--back",)):
        assert f"{dangling[0]} without a kind" in run("kind", *dangling, code=2)
    assert "is for a kind that is there" in run(
        "kind", "--copy", "mandolin", "--name", "x", "--delete", code=2
    )


def test_from_a_visits_instrument_that_borrowed(run, tmp_path):
    octave = empty_service(family("mandolin"), "Octave")
    longer = octave.instrument.model_copy(update={"scale_mm": 530.0})
    ba.write_service(str(tmp_path / "octave.json"), octave.model_copy(update={"instrument": longer}))
    run("take-in", str(tmp_path / "octave.json"))
    assert "borrowed" in " ".join(run("visit", "1", "--plan").split())
    said = run("kind", "--visit", "1", "--name", "Octave mandolin")
    assert "scale_mm=530 mm" in said
    assert "borrowed" not in " ".join(run("visit", "1", "--plan").split())


def test_from_python():
    service = ba.copy_kind(
        "mandolin", CITTERN["words"], {name: text for name, text in CITTERN.items() if name != "words"}
    )
    assert service.instrument.kind == "cittern-ten-strings"
    assert "borrowed" not in " ".join(ba.plan(service).notes)
    with pytest.raises(ba.BreakangleError):
        ba.copy_kind("quokka", "x")


def test_from_the_app(bench: TestClient):
    form = bench.get("/shop/kinds/new", params={"copy": "mandolin"}).text
    assert "E5 0.279 mm plain-steel\nE5 0.279 mm plain-steel course 1" in form
    wrong = bench.post("/shop/kinds/new", data={"copy": "mandolin"} | CITTERN | {"scale_mm": "48"})
    assert wrong.status_code == 422
    assert 'value="Cittern, ten strings"' in wrong.text
    made = bench.post("/shop/kinds/new", data={"copy": "mandolin"} | CITTERN)
    assert made.url.path == "/shop/kinds"
    assert "Cittern, ten strings" in made.text
    for place in ("/visits/new", "/design", "/shop/targets"):
        assert "Cittern, ten strings" in bench.get(place).text, place
    first = bench.get("/visits/new", params={"kind": "cittern-ten-strings"}).text
    boxes = dict(re.findall(r'name="([\w.]+)"[^>]*? value="([^"]*)"', first))
    came = bench.post(
        "/visits/new", data={**boxes, "name": "Ouzel", "kind": "cittern-ten-strings", "then": ""}
    )
    assert came.url.path == "/visits/1"
    assert "Cittern, ten strings" in came.text
    for place in ("/instruments", "/search?q=Ouzel"):
        told = bench.get(place).text
        assert "Cittern, ten strings" in told, place
        assert "cittern-ten-strings" not in told, place
    assert "borrowed" not in bench.get("/visits/1/plan").text
    seen = bench.get("/shop/kinds/cittern-ten-strings").text
    version = re.search(r'name="seen" value="(\d+)"', seen).group(1)
    bench.post(
        "/shop/kinds/cittern-ten-strings",
        data={"seen": version, "words": "Cittern", "medium_action_low_mm": "2.4"},
    )
    assert "Cittern" in bench.get("/visits/1").text
    bench.post("/shop/kinds/cittern-ten-strings", data={"drop": "yes"})
    assert bench.get("/visits/1/plan").status_code == 200
    assert "Put on the list" in bench.get("/shop/kinds").text
    bench.post("/shop/kinds/cittern-ten-strings/back")
    here = workshop_of(bench).shop()
    assert shop_kind(here, "cittern-ten-strings").table.targets.medium.action_low_mm == 2.4
