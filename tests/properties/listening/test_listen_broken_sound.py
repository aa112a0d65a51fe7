"""Sound with holes, and courses: what is no number makes nobody deaf, and two strings of a course are told as two."""

import numpy as np

from breakangle.listening.naming.naming import Name
from breakangle.listening.stream import Listener, Take, TakeJudged
from breakangle.listening.takes.reasons import Verdict
from breakangle.services.listening.named_string import of_the_course
from breakangle.services.service_files.example import example_service
from listening_fixtures.plucks import Pluck, render

RATE = 44_100


def takes_of(sound: np.ndarray) -> list[Take]:
    listener = Listener(RATE, live=False)
    blocks = [sound[at : at + 2048] for at in range(0, len(sound), 2048)]
    events = [event for block in blocks for event in listener.push(block)] + listener.finish()
    return [event.take for event in events if isinstance(event, TakeJudged)]


def quiet(seconds: float) -> np.ndarray:
    return 1e-5 * np.random.default_rng(3).standard_normal(round(seconds * RATE))


def note(seed: int) -> np.ndarray:
    sound = render(Pluck(110.0, duration_s=1.4), seed)
    sound[-4000:] *= np.linspace(1, 0, 4000)
    return sound


def test_a_block_of_no_numbers_between_plucks_leaves_the_listener_hearing():
    hole = np.full(4096, np.nan)
    takes = takes_of(np.concatenate([quiet(0.2), note(1), quiet(0.5), hole, quiet(0.5), note(2), quiet(0.3)]))
    assert [one.verdict for one in takes] == [Verdict.GOOD, Verdict.GOOD]


def test_a_take_with_a_hole_is_refused_and_the_next_one_is_good():
    holed = note(1)
    holed[20_000:21_000] = np.inf
    takes = takes_of(np.concatenate([quiet(0.2), holed, quiet(0.5), note(2), quiet(0.3)]))
    assert takes[0].verdict is Verdict.REFUSED
    assert "gap" in [why.code for why in takes[0].reasons]
    assert takes[-1].verdict is Verdict.GOOD


def test_strings_of_a_course_that_ring_apart_are_told_with_their_distance():
    apart = Pluck(146.83, second_ratio=0.45, second_cents=1.8, duration_s=2.4)
    take = takes_of(np.concatenate([quiet(0.2), render(apart, 4), quiet(0.3)]))[0]
    plain = example_service().instrument
    twins = plain.model_copy(update={"strings": tuple(
        one.model_copy(update={"course": 1}) if one.string < 3 else one for one in plain.strings
    )})  # fmt: skip
    name = Name(1, 0, None, 146.83, 0.0)
    assert of_the_course(take, name, plain) is take
    told = of_the_course(take, name, twins)
    assert "course" in [why.code for why in told.reasons]
    assert abs(take.pitch.lines.apart_cents - 1.8) < 0.3
    assert any(f"{take.pitch.lines.apart_cents:.1f} cents apart" in str(why) for why in told.reasons)
