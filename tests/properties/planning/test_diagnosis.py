"""Patterns over many readings are named with their size, and single slips and sound instruments make none."""

import numpy as np
import pytest

from bench.diagnosis import CASES, SIZES, counted, false_findings, slips_named, two_together
from bench.planning import _service
from breakangle.model.service import Service
from breakangle.planning.estimate.diagnosis.choice import Told, chosen
from breakangle.planning.estimate.diagnosis.find import findings, readings_that_tell
from breakangle.planning.estimate.diagnosis.registry import all_patterns
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.state.board import board_of
from breakangle.reference.messages import catalogue, words
from planning_cases import ordinary, role, service_reading


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.told)
def test_a_pattern_twice_its_tolerance_is_named_and_its_size_held(case):
    """Full counts: docs/diagnosis.md, from `python -m bench.diagnosis`; here a few instruments of another hand."""
    found = counted(case, SIZES["middling"], 6)
    assert found.named >= 5
    assert found.held >= found.named - 1


def test_sound_instruments_show_nothing():
    """At most 3 in 100, the share that `python -m bench.diagnosis` counts over 600, with slips and without."""
    assert false_findings(200)["any"] <= 6


def test_two_patterns_on_one_instrument_are_both_named():
    named, tried = two_together(6)
    assert named >= tried - 1


def test_a_crown_read_by_gauge_stays_within_its_gauges_interval_and_leaves_the_others_alone():
    service = service_reading(ordinary("electric-guitar"), lambda target: 0.0)
    read = [Crown(string=3, fret=2, mm=-0.13)]
    before = estimate(service)
    after = estimate(service.model_copy(update={"readings": (*service.readings, *read)}))
    crown = after.picture.layout["crown"]
    # 0.015 mm: the gauge's own standard deviation; 1.96 of them hold 19 in 20.
    assert abs(after.belief.mean[crown[1]] + 0.13) < 1.96 * 0.015
    others = np.delete(crown, 1)
    assert np.max(np.abs(after.belief.mean[others] - before.belief.mean[others])) < 0.005
    assert np.sqrt(after.belief.covariance[crown[1], crown[1]]) == pytest.approx(0.0153, abs=0.001)


def test_sharp_first_frets_beside_high_clearances_are_one_high_nut_and_no_doubtful_readings():
    """Four first-fret pitches of +17 cents, every clearance 0.35 mm: the truth's own example."""
    guitar = ordinary("steel-acoustic-guitar")
    service = service_reading(guitar, lambda target: 0.0)
    at_nut = [Gap(string=one, fret=1, held=(3,), mm=0.35) for one in range(1, 7)]
    sharp = [Pitch(string=one, fret=1, cents=17.0, uncertainty_cents=1.5) for one in (1, 2, 3, 4)]
    kept = [one for one in service.readings if not (isinstance(one, Gap) and one.held == (3,))]
    service = service.model_copy(update={"readings": (*kept, *at_nut, *sharp)})
    now = estimate(service)
    assert not [one for one in now.surprises if one.contradicted]
    found = {(one.finding, one.where.part): one for one in findings(service, now)}
    nut = found["high-nut", "nut"]
    assert nut.holds_cuts and nut.probability > 0.9
    assert nut.size is not None and nut.size.low <= 0.35 - 0.05 <= nut.size.high + 0.02


def test_one_figure_written_down_wrong_makes_no_pattern_and_is_named():
    """A decimal slipped: an action or a relief so far off is no instrument's; a clearance may be a slot's own."""
    service = service_reading(ordinary("electric-guitar"), lambda target: 0.0)
    for index, right in enumerate(service.readings):
        if isinstance(right, Gap) and right.mm > 0.0:
            slip = right.model_copy(update={"mm": right.mm * 10.0})
            read = tuple(slip if place == index else one for place, one in enumerate(service.readings))
            wrong = service.model_copy(update={"readings": read})
            now = estimate(wrong)
            assert [one.reading for one in now.surprises] == [slip], slip
            assert now.surprises[0].contradicted or right.fret == 1, slip
            assert findings(wrong, now) == (), slip


