"""Every family's own medium targets are clean at medium play: that is what the heights are calibrated to.

Common practice, no source: the heights of `strength.toml` are chosen so that this holds.
"""

import pytest

from breakangle.desk.buzz import buzz, lowest_setup
from breakangle.planning.no_buzz import conflicts
from breakangle.tables.families import families, family
from breakangle.tables.rows import read_table
from breakangle.tables.strength import playing
from contact_setups import service


@pytest.mark.parametrize("kind", families())
def test_house_medium_is_clean_at_medium(kind: str) -> None:
    wanted = family(kind).target("medium")
    found = buzz(
        service(
            kind=kind,
            low_mm=wanted.action_low_mm,
            high_mm=wanted.action_high_mm,
            relief_mm=wanted.relief_mm,
            nut_mm=0.5 * (wanted.nut_low_mm + wanted.nut_high_mm),
        )
    ).map
    assert len(found.at("medium")) > 40
    assert [(one.string, one.stop, one.crown) for one in found.touching("medium")] == []


@pytest.mark.parametrize("kind", families())
def test_every_family_has_a_lowest_set_up(kind: str) -> None:
    """With a rod or without, one saddle or many: nothing touches in it."""
    wanted = service(kind=kind, low_mm=2.0, high_mm=1.8, relief_mm=0.1)
    found = lowest_setup(wanted, "medium", 0.02)
    assert (found.trade == ()) == (wanted.instrument.rod.kind == "none")
    assert len(found.lowest.limits) >= len(wanted.instrument.strings)
    assert conflicts(found.lowest.picture, playing(kind), "medium") == ()


@pytest.mark.parametrize("kind", families())
def test_every_family_has_its_heights(kind: str) -> None:
    assert kind in read_table("strength")["strengths"]
    found = playing(kind).strengths
    assert found.light_mm < found.medium_mm < found.heavy_mm
    assert found.source
    assert found.pluck_from_saddle_mm < family(kind).scale_mm / 3.0
