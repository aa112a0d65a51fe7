"""Beside necks, many instruments teach of years, saddles, crowns and seasons; what is not told stays the family's."""

import re
from pathlib import Path

import numpy as np
import pytest

from bench.population import COVARIANCE, FAMILY
from breakangle.cli.main import main
from breakangle.fleet.items import items_of
from breakangle.fleet.learned import populations_of, with_instruments
from breakangle.fleet.run import run
from breakangle.library.files import add_readings, example_service, write_service
from breakangle.model.service import Room
from breakangle.planning.estimate.lessons import crowns_taught
from breakangle.planning.estimate.population import Population, evidence_of, population_of
from breakangle.planning.kinds.prior import Responses, prior_of
from breakangle.planning.kinds.readings.gap import Gap, predict
from breakangle.planning.kinds.taught import Taught, prior_taught, saddle_rows, saddles_in
from breakangle.planning.state.board import board_of
from breakangle.planning.state.layout import layout_of
from breakangle.planning.state.picture import picture_of
from breakangle.reference.families import family
from breakangle.services.history.makes_table import Whose
from breakangle.services.history.population import changes, expected_of, write_population
from breakangle.services.service_files.example import usual_instrument
from fleet_fixtures.here import Here

SIX = example_service("electric-guitar")
BOARD = board_of(SIX.instrument)
OPEN = Responses(np.zeros(5), COVARIANCE)


def seen(make: str, year: str, shift: float, error: float = 0.1):
    own, before = np.linalg.inv(error**2 * COVARIANCE), np.linalg.inv(COVARIANCE)
    true = FAMILY.mean + np.array([shift, 0, 0, 0, 0])
    covariance = np.linalg.inv(own + before)
    return evidence_of(
        make, Responses(covariance @ (own @ true + before @ FAMILY.mean), covariance), FAMILY, year
    )


def test_years_of_a_make_that_differ_have_priors_of_their_own_and_a_year_of_two_has_none():
    necks = [seen("a", "1", 0.35)] * 5 + [seen("a", "2", -0.05)] * 5 + [seen("a", "3", 0.1)] * 2
    found = population_of([*necks, *[seen("b", "1", -0.3)] * 5], OPEN)
    assert set(found.years) == {("a", "1"), ("a", "2"), ("b", "1")}
    first, second, make = (found.of("a", year).mean[0] for year in ("1", "2", ""))
    assert second < make < first
    assert first == pytest.approx(0.35, abs=0.08)
    assert second == pytest.approx(-0.05, abs=0.08)
    assert found.of("a", "3") is found.makes["a"]
    assert found.years_ratio > 0.0


def test_one_year_alone_says_what_no_year_says():
    with_year = population_of([seen("a", "1", 0.3)] * 4 + [seen("b", "1", -0.2)] * 4, OPEN)
    without = population_of([seen("a", "", 0.3)] * 4 + [seen("b", "", -0.2)] * 4, OPEN)
    assert with_year.makes["a"].mean == pytest.approx(without.makes["a"].mean)
    assert with_year.years["a", "1"].mean == pytest.approx(without.makes["a"].mean)
    assert (with_year.years_ratio, without.years) == (0.0, {})


def test_years_that_do_not_differ_hardly_part_from_their_make():
    rng = np.random.default_rng(2)
    necks = [seen("a", str(n % 3), 0.1 + rng.normal(0, 0.05)) for n in range(18)]
    found = population_of(necks, OPEN)
    apart = [abs(found.years["a", year].mean[0] - found.makes["a"].mean[0]) for year in ("0", "1", "2")]
    assert max(apart) < 0.03


def test_what_was_taught_of_saddles_moves_them_and_leaves_what_is_apart_from_them():
    family = prior_of(BOARD)
    usual = saddles_in(family, BOARD)
    wanted = Responses(usual.mean + np.array([0.4, 0.0, -0.5]), 0.25 * usual.covariance)
    found = prior_taught(BOARD, Taught(saddles=wanted))
    now, layout = saddles_in(found, BOARD), layout_of(BOARD.string_count, BOARD.fret_count)
    assert now.mean == pytest.approx(wanted.mean)
    assert now.covariance == pytest.approx(wanted.covariance, abs=1e-9)
    assert np.linalg.eigvalsh(found.covariance).min() > -1e-10
    for block in ("neck", "crown", "nut_height", "pitch", "rod"):
        assert found.mean[layout[block]] == pytest.approx(family.mean[layout[block]])


