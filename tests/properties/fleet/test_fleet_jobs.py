"""Jobs of a line's end and of designs: a certificate for what is right and nothing else; budgets by simulation."""

import re
from pathlib import Path

import numpy as np
import pyarrow.parquet as parquet
import pytest

from bench._instruments import arrival
from bench._maker import Bench
from breakangle.cli.main import main
from breakangle.cli.verbs.fleet.fleet import JOBS
from breakangle.documents.renderers.page import Page
from breakangle.fleet.certificates import certificates_into
from breakangle.fleet.items import items_of
from breakangle.fleet.jobs import certify, job_names
from breakangle.fleet.run import run
from breakangle.library.files import write_service
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.state.board import board_of
from breakangle.services.design.simulated import simulated
from breakangle.services.design.wishes import Wishes, designed_service
from fleet_fixtures.here import Here

KIND, DAY = "electric-guitar", "2026-11-30"


def left_right(seed: int) -> Service:
    """Return an electric of `bench/_instruments.py`, set to what is wanted and read in full."""
    one = arrival(KIND, seed)
    wanted = targets_of(Service(instrument=one.instrument), board_of(one.instrument)).wanted
    mm = {(trade_name(each), each.string): each.mm for each in wanted if isinstance(each, GapTarget)}
    strings = range(1, one.count + 1)
    one.crown_mm *= 0.2
    one.set_relief(mm["relief", 1])
    one.set_ends(*(np.array([mm[name, n] for n in strings]) for name in ("nut clearance", "action")))
    one.set_intonation(np.zeros(one.count))
    bench = Bench(one, np.random.default_rng(seed))
    bench.do(Tune())
    return Service(instrument=one.instrument, readings=tuple(bench.full_set()))


def test_the_verb_names_every_job():
    assert sorted(JOBS) == job_names()


def test_what_is_right_gets_a_certificate_and_what_is_not_is_told_why(tmp_path: Path):
    services, right = tmp_path / "services", left_right(0)
    services.mkdir()
    write_service(services / "serial 7.json", right)
    high = [
        one.model_copy(update={"mm": round(one.mm + 0.5, 3)}) if getattr(one, "fret", 0) == 12 and hasattr(one, "mm")
        else one
        for one in right.readings
    ]  # fmt: skip
    write_service(services / "serial 8.json", right.model_copy(update={"readings": tuple(high)}))
    write_service(services / "serial 9.json", right.model_copy(update={"readings": right.readings[:4]}))
    settings = {"dated": DAY, "maker": "The maker"}
    outcome = run("certify", items_of([services]), tmp_path / "out", Here(), settings=settings)
    one, two, three = parquet.read_table(outcome.results).to_pylist()
    assert (outcome.failed, one["passes"], two["passes"], three["passes"]) == (0, True, False, False)
    assert one["pdf"].startswith(b"%PDF")
    assert (two["verdict"], two["pdf"], three["pdf"]) == ("adjust", None, None)
    assert any("action, string 6" in each and "wanted" in each for each in two["outside"])
    assert any("not read" in each for each in three["outside"])
    given = certificates_into(outcome.results, tmp_path / "certificates")
    assert (given.passed, given.kept_back) == (1, 2)
    assert [path.name for path in given.folder.iterdir()] == ["serial 7.pdf"]
    again = run("certify", items_of([services]), tmp_path / "again", Here(), settings=settings)
    assert again.results.read_bytes() == outcome.results.read_bytes()


def test_certificates_and_what_keeps_others_from_one_are_in_the_unit_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Derived: an inch is 25.4 mm (Weights and Measures Act 1985, schedule 1: a yard of 0.9144 m has 36)."""
    right = left_right(0)
    write_service(tmp_path / "serial 9.json", right.model_copy(update={"readings": right.readings[:4]}))
    write_service(tmp_path / "serial 7.json", right)
    pages: list[Page] = []
    monkeypatch.setattr(certify, "_pdf", lambda page, *_: pages.append(page) or b"%PDF")
    kept_back = {}
    for units in ("mm", "in"):
        settings = {"dated": DAY} | ({"units": units} if units == "in" else {})
        for path in sorted(tmp_path.glob("*.json")):
            [row] = certify.rows(items_of([path])[0], settings)
            kept_back[units] = row["outside"] + row["steps"]
    mm, inches = (certificate_lengths(page) for page in pages)
    assert len(mm["mm"]) == len(inches["in"]) > 20
    assert not mm["in"]
    assert not inches["mm"]
    assert inches["in"] == pytest.approx([one / 25.4 for one in mm["mm"]], abs=0.0006)
    assert "25.51 in" in str(pages[1])
    assert "mm" not in " ".join(kept_back["in"])


def certificate_lengths(page: Page) -> dict[str, list[float]]:
    """Return the lengths in a certificate's table of figures, by unit."""
    cells = " ".join(cell for row in page.blocks[3].rows for cell in row).replace("\N{NO-BREAK SPACE}", " ")
    found = {unit: re.findall(rf"(\d+\.\d+) {unit}(?: ± (\d+\.\d+))?", cells) for unit in ("mm", "in")}
    return {unit: [float(one) for pair in pairs for one in pair if one] for unit, pairs in found.items()}


