"""Today's air on this neck: from tables, and from what this neck did between visits; what is not known is said."""

import numpy as np
import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Room
from breakangle.reference.families import family
from breakangle.services.climate.air import climate, climate_of_visit
from breakangle.services.climate.visit_air import AirTyped, climate_today
from breakangle.services.example_workshop.simulated_instrument import MadeUpInstrument
from breakangle.services.history.seasons import Drift
from breakangle.services.service_files.example import empty_service, example_service, usual_instrument
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.visits import add_instrument, open_visit
from shop_fixtures.people import later

pytest_plugins = ["shop_fixtures.shops"]
DRY, DAMP = Room(temperature_c=20.0, humidity_percent=30.0), Room(temperature_c=20.0, humidity_percent=60.0)


def test_a_drier_room_narrows_the_board_by_the_printed_tables():
    """Wood Handbook, FPL-GTR-190, tables 4-2 and 13-5: sugar maple, 70 F, 45 to 30 percent: 8.5 to 6.2 percent."""
    seventy = (70.0 - 32.0) / 1.8
    found = climate(
        example_service(),
        Room(temperature_c=seventy, humidity_percent=30.0),
        Room(temperature_c=seventy, humidity_percent=45.0),
        "sugar-maple",
        quarter_sawn=False,
    )
    assert found.moisture_before_percent == pytest.approx(8.5, abs=0.055)
    assert found.moisture_after_percent == pytest.approx(6.2, abs=0.055)
    share = 1.0 - 2.0 ** (-22.0 / 12.0)
    wide = 35.0 + 17.0 * share + 7.0
    assert found.board_width_mm.value == pytest.approx(-2.3 * 0.00353 * wide, rel=0.03)
    assert any("fret ends stand out" in one for one in found.sentences)


def test_warmth_flattens_by_the_published_slope():
    """-(C/2)(EA/T)(string less neck) per kelvin: music wire 11.5e-6, wood along the grain 3.8e-6 (Wood Handbook)."""
    found = climate(
        example_service(),
        Room(temperature_c=25.0, humidity_percent=45.0),
        Room(temperature_c=20.0, humidity_percent=45.0),
    )
    first = found.strings[0]
    ratio = 10134.0 / 72.41
    by_hand = -1200.0 / np.log(2.0) / 2.0 * ratio * (11.5e-6 - 3.8e-6) * 5.0
    assert first.warmth_cents.value == pytest.approx(by_hand, rel=0.01)
    assert first.warmth_cents.uncertainty < 0.2 * abs(by_hand)


def test_the_same_air_changes_nothing():
    found = climate(example_service(), DAMP, DAMP)
    assert found.board_width_mm.value == 0.0
    assert found.relief_mm.uncertainty == 0.0
    assert all(one.warmth_cents.value == 0.0 == one.damp_cents.value for one in found.strings)


def test_a_neck_without_history_says_that_its_way_is_open():
    found = climate(example_service(), DRY, DAMP)
    assert found.own_pairs == 0
    assert found.relief_mm.value == 0.0
    assert found.relief_mm.uncertainty > 0.2
    assert any("either way" in one for one in found.sentences)
    assert any("no two visits" in one for one in found.not_known)
    known = climate(example_service(), DRY, DAMP, relief_drift=Drift(0.006, 0.001, 4))
    assert known.relief_mm.value == pytest.approx(-0.18)
    assert known.relief_mm.uncertainty < found.relief_mm.uncertainty / 3.0
    assert not any("no two visits" in one for one in known.not_known)


def test_a_necks_own_visits_tell_where_it_goes(shop):
    """Twelve made-up necks read through the seasons: where each truly goes lies within what is then told."""
    inside, sharper = [], []
    for seed in range(6):
        one = MadeUpInstrument(
            usual_instrument(family("electric-guitar"), f"Neck {seed}"), np.random.default_rng(seed)
        )
        record = add_instrument(shop, later(), one.instrument)
        humidity = 45.0
        for index, now in enumerate((45.0, 62.0, 38.0, 58.0)):
            one.weather(now - humidity)
            humidity = now
            visit = open_visit(shop, later(days=90.0 * index), record, "", 20.0, now)
            for reading in one.relief_readings():
                take_reading(shop, visit.id, reading, later(days=90.0 * index))
        found = climate_of_visit(shop, visit.id, Room(temperature_c=20.0, humidity_percent=35.0))
        true = -23.0 * one.dry_mm_per_percent * relief_share(one)
        inside.append(found.relief_mm.low <= true <= found.relief_mm.high)
        sharper.append(found.relief_mm.uncertainty)
        assert found.own_pairs == 3
    assert np.mean(inside) >= 0.8
    assert max(sharper) < 0.15


def relief_share(one: MadeUpInstrument) -> float:
    """Return how much relief grows for each mm of the neck's first amplitude, by reading it without noise."""
    from breakangle.planning.kinds.readings.gap import Gap, predict
    from breakangle.planning.state.board import board_of
    from breakangle.planning.state.picture import picture_of

    reading = [Gap(string=6, fret=8, held=(1, 17), mm=0.0)]
    board = board_of(one.instrument)
    place = one._places("neck")[0]
    return float(predict(reading, picture_of(board, one.truth)).rows[0, place])


def test_nylon_is_said_to_be_hardly_known():
    found = climate(empty_service(family("nylon-acoustic-guitar")), DRY)
    assert any("nylon and gut" in one for one in found.not_known)
    assert found.strings[0].warmth_cents.uncertainty >= 0.0


@pytest.mark.parametrize(
    ("after", "before", "told"),
    [
        (Room(temperature_c=20.0), DAMP, "of today"),
        (DRY, Room(humidity_percent=40.0), "set up in"),
    ],
)
def test_half_an_air_is_refused(after, before, told):
    with pytest.raises(CorrectInputError, match=told):
        climate(example_service(), after, before)


def test_an_unknown_wood_names_the_known():
    with pytest.raises(CorrectInputError, match="sugar-maple"):
        climate(example_service(), DRY, DAMP, "plywood")


def test_what_open_strings_did_is_typed_at_a_visit_and_teaches_the_set(shop):
    record = add_instrument(shop, later(), usual_instrument(family("nylon-acoustic-guitar"), "Siskin"))
    open_visit(shop, later(), record, "", 20.0, 45.0)
    today = open_visit(shop, later(days=1.0), record, "", 26.0, 45.0)
    plain = climate_today(shop, today, AirTyped())
    taught = climate_today(shop, today, AirTyped(heard="1=−9 2=-8; 3=-10"))
    assert plain.told is not None
    assert taught.told is not None
    sure = taught.told.strings[1].warmth_cents
    assert sure.value == pytest.approx(-8.0, abs=1.5)
    assert sure.uncertainty < plain.told.strings[1].warmth_cents.uncertainty / 5.0
    for text, told in (
        ("3", "string=cents"),
        ("1=flat", "what string 1 did"),
        ("9=-4", "string 9 was heard"),
    ):
        assert told in climate_today(shop, today, AirTyped(heard=text)).words
