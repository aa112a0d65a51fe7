"""A figure that stands on a reading that may be a slip is stated as wide as both make it."""

import numpy as np

from bench._instruments import arrival
from bench._maker import Bench
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.registry import reading_kind


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
