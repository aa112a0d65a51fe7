"""Many necks teach what a make answers, by as much as makes differ; a file of it is versioned and taken back."""

import json
from pathlib import Path

import numpy as np
import pyarrow.parquet as parquet
import pytest

from bench.population import COVARIANCE, FAMILY, FLEETS, fleet
from breakangle.cli.main import main
from breakangle.fleet.items import items_of, with_makes
from breakangle.fleet.jobs import learn
from breakangle.fleet.run import run
from breakangle.library.files import add_readings, example_service, write_service
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.service import Service
from breakangle.planning.estimate.population import evidence_of, population_of
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.prior import Responses
from breakangle.reference.families import family
from breakangle.services.history.population import expected_of, taught_text
from breakangle.services.service_files.kinds.copied import table_of, with_kind
from breakangle.services.service_files.service import service_from
from fleet_fixtures.here import Here

FEW = 12  # fleets of each kind; 400 of them stand in docs/fleet.md


@pytest.mark.parametrize(
    ("name", "least"), [("makes differ, 1 : 2", 0.35), ("nothing to learn, 1 : 0", -0.06)]
)
def test_a_fleet_teaches_where_makes_differ_and_does_no_harm_where_they_do_not(name: str, least: float):
    family, learned, known, inside = np.mean([fleet(seed, *FLEETS[name]) for seed in range(FEW)], axis=0)
    assert 1 - learned / family > least
    assert learned / known < 1.25
    assert 0.88 < inside <= 1.0


def seen(make: str, shift: float, error: float = 0.1) -> Responses:
    del make
    own, before = np.linalg.inv(error**2 * COVARIANCE), np.linalg.inv(COVARIANCE)
    true = FAMILY.mean + np.array([shift, 0, 0, 0, 0])
    covariance = np.linalg.inv(own + before)
    return Responses(covariance @ (own @ true + before @ FAMILY.mean), covariance)


def learned(necks: list[tuple[str, float]]):
    evidence = [evidence_of(make, seen(make, shift), FAMILY) for make, shift in necks]
    return population_of(evidence, Responses(np.zeros(5), COVARIANCE))


def test_nobody_taught_leaves_the_family_as_it_is():
    nobody = population_of([], Responses(np.zeros(5), COVARIANCE))
    assert nobody.family.mean == pytest.approx(np.zeros(5))
    assert nobody.makes == {}


def test_a_make_of_two_has_no_prior_of_its_own():
    found = learned([("a", 0.3), ("a", 0.3), ("b", -0.2), ("b", -0.2), ("b", -0.2)])
    assert set(found.makes) == {"b"}
    assert found.of("a") is found.family
    assert found.necks == {"a": 2, "b": 3}


def test_order_of_necks_and_names_of_makes_change_nothing():
    necks = [("a", 0.2), ("b", -0.1), ("a", 0.25), ("c", 0.0), ("b", -0.15), ("a", 0.22), ("b", -0.12)]
    one, other = learned(necks), learned([(f"x{make}", shift) for make, shift in necks[::-1]])
    assert one.makes["a"].mean == pytest.approx(other.makes["xa"].mean)
    assert one.within_ratio == pytest.approx(other.within_ratio)


def test_more_necks_of_a_make_draw_its_mean_nearer_to_theirs_and_never_past():
    means = [learned([("a", 0.4)] * count + [("b", -0.2)] * 4).of("a").mean[0] for count in (3, 6, 12)]
    assert 0 < means[0] < means[1] < means[2] < 0.4


def neck(folder: Path, name: str, answer: float) -> None:
    """Write an electric whose relief fell by `answer` times what a quarter turn usually does."""
    before = [gap(string, 0.50, 0) for string in (1, 6)]
    after = [gap(string, 0.50 - 0.12 * answer, 1) for string in (1, 6)]
    service = add_readings(example_service("electric-guitar"), before)
    service = service.model_copy(update={"work": (RodTurn(turns=0.25),)})
    write_service(folder / name, Service.model_validate(add_readings(service, after)))


def gap(string: int, mm: float, after: int) -> dict[str, object]:
    return {"quantity": "gap", "string": string, "fret": 8, "held": [1, 17], "mm": round(mm, 3),
            "uncertainty_mm": 0.01, "after": after}  # fmt: skip


def necks_of_two_makes(line: Path, csv: Path) -> Path:
    """Write four necks each of a make that answers strongly and of one that answers weakly, and whose is whose."""
    line.mkdir()
    for n in range(4):
        neck(line, f"strong {n}.json", 1.6 + 0.05 * n)
        neck(line, f"weak {n}.json", 0.5 + 0.05 * n)
    rows = "".join(f"{path.name},{path.name.split()[0]}\n" for path in line.iterdir())
    csv.write_text(f"item,make\n{rows}")
    return line