def test_the_verb_asks_for_certificates_in_inches_and_tables_stay_in_mm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    asked: list[dict[str, object]] = []

    def instead(*_: object, settings: dict[str, object], **__: object) -> None:
        asked.append(settings)
        raise CorrectInputError("enough")

    monkeypatch.setattr("breakangle.fleet.run.run", instead)
    write_service(tmp_path / "a.json", left_right(0))
    common = [str(tmp_path / "a.json"), "--out", str(tmp_path / "out")]
    day = ["--dated", DAY]
    assert main(["fleet", "certify", *common, *day, "--units", "in"]) == 2
    assert main(["fleet", "certify", *common, *day]) == 2
    monkeypatch.setenv("BREAKANGLE_UNITS", "in")
    assert main(["fleet", "certify", *common, *day]) == 2
    assert main(["fleet", "figures", *common]) == 2
    assert [one.get("units") for one in asked] == ["in", None, "in", None]


def test_a_certificate_without_a_day_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    write_service(tmp_path / "a.json", left_right(0))
    asked = ["fleet", "certify", str(tmp_path / "a.json"), "--out", str(tmp_path / "out")]
    for day in ([], ["--dated", "30.11."]):
        assert main([*asked, *day]) == 2
        assert "such as --dated 2026-11-30" in capsys.readouterr().err
    outcome = run("certify", items_of([tmp_path]), tmp_path / "out", Here(), settings={"dated": "30.11."})
    assert "30.11." in parquet.read_table(outcome.failures).to_pylist()[0]["sentence"]


def test_certificates_stay_in_their_folder_whatever_items_are_called(tmp_path: Path):
    import pyarrow as pa

    names = ["../../away.json", "a/b.json", "a_b.json", ".."]
    rows = {"item": names, "sha256": [f"{n}" * 64 for n in range(4)], "pdf": [b"%PDF"] * 4}
    parquet.write_table(pa.table(rows), tmp_path / "results.parquet")
    given = certificates_into(tmp_path / "results.parquet", tmp_path / "in" / "certificates")
    found = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.pdf")}
    assert found == {
        f"in/certificates/{name}"
        for name in ("_.._away.pdf", "a_b.pdf", "a_b 22222222.pdf", "certificate.pdf")
    }
    assert given.passed == 4


def test_a_budget_by_simulation_is_the_one_by_slopes_within_its_own_error(tmp_path: Path):
    """Derived: the action is all but linear in the dimensions, so both agree but for the error of 10,000 draws: a
    standard deviation's relative error is 1 / sqrt(2 n), 0.7 %; four of them."""
    for kind in (KIND, "bass-four"):
        write_service(tmp_path / f"{kind}.json", designed_service(Wishes(kind, "To be built")))
    (tmp_path / "none.json").write_text("{}")
    outcome = run("simulate", items_of([tmp_path]), tmp_path / "out", Here())
    rows = parquet.read_table(outcome.results).to_pylist()
    assert (outcome.failed, len(rows)) == (1, 16)
    for row in rows:
        assert row["drawn_share"] == pytest.approx(
            row["share"], abs=4 * row["share"] * 2**0.5 / 10_000**0.5 + 1e-3
        )
        assert row["drawn_spread_mm"] == pytest.approx(row["action_spread_mm"], rel=4 / 20_000**0.5)
        assert row["adjusted"] is None
    assert sum(row["share"] for row in rows[:8]) == pytest.approx(1.0, abs=1e-5)


def test_saddles_that_reach_farther_bring_more_builds_inside():
    design = designed_service(Wishes(KIND, "To be built"))

    def inside(travel: tuple[float, float]) -> float:
        bridge = design.instrument.bridge.model_copy(update={"height_travel_mm": travel})
        instrument = design.instrument.model_copy(update={"bridge": bridge})
        found = simulated(design.model_copy(update={"instrument": instrument}), builds=2000)
        assert found.adjusted is not None
        assert found.adjusted >= found.as_built
        return found.adjusted

    assert inside((0.0, 0.0)) == simulated(design, builds=2000).as_built
    assert inside((-0.2, 0.2)) < inside((-0.5, 0.5)) < inside((-3.0, 3.0)) == 1.0


def test_the_same_seed_draws_the_same_builds_and_another_does_not():
    design = designed_service(Wishes(KIND, "To be built"))
    assert simulated(design, 500, 1) == simulated(design, 500, 1)
    assert simulated(design, 500, 1) != simulated(design, 500, 2)


def test_job_names_that_are_not_there_list_those_that_are():
    with pytest.raises(CorrectInputError, match="certify"):
        run("certified", [], Path(), Here())
