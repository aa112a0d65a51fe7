"""Frets levelled, written down and verified; grooves over visits. Check values [derived] by hand unless said."""

import re
from datetime import date

import numpy as np
import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main
from breakangle.cli.render.units import Units
from breakangle.model.errors import CorrectInputError
from breakangle.physics.making.wear import wear_rate
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.levelled import crowns_as_now
from breakangle.planning.kinds.adjustments.fret_level import FretLevel, LevelledFret
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.crown_rocker import CrownRocker
from breakangle.planning.kinds.readings.groove_depth import GrooveDepth
from breakangle.planning.levelling.from_estimate import heights_of
from breakangle.planning.state.board import board_of
from breakangle.reference.messages import words
from breakangle.services.frets.levelling import fret_work
from breakangle.services.frets.wear import LIMIT_MM, wear_words, worn
from breakangle.services.frets.words import checks_of, verdict_of
from breakangle.services.service_files.example import example_service
from breakangle.services.service_files.service import plan_service, read_service
from breakangle.services.service_files.service_written import write_service
from journeys.making.test_frets import PROUD, PROUD_MM, read_by_dial
from web_fixtures.forms import hidden_fields

pytest_plugins = ["web_fixtures.at_hand"]
ASKED = ("light", (2.1, 1.8))


@pytest.fixture(scope="module")
def before():
    return fret_work(read_by_dial(), *ASKED)


@pytest.fixture(scope="module")
def levelled(before):
    service = before.service
    return service.model_copy(update={"work": (*service.work, before.as_done())})


def test_it_says_what_the_metal_buys_in_height(before):
    """Lower by no more than the crown stood proud, and clean at what was asked for."""
    gained = before.bought.lowest_before_mm - before.bought.lowest_after_mm
    assert 0.01 < gained < 2.0 * PROUD_MM
    assert before.bought.lowest_after_mm <= before.asked_mm.mean() + 1e-6


def test_levelled_crowns_stand_lower_by_the_metal_and_keep_what_was_read(before, levelled):
    """Read before, filed, and not read again: every crown where the reading less the metal puts it."""
    there = heights_of(estimate(before.service), before.service.readings, ())
    now = heights_of(estimate(levelled), levelled.readings, levelled.work)
    off = np.round(before.plan.off_mm, 3)
    assert (there.height_mm - now.height_mm)[:, 1:-1] == pytest.approx(off, abs=2e-3)
    read = np.sqrt(np.diag(there.covariance)), np.sqrt(np.diag(now.covariance))
    assert np.median(read[1]) < np.median(read[0]) + 0.002


def test_a_crown_reading_brought_down_by_filed_metal_is_less_sure_than_one_of_the_crown_as_it_is(levelled):
    """A file leaves 0.008 mm of scatter, in quadrature with the gauge's 0.015 or what is stated: 0.017, 0.0100 mm."""
    work = FretLevel(frets=(LevelledFret(fret=6, off_mm=(0.05,) * 6),))
    board = board_of(levelled.instrument)
    usual = Crown(string=1, fret=6, mm=0.06)
    fine = usual.model_copy(update={"uncertainty_mm": 0.006})
    again, beside = usual.model_copy(update={"after": 1}), usual.model_copy(update={"fret": 9})
    found = crowns_as_now([usual, fine, again, beside], board, [work])
    assert [one.mm for one in found[:2]] == pytest.approx([0.01, 0.01])
    assert [one.uncertainty_mm for one in found[:2]] == pytest.approx([0.017, 0.010], abs=1e-9)
    assert found[2:] == (again, beside)


def test_after_the_work_the_frets_are_left_and_few_readings_verify_it(levelled):
    after = fret_work(levelled, *ASKED)
    assert after.levelled
    assert not after.verified_by
    assert after.plan.off_mm.max() < 0.02, "what is filed once is not filed again"
    checks = after.bought.checks
    assert 1 <= len(checks) <= 4
    read = [CrownRocker(string=one.string, fret=one.fret, mm=round(one.mm, 2), after=1) for one in checks]
    verified = fret_work(levelled.model_copy(update={"readings": (*levelled.readings, *read)}), *ASKED)
    assert verified.verified_by == len(checks)
    assert verified.plan.chance.any_touch <= after.plan.chance.any_touch + 0.005
    assert not checks_of(verified)


def test_a_crown_that_was_not_filed_is_found_by_its_check(levelled):
    """The work is written down, the metal is still on: the rocker says so, and it is to be filed again."""
    proud = [
        CrownRocker(string=string, fret=PROUD, mm=PROUD_MM, uncertainty_mm=0.005, after=1)
        for string in range(1, 7)
    ]
    found = fret_work(levelled.model_copy(update={"readings": (*levelled.readings, *proud)}), *ASKED)
    clean = fret_work(levelled, *ASKED)
    assert found.plan.touch_before > clean.plan.touch_before or PROUD in found.plan.frets


def test_a_plan_after_levelling_sees_no_high_fret(levelled):
    at_9 = [
        one for one in plan_service(levelled).findings if PROUD in one.where.frets and one.probability > 0.5
    ]
    off = levelled.work[-1].metal_mm(6, levelled.instrument.frets)[:, PROUD - 1].mean()
    assert all(one.size.value <= PROUD_MM - off + 0.03 for one in at_9 if one.size is not None)


def test_nothing_is_written_down_that_was_not_ordered():
    with pytest.raises(CorrectInputError, match="no fret is to be levelled"):
        fret_work(example_service()).as_done()