def test_necks_teach_a_plan_by_choice_and_it_is_taken_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    csv, taught = tmp_path / "makes.csv", tmp_path / "taught.json"
    line = necks_of_two_makes(tmp_path / "line", csv)
    run("learn", items_of([line]), tmp_path / "out", Here())
    asked = ["fleet-learn", str(tmp_path / "out"), "--out", str(taught)]
    assert main([*asked, "--makes", str(csv)]) == 0
    assert "strong" in capsys.readouterr().out
    strange = example_service("electric-guitar")
    a_turn = {make: of_turn(taught, strange, make) for make in ("strong", "weak", "none such")}
    assert a_turn["strong"] < a_turn["none such"] < a_turn["weak"]  # a turn takes relief away
    assert "neck: what 4 of strong taught" in expected_of(taught, strange, "strong").said
    assert "neck: what 8 of other makes taught" in expected_of(taught, strange, "none such").said

    service = tmp_path / "service.json"
    write_service(service, add_readings(strange, [gap(string, 0.60, 0) for string in (1, 6)]))
    after_a_turn = {}
    for make in ("strong", "weak"):
        assert main(["plan", str(service), "--json", "--taught", str(taught), "--make", make]) == 0
        told = capsys.readouterr()
        assert f"what 4 of {make} taught" in told.err
        step = next(step for step in json.loads(told.out)["steps"] if step["adjust"] == "rod")
        assert step["turns"] == 0.25
        after_a_turn[make] = next(one["mm"] for one in step["expect"] if one["fret"] == 8)
    assert after_a_turn["strong"] < after_a_turn["weak"] - 0.05

    assert main(asked) == 0  # without makes: a second version
    assert of_turn(taught, strange, "strong") == of_turn(taught, strange, "weak")
    assert "no longer there; was" in capsys.readouterr().out
    assert main(["fleet-learn", "--out", str(taught), "--put-back"]) == 0
    assert of_turn(taught, strange, "strong") == a_turn["strong"]
    with pytest.raises(ChooseAnotherFileError, match="no former version"):
        main_raises(taught)
    with pytest.raises(CorrectInputError, match="knows nothing of bass-four"):
        expected_of(taught, example_service("bass-four"))


def test_a_neck_whose_relief_reads_nothing_teaches_nothing_of_its_rod(tmp_path: Path):
    """Derived: 0.50 mm less 0.12 of 4.2 is 0: from there on a gauge reads the same whatever the rod did."""
    for name, answer in (("some.json", 3.0), ("nothing.json", 0.5 / 0.12)):
        neck(tmp_path, name, answer)
    taught = {one.name: {row["subject"] for row in learn.rows(one, {})} for one in items_of([tmp_path])}
    assert "neck" in taught["some.json"]
    assert "neck" not in taught["nothing.json"]


def test_a_kind_that_a_shop_made_teaches_nothing_of_others(tmp_path: Path):
    """Two shops' kinds of one name are two families."""
    neck(tmp_path, "one.json", 1.5)
    (item,) = items_of([tmp_path])
    service = service_from(item.content, item.name)
    made = with_kind(service.instrument, "electric-own", table_of(family(service.instrument.kind)))
    write_service(tmp_path / "one.json", service.model_copy(update={"instrument": made}))
    assert learn.rows(item, {})
    assert learn.rows(items_of([tmp_path])[0], {}) == []


def test_a_fleet_is_planned_again_by_what_it_taught_and_again_where_a_make_is_told_otherwise(tmp_path: Path):
    csv, taught = tmp_path / "makes.csv", tmp_path / "taught.json"
    line, services = necks_of_two_makes(tmp_path / "line", csv), tmp_path / "services"
    run("learn", items_of([line]), tmp_path / "out", Here())
    assert main(["fleet-learn", str(tmp_path / "out"), "--out", str(taught), "--makes", str(csv)]) == 0
    services.mkdir()
    high = add_readings(example_service("electric-guitar"), [gap(string, 0.60, 0) for string in (1, 6)])
    for name in ("a.json", "b.json"):
        write_service(services / name, high)
    write_service(services / "c.json", example_service("bass-four"))  # of a family that nobody taught

    def planned(makes: str) -> tuple[list[str], dict[str, float], str]:
        (tmp_path / "whose.csv").write_text(f"item,make\n{makes}c.json,strong\n")
        items, engine = with_makes(items_of([services]), tmp_path / "whose.csv"), Here()
        settings = {"taught": taught_text(taught)}
        outcome = run("plan", items, tmp_path / "plans", engine, settings=settings)
        assert outcome.failed == 0
        rows = parquet.read_table(outcome.results).to_pylist()
        return engine.done, {row["item"]: after_rod(row["plan"]) for row in rows[:2]}, rows[2]["plan"]

    done, first, bass = planned("a.json,strong\nb.json,weak\n")
    assert done == ["a.json", "b.json", "c.json"]
    assert first["a.json"] < first["b.json"] - 0.05
    done, second, bass_again = planned("a.json,strong\nb.json,strong\n")
    assert done == ["b.json"]
    assert second["a.json"] == second["b.json"] == first["a.json"]
    untaught = run("plan", items_of([services / "c.json"]), tmp_path / "untaught", Here())
    assert bass == bass_again == parquet.read_table(untaught.results).column("plan").to_pylist()[0]
    held = json.loads((tmp_path / "plans" / "fleet.json").read_text())
    assert held["settings"]["taught"].startswith("sha256:")
    with pytest.raises(CorrectInputError, match="taught sha256:"):
        run("plan", items_of([services]), tmp_path / "plans", Here())


def after_rod(plan: str) -> float:
    """Return what a plan expects at the 8th fret after the rod's turn, mm."""
    step = next(step for step in json.loads(plan)["steps"] if step["adjust"] == "rod")
    return float(next(one["mm"] for one in step["expect"] if one["fret"] == 8))


def of_turn(taught: Path, service: Service, make: str) -> float:
    """Return what a turn is expected to do to the first bending shape, mm."""
    responses = expected_of(taught, service, make).taught.responses
    assert responses is not None
    return float(responses.mean[0])


def main_raises(path: Path) -> None:
    from breakangle.services.history.population import put_back

    put_back(path)
