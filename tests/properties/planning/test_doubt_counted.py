"""A figure that stands on a reading that may be a slip is stated as wide as both make it."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from bench._instruments import arrival
from bench._maker import Bench
from breakangle.model.service import Service
from breakangle.planning.estimate.diagnosis import evidence
from breakangle.planning.estimate.diagnosis.choice import Told
from breakangle.planning.estimate.diagnosis.doubt import told_share
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.registry import reading_kind
from contact_setups import service


def _read() -> Service:
    bench = Bench(arrival("electric-guitar", 5), np.random.default_rng(5))
    bench.do(Tune())
    return Service(instrument=bench.one.instrument, readings=tuple(bench.full_set()))


def _stated(service: Service, of: Gap) -> tuple[float, float, float]:
    """Return what `of` is said to be, its spread, and how likely its reading is to be a slip."""
    now = estimate(service).stated
    told = reading_kind(of).predict([of], now.picture)
    assert now.evidence is not None
    at = next(i for i, one in enumerate(now.evidence.readings) if _same(one, of))
    likely = now.evidence.choice.probability[len(now.evidence.causes.all) + at]
    return float(told.values[0]), float(now.belief.spread(told.rows)[0]), float(likely)


def _same(one: object, other: Gap) -> bool:
    return isinstance(one, Gap) and (one.string, one.fret, one.held) == (other.string, other.fret, other.held)


def test_a_reading_that_may_be_a_slip_widens_its_figure_and_lies_between_both():
    service = _read()
    action = next(one for one in service.readings if isinstance(one, Gap) and one.fret == 12)
    rest = tuple(one for one in service.readings if one is not action)
    alone, _, _ = _stated(service, action)
    honest_spread = _stated(service, action)[1]
    seen = []
    for off in np.arange(0.1, 1.3, 0.1):
        typed = action.model_copy(update={"mm": round(action.mm + float(off), 2)})
        said, spread, likely = _stated(service.model_copy(update={"readings": (*rest, typed)}), typed)
        seen.append((likely, spread, said))
        assert said < alone + off + 0.1
    doubtful = [spread for likely, spread, _ in seen if 0.05 < likely < 0.95]
    assert doubtful, seen
    assert min(doubtful) > honest_spread, seen


def test_an_interval_reaches_what_is_likelier_than_one_in_forty():
    """Exact: 1.96 spreads reach a shift d where the variance is d²/1.96²; what is less likely may stay outside."""
    assert 1.96 * np.sqrt(told_share(0.03)) == pytest.approx(1.0)
    assert told_share(0.02) == 0.02
    assert told_share(0.5) == 0.5


def test_relief_that_differs_widely_between_the_edges_is_not_simply_a_twist():
    """A decimal slipped in one of two reliefs, .30 written .03: a slip is at least as likely as one figure in ten."""
    asked = service(relief_mm=0.3)
    few = [
        one
        for one in asked.readings
        if isinstance(one, Gap) and not (_bowed(one) and one.string in (2, 3, 4, 5))
    ]
    slipped = [one.model_copy(update={"mm": 0.03}) if _bowed(one) and one.string == 6 else one for one in few]
    likely = []
    for readings in (few, slipped):
        coarse = [one.model_copy(update={"uncertainty_mm": 0.03}) for one in readings]
        now = estimate(asked.model_copy(update={"readings": tuple(coarse)}))
        assert now.evidence is not None
        pairs = zip(now.evidence.readings, now.evidence.slip_chances, strict=True)
        likely.append(sum(float(chance) for one, chance in pairs if isinstance(one, Gap) and _bowed(one)))
    assert likely[0] < 0.05
    assert likely[1] > 0.1


@pytest.mark.parametrize(("edge_mm", "likelier"), [(0.32, True), (0.03, False)])
def test_a_relief_ten_times_below_the_other_edges_is_likelier_a_slip_for_it(
    monkeypatch: pytest.MonkeyPatch, edge_mm: float, likelier: bool
):
    """Beside an edge of .32 one of .03 is a slipped decimal's; where both edges say .03 there is nothing to believe."""
    asked, found = service(relief_mm=0.3), []
    read = {1: edge_mm, 6: 0.03}
    readings = tuple(
        one.model_copy(update={"mm": read[one.string], "uncertainty_mm": 0.03}) if _bowed(one) else one
        for one in asked.readings
        if isinstance(one, Gap) and not (_bowed(one) and one.string not in read)
    )
    for share in (0.0, 0.25):
        monkeypatch.setattr(evidence, "DECIMAL_SHARE", share)
        now = estimate(asked.model_copy(update={"readings": readings})).evidence
        assert now is not None
        pairs = zip(now.readings, now.slip_chances, strict=True)
        found.append(sum(float(chance) for one, chance in pairs if isinstance(one, Gap) and _bowed(one)))
    assert (found[1] > found[0] + 0.02) == likelier
    assert likelier or found[1] < 0.05


def test_a_set_of_slips_weighs_the_same_in_whatever_order_it_is_put_together():
    """Each of two that alone are likelier by e and by e²; both, and a third that has no part in it. [derived]"""
    rng = np.random.default_rng(7)
    shape = rng.normal(size=(9, 3))
    told = Told(
        shape.T @ rng.normal(size=9), shape.T @ shape, np.ones(3), np.full(3, -2.0), np.zeros(3),
        alone=np.array([1.0, 2.0, 0.0]), among=np.array([True, True, False]),
    )  # fmt: skip

    def grown(order: tuple[int, ...]) -> float:
        return sum(float(told.gains(order[:place])[cause]) for place, cause in enumerate(order))

    for size in (2, 3):
        sums = [grown(order) for order in permutations(range(size))]
        assert sums == pytest.approx([sums[0]] * len(sums), abs=1e-9)
    plain = replace(told, alone=0.0)
    assert told.gains([])[1] - plain.gains([])[1] == pytest.approx(2.0)
    assert told.gains([0])[1] - plain.gains([0])[1] == pytest.approx(-1.0)


def _bowed(one: Gap) -> bool:
    return len(one.held) == 2