def test_saddles_taught_as_the_family_has_them_change_nothing():
    family = prior_of(BOARD)
    found = prior_taught(BOARD, Taught(None, saddles_in(family, BOARD), 1.0))
    assert found.mean == pytest.approx(family.mean)
    assert found.covariance == pytest.approx(family.covariance, abs=1e-9)
    assert np.linalg.matrix_rank(saddle_rows(BOARD)) == 3


def test_rougher_crowns_are_expected_farther_out_by_just_that():
    family, layout = prior_of(BOARD), layout_of(BOARD.string_count, BOARD.fret_count)
    found = prior_taught(BOARD, Taught(crown_ratio=1.5))
    for block, ratio in (("crown", 2.25), ("crown_own", 2.25), ("saddle_height", 1.0), ("neck", 1.0)):
        at = np.ix_(layout[block], layout[block])
        assert found.covariance[at] == pytest.approx(ratio * family.covariance[at])


@pytest.mark.parametrize(("mm", "rougher"), [(0.12, True), (0.004, False)])
def test_crowns_that_were_read_tell_how_rough_a_board_is(mm: float, rougher: bool):
    readings = [
        {"quantity": "crown", "string": 1 + n % 2 * 5, "fret": 2 + n // 2, "mm": mm * sign, "uncertainty_mm": 0.005}
        for n, sign in enumerate((1, -1) * 8)
    ]  # fmt: skip
    found = crowns_taught(add_readings(SIX, readings), BOARD)
    assert found is not None
    assert bool(found.told.mean[0] > 0.1) is rougher
    assert found.told.covariance[0, 0] < found.family.covariance[0, 0]
    assert crowns_taught(add_readings(SIX, readings[:5]), BOARD) is None


def visit(humidity: float, relief_mm: float, action_mm: float):
    """Return an electric read in this air: relief at both edges, action at every string, well known."""
    readings = [gap(string, 8, [1, 17], relief_mm) for string in (1, 6)]
    readings += [gap(string, 12, [1], action_mm) for string in range(1, 7)]
    return add_readings(SIX.model_copy(update={"room": Room(humidity_percent=humidity)}), readings)


def gap(string: int, fret: int, held: list[int], mm: float) -> dict[str, object]:
    return {
        "quantity": "gap",
        "string": string,
        "fret": fret,
        "held": held,
        "mm": round(mm, 3),
        "uncertainty_mm": 0.01,
    }


def visits_of_two_makes(line: Path, table: Path) -> None:
    """Write two visits each of eight instruments: those of one make come high and follow damp air by much."""
    line.mkdir()
    rows = ["item,make,year,instrument"]
    for n in range(8):
        make, action, per_percent = ("high", 2.6, 0.012) if n % 2 else ("low", 1.6, 0.002)
        for season, humidity in enumerate((40.0, 62.0)):
            name = f"{n} {season}.json"
            write_service(line / name, visit(humidity, 0.25 + per_percent * (humidity - 40.0), action))
            rows.append(f"{name},{make},2020,{n}")
    table.write_text("\n".join(rows) + "\n")


def test_visits_teach_saddles_and_seasons_of_a_make_that_plan_and_climate_use(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    line, table, taught = tmp_path / "line", tmp_path / "makes.csv", tmp_path / "taught.json"
    visits_of_two_makes(line, table)
    assert run("learn", items_of([line]), tmp_path / "out", Here()).failed == 0
    asked = ["fleet-learn", str(tmp_path / "out"), "--makes", str(table), "--out", str(taught)]
    assert main(asked) == 0
    said = capsys.readouterr().out
    assert "season, high 2020" in said
    assert main([*asked, "--units", "in"]) == 0
    in_inches = capsys.readouterr().out
    millimetres, inches = (
        float(re.search(rf"saddles, high: height [+−]([0-9.]+) ± [0-9.]+ {unit} beside", text)[1])
        for text, unit in ((said, "mm"), (in_inches, "in"))
    )
    assert inches == pytest.approx(millimetres / 25.4, abs=0.0005 + 0.005 / 25.4)  # exact: the inch; rounding
    assert in_inches.count(" in a percent of humidity beside the family's") == 5
    assert (
        said.count("beside the family's, 4 instruments") == 8
    )  # not 8 visits: both subjects, makes and their year
    high, low = (expected_of(taught, SIX, make, "2020") for make in ("high", "low"))
    assert high.taught.saddles is not None
    assert low.taught.saddles is not None
    # Derived: for 1 mm of action more saddles stand 2 mm higher; makes are drawn together, so that less is told.
    assert high.taught.saddles.mean[0] - low.taught.saddles.mean[0] > 1.0
    assert high.relief_by_humidity is not None
    assert low.relief_by_humidity is not None
    assert high.relief_by_humidity.value == pytest.approx(0.012, abs=0.003)
    assert low.relief_by_humidity.value == pytest.approx(0.002, abs=0.003)

    service = tmp_path / "service.json"
    write_service(service, SIX.model_copy(update={"room": Room(temperature_c=20.0, humidity_percent=40.0)}))
    air = f"climate {service} --temperature 20 --humidity 60 --json --taught {taught} --make".split()
    told = {}
    for make in ("high", "low"):
        assert main([*air, make]) == 0
        told[make] = capsys.readouterr().out
    assert told["high"] != told["low"]


def test_visits_of_one_instrument_are_one_specimen_and_its_neck_learns_from_all_of_them():
    row = {"kind": "electric-guitar", "mean": [0.2], "covariance": [0.01], "family_mean": [0.0],
           "family_covariance": [0.04], "humidity_percent": None}  # fmt: skip
    rows = [
        {**row, "item": f"{subject} {n}", "subject": subject}
        for subject in ("neck", "saddles")
        for n in (1, 2)
    ]
    apart = populations_of(rows, {})["electric-guitar"]
    whose = {one["item"]: Whose("m", "", "one") for one in rows}
    together = populations_of(rows, whose)["electric-guitar"]
    assert [apart[name].necks[""] for name in ("neck", "saddles")] == [2, 2]
    assert [together[name].necks["m"] for name in ("neck", "saddles")] == [1, 1]
    single = populations_of([rows[0]], whose)["electric-guitar"]["neck"]
    assert together["neck"].family.mean[0] > single.family.mean[0]


def test_visits_of_no_named_instrument_teach_no_season():
    row = {"kind": "electric-guitar", "subject": "season", "mean": [0.2, 0.2], "covariance": [1e-4, 1e-4],
           "family_mean": [0.0], "family_covariance": [1e-4], "humidity_percent": 40.0}  # fmt: skip
    rows = [{**row, "item": "a"}, {**row, "item": "b", "mean": [0.4, 0.4], "humidity_percent": 60.0}]
    assert populations_of(rows, {}) == {}
    whose = {name: Whose("m", "", "one") for name in "ab"}
    found = populations_of(rows, whose)["electric-guitar"]["season"]
    assert found.necks == {"m": 1}
    assert found.family.mean[0] > 0.0


def test_a_shop_s_visits_are_known_to_be_of_one_instrument_and_a_table_says_more():
    whose = with_instruments({"sheet 1": Whose("m", "2020", "")}, {"sheet 1": "a", "sheet 2": "a"})
    assert whose == {"sheet 1": Whose("m", "2020", "a"), "sheet 2": Whose("", "", "a")}
    named = {"sheet 1": Whose("m", "", "own name")}
    assert with_instruments(named, {"sheet 1": "a"}) == named


def test_what_necks_taught_is_told_as_the_relief_that_a_turn_adds(tmp_path: Path):
    """Derived: relief over the fret the family reads it at, of a neck bent by 0.5 mm and by what a turn adds."""
    kin, shapes = family("electric-guitar"), np.array([-0.10, 0.05, -0.08])
    board = board_of(usual_instrument(kin, "usual"))
    layout = layout_of(board.string_count, board.fret_count)
    bent, turned = np.zeros(layout.size), np.zeros(layout.size)
    bent[layout["neck"]] = [0.5, 0.0, 0.0]
    turned[layout["neck"]] = np.array([0.5, 0.0, 0.0]) + shapes
    reliefs = [Gap(string=n, fret=kin.relief_fret, held=(1, kin.joint_fret), mm=0.0) for n in range(1, 7)]
    before, after = (predict(reliefs, picture_of(board, state)).values.mean() for state in (bent, turned))
    responses = Responses(np.array([*shapes, 0.0, 0.0]), 1e-12 * np.eye(5))
    found = Population(responses, {}, {"": 3}, 0.4, 0.04)
    write_population(tmp_path / "taught.json", {"electric-guitar": {"neck": found}})
    [said] = changes(tmp_path / "taught.json")
    told = re.search(r"relief by a turn ([+−])([0-9.]+) ± 0\.00 mm beside the family's, 3 instruments", said)
    assert float(told[2]) * (-1 if told[1] == "−" else 1) == pytest.approx(after - before, abs=0.0051)
    assert abs(after - before - shapes[0]) > 0.01
