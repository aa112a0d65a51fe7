"""Laws of the finger behind the fret: what it adds, how that answers, and that every stated pitch counts it."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from breakangle.model.service import Service
from breakangle.physics.string.finger import NEAREST_MM, finger_stretch
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.state.picture import picture_of
from breakangle.services.service_files.example import example_service
from breakangle.services.service_files.service import estimate_service

ALONG_MM = 648.0 * (1.0 - 2.0 ** (-np.arange(1, 20) / 12.0))
ROOM_MM = 0.5 * np.diff(np.concatenate([[0.0], ALONG_MM]))


def added(nut_mm=0.5, saddle_rise_mm=3.0, behind_mm=9.0, press_mm=0.2):
    """A string `nut_mm` over the line of the crowns at its nut, and that and the rise at its saddle."""
    return finger_stretch(
        open_length_mm=648.0,
        along_behind_mm=ALONG_MM,
        clearance_mm=nut_mm + saddle_rise_mm * ALONG_MM / 648.0,
        saddle_rise_mm=saddle_rise_mm,
        behind_mm=behind_mm,
        press_mm=press_mm,
        room_mm=ROOM_MM,
    )


@given(st.floats(0.3, 2.0), st.floats(1.0, 5.0), st.floats(3.0, 14.0), st.floats(0.01, 0.5))
def test_its_slopes_are_those_of_its_stretch(nut_mm, saddle_rise_mm, behind_mm, press_mm):
    at = [nut_mm, saddle_rise_mm, behind_mm, press_mm]
    here, step = added(*at), 1e-5
    by_rise = here.per_saddle_rise_mm + here.per_clearance_mm * ALONG_MM / 648.0
    slopes = (here.per_clearance_mm, by_rise, here.per_behind_mm, here.per_press_mm)
    for place, slope in enumerate(slopes):
        more, less = list(at), list(at)
        more[place] += step
        less[place] -= step
        moved = (added(*more).stretch_ratio - added(*less).stretch_ratio) / (2.0 * step)
        assert np.allclose(slope, moved, rtol=1e-5, atol=1e-11)


@given(st.floats(0.0, 0.4), st.floats(0.01, 0.2))
def test_the_harder_the_press_the_longer_the_string(press_mm, more_mm):
    assert np.all(added(press_mm=press_mm + more_mm).stretch_ratio > added(press_mm=press_mm).stretch_ratio)


def test_a_finger_stays_between_its_frets():
    """Where it would lie beyond the fret before it, it is as if it lay at half of the space at most."""
    crowded = added(behind_mm=100.0)
    nearer = finger_stretch(
        open_length_mm=648.0, along_behind_mm=ALONG_MM, clearance_mm=0.5 + 3.0 * ALONG_MM / 648.0, saddle_rise_mm=3.0,
        behind_mm=np.maximum(ROOM_MM, NEAREST_MM), press_mm=0.2,
    )  # fmt: skip
    assert np.allclose(crowded.stretch_ratio[:12], nearer.stretch_ratio[:12], rtol=2e-3)


def test_a_high_nut_sharpens_the_first_fret_by_more_than_the_stretch_over_it():
    """The finger lies deeper below the line to the nut the steeper that is: at the first fret, not at the twelfth."""
    low, high = added(nut_mm=0.4).stretch_ratio, added(nut_mm=0.8).stretch_ratio
    assert high[0] > 1.4 * low[0]
    assert high[11] < 1.1 * low[11]


def test_rows_of_stopped_notes_are_their_slopes_in_every_unknown():
    now = estimate_service(example_service())
    picture, size, step = now.picture, now.picture.layout.size, 1e-6
    string, fret = np.repeat(np.arange(6), 4), np.tile([0, 1, 4, 11], 6)
    _, rows = picture.cents_at(string, fret)
    for place in np.concatenate(
        [picture.layout["finger"], picture.layout["nut_height"], picture.layout["saddle_height"]]
    ):
        way = np.zeros(size)
        way[place] = step
        up, _ = picture_of(now.board, picture.mean + way).cents_at(string, fret)
        down, _ = picture_of(now.board, picture.mean - way).cents_at(string, fret)
        assert np.allclose(rows[:, place], (up - down) / (2.0 * step), rtol=1e-3, atol=1e-4)


def test_a_heavy_hand_is_learned_from_the_low_frets_of_one_string_and_told_of_the_others():
    service = example_service()
    before = estimate_service(service)
    frets = (1, 2, 3, 4)
    sharp = [float(one) + 3.0 for one in before.picture.cents_at(np.full(4, 2), np.arange(4))[0]]
    open_cents = float(before.belief.mean[before.picture.layout["pitch"][2]])
    read = tuple(
        Pitch(string=3, fret=fret, cents=round(open_cents + cents, 2), after=len(service.work))
        for fret, cents in zip(frets, sharp, strict=True)
    )
    after = estimate(Service(**{**service.__dict__, "readings": (*service.readings, *read)}))
    press = before.picture.layout["finger"][1]
    assert after.belief.mean[press] > before.belief.mean[press] + 0.02
    assert after.belief.covariance[press, press] < before.belief.covariance[press, press]
    other = (np.array([3]), np.array([0]))
    assert after.picture.cents_at(*other)[0][0] > before.picture.cents_at(*other)[0][0] + 0.2
