"""Relief and action in damp air: laws of two glued layers, and what the prior of a neck's own history is."""

from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from breakangle.model.service import Room
from breakangle.physics.neck.layered_neck import layered_curvature_per_mm, relief_change_mm
from breakangle.planning.state.effects.season import season_prior
from breakangle.reference.families import families, family
from breakangle.services.climate.air import climate
from breakangle.services.history.figures import Ends, SeasonFigures
from breakangle.services.history.seasons import Drift, drift
from breakangle.services.service_files.example import empty_service, usual_instrument

DRY, DAMP = Room(temperature_c=20.0, humidity_percent=35.0), Room(temperature_c=20.0, humidity_percent=60.0)
thicknesses_mm = st.floats(2.0, 30.0)
moduli = st.floats(0.2, 5.0)


def bent(board_mm, neck_mm, modulus, board, neck):
    return float(
        layered_curvature_per_mm(
            board_mm=board_mm,
            neck_mm=neck_mm,
            board_over_neck_modulus_ratio=modulus,
            board_growth_ratio=board,
            neck_growth_ratio=neck,
        )
    )


@given(thicknesses_mm, thicknesses_mm, moduli, st.floats(-1e-3, 1e-3))
def test_layers_that_grow_alike_stay_straight_and_turned_over_they_bend_the_other_way(one, other, n, grown):
    assert bent(one, other, n, grown, grown) == 0.0
    there, back = bent(one, other, n, grown, 0.0), bent(other, one, 1.0 / n, 0.0, grown)
    assert there == pytest.approx(-back, rel=1e-9, abs=1e-15)


@given(thicknesses_mm, thicknesses_mm, moduli)
def test_layers_balance_forces_and_moments(board_mm, neck_mm, n):
    """Curvature from the elastic balance of two bonded strips, solved as a linear system. [derived]"""
    grown, width = 1e-4, 1.0
    areas = np.array([n * board_mm, neck_mm]) * width
    inertias = np.array([n * board_mm**3, neck_mm**3]) * width / 12.0
    arm = (board_mm + neck_mm) / 2.0
    # Unknown: force P in the neck (board: -P), curvature k. Strains agree at the glue.
    system = np.array([[arm, -inertias.sum()], [1.0 / areas[0] + 1.0 / areas[1], arm]])
    _, curvature = np.linalg.solve(system, [0.0, grown])
    assert bent(board_mm, neck_mm, n, grown, 0.0) == pytest.approx(curvature, rel=1e-9)


def test_a_board_that_swells_more_takes_relief_away():
    curvature = bent(6.0, 20.0, 1.0, 1e-4, 0.0)
    assert float(relief_change_mm(curvature_per_mm=curvature, span_mm=450.0)) < 0.0


@pytest.mark.parametrize("kind", families())
def test_every_family_has_a_prior_that_can_be_true(kind):
    """A neck that moves by more than .5 mm between 40 and 70 percent of humidity is broken; common practice."""
    prior = season_prior(usual_instrument(family(kind), "one"))
    for known in (prior.relief, prior.action):
        assert 0.0 < known.uncertainty < 0.017
        assert abs(known.value) <= 2.0 * known.uncertainty
    assert (prior.action.value > 0.0) is family(kind).bridge.on_top
    assert not (family(kind).bridge.on_top and family(kind).bridge.on_head)


def test_damp_air_raises_an_acoustics_action_and_dry_air_lowers_it():
    service = empty_service(family("steel-acoustic-guitar"))
    damp, dry = climate(service, DAMP, DRY), climate(service, DRY, DAMP)
    assert damp.action_mm.value == pytest.approx(-dry.action_mm.value)
    assert 0.1 < damp.action_mm.value < 0.3
    assert any("top rises" in one for one in damp.sentences)
    assert any("top sinks" in one for one in dry.sentences)
    electric = climate(empty_service(family("electric-guitar")), DAMP, DRY)
    assert electric.action_mm.value == 0.0
    assert not any("top " in one for one in electric.sentences)
    banjo = climate(empty_service(family("banjo-five")), DAMP, DRY)
    assert any("head is not known" in one for one in banjo.not_known)


def test_own_visits_outweigh_the_prior():
    spot, at = (6, 12, (1,)), datetime(2026, 1, 10, tzinfo=UTC)
    left = [2.0, 2.0, 2.0, 2.0, 2.0]
    air = [35.0, 60.0, 35.0, 60.0, 35.0]
    # This top falls in damp air, against the prior: .01 mm for each percent.
    found = [2.0, *(2.0 - 0.01 * (b - a) for a, b in pairwise(air))]
    figures = [
        SeasonFigures(at, percent, action=Ends({spot: came}, {spot: went}))
        for percent, came, went in zip(air, found, left, strict=True)
    ]
    prior = season_prior(usual_instrument(family("steel-acoustic-guitar"), "one")).action
    known = drift(figures, action=True, prior=prior)
    assert known.pairs == 4
    assert known.mm_per_percent == pytest.approx(-0.01, abs=0.0015)
    assert known.uncertainty < prior.uncertainty / 5.0
    assert drift((), prior=prior) == Drift(pytest.approx(prior.value), pytest.approx(prior.uncertainty), 0)
    told = climate(empty_service(family("steel-acoustic-guitar")), DAMP, DRY, action_drift=known)
    assert any("as it has done here before" in one and "falls" in one for one in told.sentences)