def test_figures_written_down_grossly_wrong_are_doubted_and_hardly_any_honest_one():
    count = slips_named(40)
    assert count["gross"] >= 5
    assert count["gross named"] >= 0.9 * count["gross"]
    assert count["honest doubted"] <= 0.003 * count["honest"]


def test_where_nothing_is_read_nothing_is_found():
    service = Service(instrument=ordinary("bass-four"))
    assert findings(service, estimate(service)) == ()
    assert readings_that_tell(service, estimate(service)) == ()


def test_every_finding_says_what_it_rests_on_and_in_words():
    service = service_reading(
        ordinary("steel-acoustic-guitar"), lambda t: 12.0 if role(t) == "action" else 0.0
    )
    found = findings(service, estimate(service))
    assert {one.finding for one in found} == {"neck-reset"}
    assert found[0].holds_cuts
    assert {one.fret for one in found[0].rests_on} >= {12}
    assert "Cut nothing" in words(found[0].message)


def test_every_pattern_has_its_words():
    for name in all_patterns():
        assert any(key.startswith(f"diagnosis.{name.split('-')[-1]}") or name.replace("-", "_") in key
                   for key in catalogue()), name  # fmt: skip


def test_causes_are_weighed_as_the_marginal_likelihood_says():
    """Against the density of the readings themselves under every set of causes, worked out whole. [derived]"""
    rng = np.random.default_rng(5)
    shape, spread = rng.normal(size=(7, 4)), np.array([0.5, 1.0, 2.0, 0.3])
    noise = np.diag(rng.uniform(0.5, 1.5, 7))
    read = shape[:, 1] * 2.5 + rng.multivariate_normal(np.zeros(7), noise)
    odds = np.log(np.array([0.1, 0.2, 0.05, 0.3]))
    solved = np.linalg.solve(noise, np.column_stack([read, shape]))
    told = Told(shape.T @ solved[:, 0], shape.T @ solved[:, 1:], spread, odds, np.zeros(4))

    def log_density(causes):  # type: ignore[no-untyped-def]
        own = shape[:, causes] * spread[causes]
        covariance = noise + own @ own.T
        return float(
            odds[causes].sum()
            - 0.5 * np.linalg.slogdet(covariance)[1]
            - 0.5 * read @ np.linalg.solve(covariance, read)
        )

    for beside in ([], [1], [1, 3]):
        gains = told.gains(beside)
        for cause in set(range(4)) - set(beside):
            assert gains[cause] == pytest.approx(
                log_density([*beside, cause]) - log_density(beside), abs=1e-9
            )
    assert chosen(told).chosen == (1,)


def test_findings_cost_little_beside_the_estimate():
    """Two milliseconds of an idle bench; counted against the estimate, which is as slow when the machine is busy."""
    import time

    service = _service("steel-acoustic-guitar", 3)
    now = estimate(service)
    findings(service, now)
    spent = {"estimate": 1e9, "findings": 1e9}
    for _ in range(15):
        start = time.perf_counter()
        estimate(service)
        middle = time.perf_counter()
        findings(service, now)
        spent["estimate"] = min(spent["estimate"], middle - start)
        spent["findings"] = min(spent["findings"], time.perf_counter() - middle)
    assert spent["findings"] < spent["estimate"]


def test_a_wide_prior_is_believed_where_all_readings_agree():
    """Every action five tolerances high is an instrument unlike its kind, and no reading of it is doubted."""
    for kind in ("electric-guitar", "nylon-acoustic-guitar", "bass-four"):
        service = service_reading(ordinary(kind), lambda t: 5.0 if role(t) == "action" else 0.0)
        assert house_targets(board_of(service.instrument), "medium")
        assert not [one for one in estimate(service).surprises if one.contradicted]
