"""Listening must know when it may be wrong: intervals, nasty takes, clean takes, sounds that are no
string."""

import numpy as np
import pytest

from breakangle.listening.stream import Take, takes_in
from breakangle.listening.takes.reasons import Verdict
from listening_fixtures.nasty import KINDS
from listening_fixtures.plucks import Pluck, random_pluck, render, with_glide, with_hum, with_second

SPANS = ((82.4, 1318.5), (30.87, 98.0))
RATE = 44_100


def in_a_room(sound: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return np.concatenate([1e-4 * rng.standard_normal(RATE // 5), sound])


def off_cents(take: Take, true_hz: float) -> float:
    assert take.pitch is not None
    return 1200 * float(np.log2(take.pitch.law.partial_one_hz / true_hz))


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_no_wrong_answer_is_called_good(kind: str) -> None:
    for seed in range(100, 106):
        rng = np.random.default_rng([seed, len(kind), ord(kind[0])])
        sound, truths = KINDS[kind](rng)
        for take in takes_in(in_a_room(sound, rng), RATE):
            if take.verdict is Verdict.GOOD:
                assert truths, f"{kind}, seed {seed}: no string, and yet a reading"
                assert min(abs(off_cents(take, true)) for true in truths) <= 1.0, f"{kind}, seed {seed}"


# Takes that once were called good while a string an octave or a twelfth away, or a note that two strings only
# seem to share, was told instead; a course whose weaker string was told; bends that look like a long glide; hum
# that passed for a string.
SLIPPERY = [
    *[("two_strings", seed) for seed in (2018, 2022, 5052, 5071, 5152, 5215, 9111, 9160, 9349, 20005)],
    *[("course", seed) for seed in (5005, 5058, 5059, 5236)],
    *[("bent", seed) for seed in (5061, 5090, 5190, 20007)],
    ("hummed", 60023),
]


@pytest.mark.parametrize(("kind", "seed"), SLIPPERY)
def test_slippery_takes_are_not_called_good_when_wrong(kind: str, seed: int) -> None:
    rng = np.random.default_rng([seed, len(kind), ord(kind[0])])
    sound, truths = KINDS[kind](rng)
    takes = takes_in(in_a_room(sound, rng), RATE)
    assert takes
    for take in takes:
        if take.verdict is Verdict.GOOD:
            assert min(abs(off_cents(take, true)) for true in truths) <= 1.0


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("clipped", "clipped"),
        ("short", "too-short"),
        ("course", "beating"),
        ("bent", "drifting"),
        ("two_strings", "second-string"),
        ("hummed", "hum"),
    ],
)
def test_the_reason_is_named(kind: str, code: str) -> None:
    told = []
    for seed in range(8):
        rng = np.random.default_rng([seed, 77])
        sound, _ = KINDS[kind](rng)
        told += [one.code for take in takes_in(in_a_room(sound, rng), RATE) for one in take.reasons]
    assert told.count(code) >= 3


def test_clean_takes_pass_and_intervals_hold_the_truth() -> None:
    rng = np.random.default_rng(5)
    flagged, inside, count = 0, 0, 40
    for seed in range(count):
        pluck = with_hum(with_glide(random_pluck(rng, *SPANS[seed % 2]), rng, energy_law=True), rng)
        if seed % 4 == 3:
            pluck = with_second(pluck, rng)
        takes = takes_in(in_a_room(render(pluck, seed), rng), RATE)
        good = len(takes) == 1 and takes[0].verdict is Verdict.GOOD
        flagged += not good and seed % 4 != 3
        pitch = takes[0].pitch
        if pitch is not None:
            inside += abs(off_cents(takes[0], pluck.partial_one_hz)) < 1.96 * pitch.uncertainty_cents
    assert flagged <= 0.03 * count
    assert inside >= 0.9 * count


def test_a_second_polarisation_is_measured_not_flagged() -> None:
    rng = np.random.default_rng(15)
    flagged, inside, count, off = 0, 0, 34, []
    for seed in range(count):
        glide = with_glide(random_pluck(rng, *SPANS[seed % 2]), rng, energy_law=True)
        pluck = with_second(with_hum(glide, rng), rng)
        takes = takes_in(in_a_room(render(pluck, seed), rng), RATE)
        flagged += len(takes) != 1 or takes[0].verdict is not Verdict.GOOD
        pitch = takes[0].pitch
        assert pitch is not None
        off.append(abs(off_cents(takes[0], pluck.partial_one_hz)))
        inside += off[-1] < 1.96 * pitch.uncertainty_cents
    assert flagged <= 0.03 * count
    assert np.median(off) <= 0.1
    assert inside >= 0.9 * count


def test_never_better_than_a_tenth_of_a_cent() -> None:
    takes = takes_in(render(Pluck(110.0, noise_db=None, attack=False), 1), RATE)
    assert takes[0].pitch is not None
    assert takes[0].pitch.uncertainty_cents >= 0.1


@pytest.mark.parametrize("level", [0.0, 1e-5, 1e-3, 0.1])
def test_silence_and_noise_give_no_reading(level: float) -> None:
    sound = level * np.random.default_rng(3).standard_normal(3 * RATE)
    assert all(take.pitch is None or take.verdict is not Verdict.GOOD for take in takes_in(sound, RATE))


def test_a_constant_and_a_click_give_no_reading() -> None:
    click = np.zeros(2 * RATE)
    click[RATE] = 1.0
    for sound in (np.full(2 * RATE, 0.3), click):
        assert all(take.verdict is Verdict.REFUSED for take in takes_in(sound, RATE))
