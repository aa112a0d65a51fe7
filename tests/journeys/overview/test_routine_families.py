"""Every family's strings, winds, sizes and swap: all of it works on a twelve-string, a banjo's short string, a bass."""

import numpy as np
import pytest

from breakangle.model.service import Room
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.registry import adjustment_kinds, target_kind
from breakangle.planning.solve.gate import adjuster_key, lever_key
from breakangle.planning.state.board import board_of
from breakangle.reference.families import families, family
from breakangle.services.climate.air import climate
from breakangle.services.service_files.example import empty_service
from breakangle.services.strings.sizes import chosen, find_gauges
from breakangle.services.strings.string_set import strings
from breakangle.services.strings.winding import wind_set
from breakangle.services.swap.comparison import swap


@pytest.mark.parametrize("kind", families())
def test_strings_and_winds_of_every_family(kind):
    service = empty_service(family(kind))
    found = strings(service)
    assert len(found.strings) == len(family(kind).strings)
    for one in found.strings:
        where = f"{kind} {one.string}"
        assert 20.0 < one.tension_n.value < 240.0, where
        assert 0.5 < one.bend_force_n.value < 40.0, where
        assert 2.0 < one.bend_travel_mm.value < 60.0, where
        assert one.working_share[0] < one.working_share[1] < one.stretching_share[1] < 1.1, where
        assert one.over_pitch_cents > 0.0, where
        assert one.most_pull_mm > 5.0, where
    for winding in wind_set(service):
        assert winding.fits, f"{kind} {winding.string}"
        assert winding.slack_mm >= 0.0


@pytest.mark.parametrize("kind", families())
def test_a_swap_on_every_family_that_nobody_has_read(kind):
    """Nothing is read, so the answer is perhaps, and says why; a lower tuning still pulls less."""
    service = empty_service(family(kind))
    lower = swap(service, reference_hz=428.0)
    assert lower.answer == "perhaps"
    assert "Read it before the strings come off" in lower.sentence
    assert lower.pull_change_n.value < 0.0
    assert all(
        one.value <= 1e-9 for string in lower.strings for one in string.clearance_change_mm if one is not None
    )
    fresh = swap(service, chosen(service, find_gauges(service)))
    for string, frets in zip(fresh.strings, family(kind).strings, strict=True):
        row = string.clearance_change_mm
        assert [one is None for one in row] == [fret < frets.nut_at_fret for fret in range(len(row))]
        known = [one for one in row if one is not None]
        assert np.isfinite([one.value for one in known]).all()
        assert min(one.uncertainty for one in known) > 0.0


@pytest.mark.parametrize("kind", families())
def test_a_swap_cuts_nothing_and_says_what_to_read_once_the_strings_are_on(kind):
    """A forecast is no reading: what takes wood or bone away waits, whatever was read of the strings that come off."""
    service = empty_service(family(kind))
    board = board_of(service.instrument)
    wanted = targets_of(service, board).wanted
    read = [target_kind(one).as_reading(one, target_kind(one).wanted(one) + 0.2, 0.02) for one in wanted]
    whole = service.model_copy(update={"readings": tuple(one for one in read if one.quantity == "gap")})
    for each in (service, whole):
        found = swap(each, reference_hz=428.0)
        levers = [one for kind in adjustment_kinds().values() for one in kind.levers(found.predicted.picture)]
        cuts = {lever_key(one) for one in levers if one.irreversible}
        assert any(one.startswith("nut-slot") for one in cuts)
        assert not cuts & {adjuster_key(step.adjustment) for step in found.plan.steps}
        assert found.cuts_wait.startswith("After the strings are on: read relief, nut clearance"), (
            found.cuts_wait
        )
        assert "nut slot" in found.cuts_wait


@pytest.mark.parametrize("kind", families())
def test_the_air_on_every_family(kind):
    found = climate(empty_service(family(kind)), Room(temperature_c=27.0, humidity_percent=70.0))
    assert found.board_width_mm.value > 0.0
    assert len(found.strings) == len(family(kind).strings)
    assert found.not_known
