"""The plan's words: the quantity stands first, short times are seconds, and a note goes sharp or flat."""

import re

import numpy as np
import pytest

from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.reading_names import begun_with, reading_named
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.plan import plan
from breakangle.planning.trips.step_reasons import reason
from breakangle.planning.trips.told import asked_in_order, time_taken
from breakangle.reference.families import families, family
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.service import estimate_service


@pytest.mark.parametrize(
    ("reading", "named"),
    [
        (Gap(string=1, fret=12, held=(1,), mm=1.6), "action, string 1, fret 12 with fret 1 held"),
        (Gap(string=6, fret=7, held=(1, 14), mm=0.2), "relief, string 6, fret 7 with frets 1 and 14 held"),
        (Gap(string=3, fret=1, held=(3,), mm=0.1), "nut clearance, string 3, fret 1 with fret 3 held"),
        (Gap(string=3, fret=12, mm=2.0), "action, string 3, fret 12 of the open string"),
        (Pitch(string=6, fret=12, cents=1.0), "pitch, string 6, fret 12"),
        (Pitch(string=6, fret=0, cents=1.0), "pitch, string 6, open"),
    ],
)
def test_a_reading_is_named_by_its_quantity_first(reading, named):
    assert reading_named(reading) == named
    assert begun_with(reading) == named[:1].upper() + named[1:]


@pytest.mark.parametrize(
    ("minutes", "told"),
    [
        (0.02, "5 s"),
        (0.25, "15 s"),
        (0.5, "30 s"),
        (0.97, "1 min"),
        (1.0, "1 min"),
        (1.5, "1.5 min"),
        (12.0, "12 min"),
    ],
)
def test_times_under_a_minute_are_seconds(minutes, told):
    assert time_taken(minutes) == told


@pytest.mark.parametrize("kind", families())
def test_every_question_of_an_unread_instrument_begins_with_its_quantity(kind):
    service = empty_service(family(kind))
    asked = asked_in_order(plan(service, estimate_service(service)))
    assert asked
    for one in asked:
        assert re.match(r"(Relief|Action|Nut clearance|Pitch), string \d+", one.words), one.words
        assert re.fullmatch(r"\d+ s|\d+(\.5)? min", one.time), one.time


@pytest.mark.parametrize(("cents", "told"), [(-2.1, "flattens string 3"), (2.1, "sharpens string 3")])
def test_a_side_effect_on_intonation_is_told_as_sharp_or_flat(cents, told):
    service = empty_service(family("electric-guitar"))
    now = estimate_service(service)
    wanted = targets_of(service, now.board).wanted
    sight = sight_of(now, wanted)
    moved = np.where([one.quantity == "intonation" and one.string == 3 for one in wanted], cents, 0.0)
    lower = SaddleHeight(string=3, mm=-0.3)
    own = [index for index, one in enumerate(wanted) if one.quantity == "gap" and one.string == 3]
    said = reason(lower, sight, sight, service.instrument, moved=moved, shown=own)
    assert said.endswith(f" It also {told} at the octave by 2.1 cents.")
