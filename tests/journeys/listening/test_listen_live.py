"""Listening hands free, through the services: what is asked for, what is stored, what is asked for again."""

import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.reference.families import family
from breakangle.services.listening.live import AsksFor, Began, HeardTake, LiveListening, Sounding, Told
from breakangle.services.listening.notes import Note, heard_before
from breakangle.services.listening.watched_settling import SettleWatch
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.visits.entries import do_adjustment, service_of
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.schema.stamp import Stamp
from listening_fixtures.plucks import Pluck, render
from listening_fixtures.six_strings import BY_ROUND, BY_STRING, OPEN_HZ, played, pluck, truth_hz

RATE, BLOCK = 44_100, 2048
START = datetime(2026, 3, 2, 9, tzinfo=UTC)


@pytest.fixture
def bench(tmp_path):
    shop = shop_at(tmp_path)
    record = add_instrument(shop, Stamp("Ada", START), usual_instrument(family("electric-guitar"), "Dunlin"))
    yield shop, open_visit(shop, Stamp("Ada", START), record)
    shop.close()


def hear(live, sound: np.ndarray, begin: datetime = START) -> list[Told]:
    told: list[Told] = []
    for at in range(0, len(sound), BLOCK):
        told += live.push(sound[at : at + BLOCK], Stamp("Ada", begin + timedelta(seconds=at / RATE)))
    return told


def takes(told: list[Told]) -> list[HeardTake]:
    return [one for one in told if isinstance(one, HeardTake)]


def pitches(shop, visit) -> dict[tuple[int, str], float]:
    return {(one.note.string, one.note.kind): one.hz for one in heard_before(shop, visit.id).values()}


def off_cents(found: dict[tuple[int, str], float]) -> float:
    return max(abs(1200 * np.log2(hz / truth_hz(*key))) for key, hz in found.items())


@pytest.mark.parametrize(("order", "row"), [("strings", BY_STRING), ("rounds", BY_ROUND)])
def test_a_whole_instrument_fills_the_sheet_by_itself(bench, order, row):
    shop, visit = bench
    live = LiveListening(shop, visit.id, RATE, order)
    assert live.asked == AsksFor(Note(6, 0), 0, 18)
    told = hear(live, played(row))
    assert [one.outcome for one in takes(told)] == ["stored"] * 18
    assert [(one.note.string, one.note.kind) for one in takes(told)] == row
    assert live.asked == AsksFor(None, 18, 18)
    found = pitches(shop, visit)
    assert set(found) == set(BY_STRING)
    assert off_cents(found) < 0.3
    readings = service_of(shop, visit.id).readings
    assert len(readings) == 18
    assert all(0.1 <= one.uncertainty_cents < 0.6 for one in readings)


def test_what_rings_is_told_at_once_and_more_surely_a_second_later(bench):
    shop, visit = bench
    live = LiveListening(shop, visit.id, RATE, "strings")
    told = hear(live, played([(6, "open")]))
    kinds = [type(one) for one in told]
    assert kinds == [Began, Sounding, Sounding, HeardTake, AsksFor]
    first, steady = (one for one in told if isinstance(one, Sounding))
    assert first.note == steady.note == Note(6, 0)
    assert first.uncertainty_cents > steady.uncertainty_cents >= 0.1
    assert steady.cents == pytest.approx(-12.0, abs=0.3)


def test_nobody_waits_for_a_ringing_string_to_die_away(bench):
    shop, visit = bench
    live = LiveListening(shop, visit.id, RATE, "strings")
    ringing = render(pluck(6, "open", duration_s=6.0, silence_s=0.5), 4)
    heard_at = [
        (at + BLOCK) / RATE
        for at in range(0, len(ringing), BLOCK)
        if takes(live.push(ringing[at : at + BLOCK], Stamp("Ada", START)))
    ]
    assert len(heard_at) == 1
    assert 0.5 + 2.2 <= heard_at[0] < 0.5 + 2.4
    assert off_cents(pitches(shop, visit)) < 0.3


def test_another_string_leaves_the_order_and_it_goes_on_from_there(bench):
    shop, visit = bench
    live = LiveListening(shop, visit.id, RATE, "strings")
    told = hear(live, played([(4, "open"), (4, "harmonic"), (2, "open"), (6, "open")]))
    asked = [one.note for one in told if isinstance(one, AsksFor)]
    assert asked == [Note(4, 12, 2), Note(4, 12), Note(2, 12, 2), Note(6, 12, 2)]
    assert set(pitches(shop, visit)) == {(4, "open"), (4, "harmonic"), (2, "open"), (6, "open")}


def test_a_bad_take_is_asked_for_again_with_the_reason(bench):
    shop, visit = bench
    live = LiveListening(shop, visit.id, RATE, "strings")
    room = 1e-4 * np.random.default_rng(1).standard_normal(RATE)
    short = render(pluck(6, "open", duration_s=0.25), 1)
    told = hear(live, np.concatenate([room, short, played([(6, "open")], lead_s=1.0)]))
    bad, good = takes(told)
    assert bad.outcome in ("again", "unknown")
    assert "let it ring" in str(bad.take.reasons[0])
    assert good.outcome == "stored"
    assert len(pitches(shop, visit)) == 1


