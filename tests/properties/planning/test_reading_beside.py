"""What the other readings lead one to expect of one: the short way agrees with leaving it out and solving anew."""

import pytest

from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.registry import reading_kind
from breakangle.services.service_files.example import example_service
from breakangle.services.visits.reading_places import expected, expected_beside, place_keyed, place_of

SERVICE = example_service()


@pytest.mark.parametrize("index", range(0, len(SERVICE.readings), 3))
def test_taking_a_reading_out_of_the_belief_is_as_never_having_taken_it(index: int):
    reading = SERVICE.readings[index]
    rest = tuple(one for place, one in enumerate(SERVICE.readings) if place != index)
    without = estimate(SERVICE.model_copy(update={"readings": rest}))
    kind = reading_kind(reading)
    told = kind.predict([reading], without.picture)
    [short] = expected_beside([reading], estimate(SERVICE))
    spread = float((without.belief.spread(told.rows)[0] ** 2 + kind.spread(reading) ** 2) ** 0.5)
    # The heights are linear in the state, pitches nearly: a twentieth of a spread is far below what is flagged.
    assert short.value == pytest.approx(float(told.values[0]), abs=0.05 * spread)
    assert short.spread == pytest.approx(spread, rel=0.05)


def test_what_a_place_should_read_includes_the_gauge_s_own_spread():
    now = estimate(SERVICE)
    place = place_of(SERVICE.readings[0])
    told = expected([place], now)[place]
    assert told.spread >= place.kind.gauge_spread


@pytest.mark.parametrize("index", range(len(SERVICE.readings)))
def test_a_place_is_read_back_from_its_key(index: int):
    place = place_of(SERVICE.readings[index])
    assert place_keyed(place.key) == place
