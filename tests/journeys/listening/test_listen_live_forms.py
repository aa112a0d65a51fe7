"""Live, beside the guided notes: a slide, a strum, taps, one fret checked, every string played hard."""

from datetime import UTC, datetime

import numpy as np
import pytest

from bench.ears.coupled import RATE_HZ, played
from bench.ears.strums import TUNINGS_HZ, slide, strum
from bench.ears.tapped import body, taps
from bench.listening_shop import in_a_room
from bench.listening_together import off_cents
from breakangle.model.errors import CorrectInputError
from breakangle.services.listening.watched_form import FormTold, FormWatch
from breakangle.services.service_files.example import example_service
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.schema.stamp import Stamp
from shop_fixtures.people import ADA

pytest_plugins = ["web_fixtures.at_hand"]
BARE = example_service().model_copy(update={"readings": (), "work": ()})
BLOCK, STAMP = 4096, Stamp("Ada", datetime(2027, 3, 2, 9, tzinfo=UTC))


@pytest.fixture
def shop(tmp_path):
    opened = shop_at(tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def visit(shop):
    return bring_in(shop, BARE.model_dump_json(exclude_unset=True).encode(), "a file", ADA).visit


def heard(watch: FormWatch, sound: np.ndarray) -> list[FormTold]:
    rng = np.random.default_rng(1)
    room = [1e-4 * rng.standard_normal(round(s * RATE_HZ)) for s in (0.4, 2.5)]
    whole = np.concatenate([room[0], sound, room[1]])
    told: list[FormTold] = []
    for at in range(0, len(whole), BLOCK):
        told += watch.push(whole[at : at + BLOCK], STAMP)
    return told


def test_a_slide_is_told_when_it_falls_silent_and_its_good_frets_are_stored(shop, visit):
    watch = FormWatch(shop, visit.id, RATE_HZ, "slide", 4, 0)
    assert "String 4" in watch.asked
    made = slide(np.random.default_rng(3), 146.832, frets=4)
    (told,) = heard(watch, made.sound)
    assert told.good
    stored = [one for one in service_of(shop, visit.id).readings if one.quantity == "pitch"]
    assert told.stored_count == len(stored) >= 3
    assert all(off_cents(one.hz, made.lines_hz[one.fret]) < 0.5 for one in stored)


def test_a_strum_fills_the_open_strings_without_waiting_for_silence(shop, visit):
    made = strum(np.random.default_rng(4), TUNINGS_HZ[0])
    (told,) = heard(FormWatch(shop, visit.id, RATE_HZ, "strum", 1, 0), made.sound)
    assert told.stored_count >= 4
    for one in service_of(shop, visit.id).readings:
        assert off_cents(one.hz, made.lines_hz[6 - one.string]) < 0.5


def test_a_strum_after_a_minute_of_silence_is_heard_and_little_of_the_silence_is_kept(shop, visit):
    watch, rng = FormWatch(shop, visit.id, RATE_HZ, "strum", 1, 0), np.random.default_rng(9)
    room = 1e-4 * rng.standard_normal(RATE_HZ)
    for _ in range(70):
        assert watch.push(room, STAMP) == []
        assert sum(map(len, watch._blocks)) <= 2 * RATE_HZ
    (told,) = heard(watch, strum(np.random.default_rng(4), TUNINGS_HZ[0]).sound)
    assert told.stored_count >= 4


def test_six_taps_are_waited_for_and_told_with_the_bodys_notes(shop, visit):
    rng = np.random.default_rng(5)
    hz, quality = body(rng)
    (told,) = heard(FormWatch(shop, visit.id, RATE_HZ, "taps", 1, 0), taps(rng, hz, quality))
    assert told.good
    assert told.answer is not None
    found = [one["hz"] for one in told.answer.data["resonances"]]
    assert min(abs(one / hz[0] - 1) for one in found) < 0.01


def clean(string: int, fret: int = 0) -> np.ndarray:
    """A clean pluck of a string of the example, E A D G B E."""
    rng = np.random.default_rng([6, string])
    hz = TUNINGS_HZ[0][6 - string] * 2 ** (fret / 12)
    return in_a_room(played(rng, hz, 0.2, 2.2, 2.0, 8e-5).sound, rng)


def test_one_fret_is_checked_as_often_as_it_is_plucked(shop, visit):
    watch = FormWatch(shop, visit.id, RATE_HZ, "check", 5, 3)
    for _ in range(2):
        (told,) = [one for one in heard(watch, clean(5, 3)) if one.good]
        assert told.words[0] == "String 5, fret 3: no buzz"
        assert told.stored_count == 0
    assert not watch.done


def test_every_string_is_asked_for_in_turn_when_played_hard(shop, visit):
    watch = FormWatch(shop, visit.id, RATE_HZ, "hard", 1, 0)
    for string in (6, 5, 4, 3, 2, 1):
        assert f"String {string}, open" in watch.asked
        assert any(one.good for one in heard(watch, clean(string)))
    assert watch.done
    assert heard(watch, clean(6)) == []


def test_what_the_instrument_has_not_is_refused(shop, visit):
    for string, fret in ((9, 0), (1, 99)):
        with pytest.raises(CorrectInputError):
            FormWatch(shop, visit.id, RATE_HZ, "check", string, fret)


def test_the_page_hears_a_fret_checked_through_its_socket(first_sheet):
    here = "127.0.0.1:8320"
    with first_sheet.websocket_connect(
        f"ws://{here}/visits/1/listen/live", headers={"origin": f"http://{here}"}
    ) as line:
        line.send_json({"rate_hz": float(RATE_HZ), "job": "check", "string": 5, "fret": 3})
        asked = line.receive_json()
        assert asked["event"] == "asks"
        assert "String 5, fret 3" in asked["words"]
        sound = np.concatenate([1e-4 * np.random.default_rng(2).standard_normal(RATE_HZ // 2), clean(5, 3)])
        for at in range(0, len(sound), BLOCK):
            line.send_bytes(sound[at : at + BLOCK].astype("<f4").tobytes())
        told = line.receive_json()
        while told.get("outcome") != "heard":
            told = line.receive_json()
        assert told["event"] == "take"
        assert "no buzz" in told["words"]