def test_a_doubtful_take_can_be_kept_and_taken_back(bench):
    shop, visit = bench
    live = LiveListening(shop, visit.id, RATE, "strings")
    other = render(Pluck(truth_hz(5, "open"), peak=0.05, duration_s=1.7), 3)
    sound = played([(6, "open")])
    sound[RATE // 2 : RATE // 2 + len(other)] += other
    (doubtful,) = takes(hear(live, sound))
    assert doubtful.outcome == "again"
    assert pitches(shop, visit) == {}
    now = Stamp("Ada", START + timedelta(minutes=1))
    assert takes(live.keep(now))[0].outcome == "stored"
    assert set(pitches(shop, visit)) == {(6, "open")}
    assert live.asked.note == Note(6, 12, 2)
    assert live.take_back(now).note == Note(6, 0)
    assert pitches(shop, visit) == {}
    for refused in (live.keep, live.take_back):
        with pytest.raises(CorrectInputError):
            refused(now)


def test_a_note_that_nobody_asked_for_is_not_stored(bench):
    shop, visit = bench
    live = LiveListening(shop, visit.id, RATE, "strings")
    fifth_fret = Pluck(OPEN_HZ[3] * 2 ** (3 / 12), duration_s=1.7, silence_s=0.5)
    told = hear(live, np.concatenate([render(fifth_fret, 1), np.zeros(RATE)]))
    assert [one.outcome for one in takes(told)] == ["elsewhere"]
    assert pitches(shop, visit) == {}


def test_a_later_session_goes_on_where_the_first_left_off(bench):
    shop, visit = bench
    hear(LiveListening(shop, visit.id, RATE, "strings"), played(BY_STRING[:4]))
    later = LiveListening(shop, visit.id, RATE, "strings")
    assert later.asked == AsksFor(Note(5, 12, 2), 4, 18)
    since = START + timedelta(minutes=5)
    anew = LiveListening(shop, visit.id, RATE, "strings", since)
    assert anew.asked == AsksFor(Note(6, 0), 0, 18)
    hear(anew, played([(6, "open")]), since)
    assert len(service_of(shop, visit.id).readings) == 4, (
        "heard again, it takes the place of what was heard before"
    )
    assert LiveListening(shop, visit.id, RATE, "strings", since).asked == AsksFor(Note(6, 12, 2), 1, 18)


def test_a_string_played_through_once_more_is_told_apart_by_the_order(bench):
    shop, visit = bench
    hear(LiveListening(shop, visit.id, RATE, "strings"), played(BY_STRING[:3]))
    again = LiveListening(shop, visit.id, RATE, "strings")
    assert again.asked.note == Note(5, 0)
    told = hear(again, played(BY_STRING[:3], seed=9))
    assert [(one.note.string, one.note.kind) for one in takes(told)] == BY_STRING[:3]
    assert off_cents(pitches(shop, visit)) < 0.3


def test_one_note_that_is_missing_is_not_taken_for_another_when_all_is_played_again(bench):
    shop, visit = bench
    whole = played(BY_STRING[:6], seed=5)
    for missing in (1, 2, 4, 5):
        row = [note for at, note in enumerate(BY_STRING[:6]) if at != missing]
        since = START + timedelta(hours=missing)
        hear(LiveListening(shop, visit.id, RATE, "strings", since), played(row), since)
        later = since + timedelta(minutes=5)
        told = hear(LiveListening(shop, visit.id, RATE, "strings", since), whole, later)
        named = [(one.note.string, one.note.kind) for one in takes(told)]
        assert named == BY_STRING[:6], f"without {BY_STRING[missing]}"
        assert off_cents(pitches(shop, visit)) < 0.3


def test_after_work_everything_is_asked_for_again(bench):
    shop, visit = bench
    hear(LiveListening(shop, visit.id, RATE, "open"), played([(6, "open")]))
    do_adjustment(shop, visit.id, {"adjust": "tune"}, Stamp("Ada", START + timedelta(minutes=1)))
    live = LiveListening(shop, visit.id, RATE, "open")
    assert live.asked == AsksFor(Note(6, 0), 0, 6)
    hear(live, played([(6, "open")]), START + timedelta(minutes=2))
    assert [json.loads(one.model_dump_json())["after"] for one in service_of(shop, visit.id).readings] == [
        0,
        1,
    ]


def test_stepping_asks_for_the_next_and_the_one_before(bench):
    shop, visit = bench
    live = LiveListening(shop, visit.id, RATE, "open")
    assert [live.step(1).note.string, live.step(1).note.string, live.step(-1).note.string] == [5, 4, 5]
    assert LiveListening(shop, visit.id, RATE, "open").step(-1).note.string == 1
    with pytest.raises(CorrectInputError, match="is no order"):
        LiveListening(shop, visit.id, RATE, "sideways")


def test_a_string_settles_when_stretching_moves_it_no_more(bench):
    shop, visit = bench
    falls = (0.0, -22.0, -31.0, -32.2, -32.9)
    plucks = [
        Pluck(110 * 2 ** (fall / 1200), glide_cents=3.0, duration_s=1.6, silence_s=0.3) for fall in falls
    ]
    sounds = [np.concatenate([render(one, seed), np.zeros(RATE // 2)]) for seed, one in enumerate(plucks)]
    watch = SettleWatch(shop, visit.id, RATE, 5)
    told = [one for one in hear_settling(watch, np.concatenate(sounds[:3])) if one.take is not None]
    assert told[-1].settling.drift_cents == pytest.approx(np.diff(falls)[:2], abs=0.3)
    assert not told[-1].settling.settled
    again = SettleWatch(shop, visit.id, RATE, 5, watch.heard_hz)
    last = [one for one in hear_settling(again, np.concatenate(sounds[3:])) if one.take is not None][-1]
    assert last.settling.drift_cents == pytest.approx(np.diff(falls), abs=0.3)
    assert last.settling.settled
    with pytest.raises(CorrectInputError, match="string 9"):
        SettleWatch(shop, visit.id, RATE, 9)


def hear_settling(watch: SettleWatch, sound: np.ndarray) -> list:
    return [told for at in range(0, len(sound), BLOCK) for told in watch.push(sound[at : at + BLOCK])]