def test_a_levelled_fret_needs_a_figure_for_each_string():
    one = example_service()
    few = FretLevel(frets=(LevelledFret(fret=3, off_mm=(0.02, 0.03)),))
    assert [found[0] for found in few.misfits(one.instrument)] == ["frets[0].off_mm"]
    far = FretLevel(frets=(LevelledFret(fret=30, off_mm=(0.02,) * 6),))
    assert [found[0] for found in far.misfits(one.instrument)] == ["frets[0].fret"]


def test_the_verb_writes_the_levelled_service(tmp_path, capsys):
    write_service(tmp_path / "one.json", read_by_dial())
    after = tmp_path / "after.json"
    words_asked = ["--strength", "light", "--action", "2.1/1.8"]
    assert main(["frets", str(tmp_path / "one.json"), *words_asked, "--levelled", str(after)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "the lowest clean action is" in said
    assert "Read the crown of fret" in said
    assert read_service(str(after)).work[-1].adjust == "fret-level"
    main(["frets", str(after), *words_asked])
    assert "not verified yet" in " ".join(capsys.readouterr().out.split())


def test_the_page_writes_it_down_and_asks_for_the_check(bench: TestClient, tmp_path):
    write_service(tmp_path / "one.json", read_by_dial())
    bench.post("/visits/new/import", files={"file": ("one.json", (tmp_path / "one.json").read_bytes())})
    asked = {"strength": "light", "low": "2.1", "high": "1.8"}
    page = bench.get("/visits/1/frets", params=asked).text
    assert "Levelled as the map says" in page
    fields = hidden_fields(page, "/visits/1/frets")
    assert fields is not None
    done = bench.post("/visits/1/frets", data=fields)
    assert done.status_code == 200
    assert "not verified yet" in done.text
    assert "To see that it worked" in done.text
    assert "Levelled as the map says" not in done.text
    assert hidden_fields(done.text, "/visits/1/frets") is None
    assert bench.post("/visits/1/frets", data=asked).status_code == 422, "a form sent without what was shown"


def test_a_groove_that_deepens_evenly_is_due_where_the_line_says():
    """0.02 mm a year from 0.05 mm: 0.09 mm after two years, three more to 0.15 mm."""
    told = wear_rate([0.0, 1.0, 2.0], [0.05, 0.07, 0.09], [0.01, 0.01, 0.01])
    assert told.mm_per_year == pytest.approx(0.02)
    assert told.years_to(0.15)[0] == pytest.approx(3.0)
    assert told.spread == pytest.approx(0.01 / 2.0**0.5)
    assert wear_rate([1.0, 1.0], [0.05, 0.06], [0.01, 0.01]).spread == np.inf, (
        "read at once: it may be anything"
    )


@pytest.mark.parametrize("seed", range(3))
def test_the_interval_of_a_rate_holds_the_truth_nineteen_times_in_twenty(seed):
    """400 grooves read five times with a gauge of 0.015 mm; a normal gauge's own law, three standard errors wide."""
    random, years = np.random.default_rng(seed), np.arange(5.0)
    truth = random.uniform(0.01, 0.06, 400)
    found = [
        wear_rate(years, 0.03 + rate * years + random.normal(0.0, 0.015, 5), np.full(5, 0.015)).interval
        for rate in truth
    ]
    held = np.mean([low <= rate <= high for rate, (low, high) in zip(truth, found, strict=True)])
    assert held == pytest.approx(0.95, abs=3.0 * (0.95 * 0.05 / 400) ** 0.5)


def groove(mm: float, after: int = 0) -> GrooveDepth:
    return GrooveDepth(string=6, fret=2, mm=mm, uncertainty_mm=0.01, after=after)


def test_wear_over_visits_begins_anew_when_frets_are_levelled():
    one = example_service()

    def visit(*read: GrooveDepth, work: tuple = ()):
        return one.model_copy(update={"readings": read, "work": work})

    days = [date(2024, 1, 1), date(2025, 1, 1), date(2026, 1, 1)]
    steady = worn(
        list(zip(days, (visit(groove(0.04)), visit(groove(0.07)), visit(groove(0.10))), strict=True))
    )
    assert [(found.string, found.fret) for found in steady] == [(6, 2)]
    assert steady[0].rate.mm_per_year == pytest.approx(0.03, abs=1e-3)
    said = " ".join(words(found) for found in wear_words(steady))
    assert "0.03 mm a year" in said
    in_inch = Units("in").sentence(said)
    assert re.search(r"0\.001\d? in a year \(0\.\d+ to 0\.\d+ in, 19 times in 20\)", in_inch), in_inch
    assert not re.search(r"\bmm\b", in_inch)
    assert "about 1.7 years" in said, "0.05 mm left at 0.03 mm a year"
    filed = (FretLevel(frets=(LevelledFret(fret=2, off_mm=(0.1,) * 6),)),)
    levelled = visit(groove(0.07), groove(0.0, after=1), work=filed)
    anew = worn(list(zip(days, (visit(groove(0.04)), levelled, visit(groove(0.02))), strict=True)))
    assert anew[0].rate.mm_per_year == pytest.approx(0.02, abs=1e-3)
    assert wear_words(worn([(days[0], visit(groove(0.04)))])) == ()
    deep = worn(list(zip(days, (visit(groove(0.1)), visit(groove(0.14)), visit(groove(0.2))), strict=True)))
    assert f"{LIMIT_MM:.2f} mm" in words(wear_words(deep)[0])
    assert verdict_of(fret_work(one)).severity == "care"
