"""A person asks where it buzzes and how low it can go. Expectations: common practice, no source."""

import argparse
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from breakangle.cli.verbs.service_files import buzz as buzz_verb
from breakangle.cli.verbs.service_files import lowest as lowest_verb
from breakangle.planning.buzz.buzz_map import buzz_map
from breakangle.planning.buzz.contact_notes import board_notes, quiet_depths
from breakangle.planning.buzz.set_up import present
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.state.picture import picture_of
from breakangle.reference.strength import own_playing, playing
from breakangle.services.service_files.buzz import buzz, played
from breakangle.services.service_files.lowest import lowest_setup
from breakangle.services.service_files.service import service_from
from contact_setups import service, service_data


def ask(verb: Any, tmp_path: Path, *options: str, **wanted: Any) -> int:
    """Run one verb on a service file, as the command line does, and return its exit code."""
    path = tmp_path / "service.json"
    path.write_text(json.dumps(service_data(**wanted)), encoding="utf-8")
    parser = argparse.ArgumentParser()
    verb.add(parser.add_subparsers(required=True))
    arguments = parser.parse_args([verb.__name__.rsplit(".", 1)[-1], str(path), *options])
    return int(arguments.run(arguments))


def test_common_action_is_clean_at_medium() -> None:
    """1.5 and 1.25 mm with 0.25 mm of relief: common practice, no source."""
    found = buzz(service(low_mm=1.5, high_mm=1.25, relief_mm=0.25)).map
    assert found.touching("medium") == ()
    assert len(found.at("medium")) == 6 * 22


def test_very_low_action_is_not() -> None:
    """0.8 mm everywhere: common practice, no source."""
    found = buzz(service(low_mm=0.8, high_mm=0.8, relief_mm=0.25)).map
    assert len(found.touching("medium")) > 40
    blamed = {one.cause.kind for one in found.touching("medium") if one.cause}
    assert blamed <= {"action", "relief"}
    assert "action" in blamed


def test_a_single_proud_crown_is_named() -> None:
    """A crown 0.1 mm proud, on a set-up that is otherwise unheard: common practice, no source."""
    report = buzz(service(crowns={9: 0.1}))
    touching = report.map.heard("medium")
    assert {one.string for one in touching if one.stop == 8} == {1, 2, 3, 4, 5, 6}
    assert all(one.stop < 9 and one.crown == 9 for one in touching)
    assert {(one.cause.kind, one.cause.fret) for one in touching if one.cause} == {("proud crown", 9)}
    assert report.faults("medium")[0][0] == "proud crown, fret 9"


def test_a_worn_crown_is_named() -> None:
    touching = buzz(service(crowns={9: -0.1})).map.touching("medium")
    assert {(one.cause.kind, one.cause.fret) for one in touching if one.cause} == {("low crown", 9)}
    assert {one.stop for one in touching} == {9}


def test_a_slot_cut_too_deep_is_named() -> None:
    """Slots 0.22 mm deeper than on a clean set-up: the open strings touch, and nothing else does."""
    now = estimate(service())
    mean = now.picture.mean.copy()
    mean[now.picture.layout["nut_height"]] -= 0.22
    low = picture_of(now.board, mean)
    touching = buzz_map(low, now.belief, playing("electric-guitar"), ("medium",)).touching("medium")
    assert {(one.string, one.stop) for one in touching} == {(string, 0) for string in range(1, 7)}
    assert {one.cause.kind for one in touching if one.cause} == {"nut slot"}


def test_doubt_is_told_as_a_chance() -> None:
    """The same low set-up read with a coarse gauge leaves more notes in doubt than with a fine one."""
    sharp = buzz(service(low_mm=1.1, high_mm=0.95, relief_mm=0.2)).map.at("medium")
    data = service_data(low_mm=1.1, high_mm=0.95, relief_mm=0.2)
    coarse = [one | {"uncertainty_mm": 0.1} for one in data["readings"] if one["quantity"] == "gap"]
    blurred = buzz(service_from(json.dumps(data | {"readings": coarse}).encode(), "test")).map.at("medium")

    def doubtful(notes: Any) -> int:
        return sum(0.05 < one.probability < 0.95 for one in notes)

    assert doubtful(blurred) > doubtful(sharp)
    for one in sharp:
        assert (one.probability > 0.5) == (one.verdict != "clear") or abs(one.margin_mm) < 0.01


def test_progress_is_told_and_ends() -> None:
    told: list[float] = []
    buzz(service(low_mm=0.8, high_mm=0.8), ("medium", "heavy"), progress=told.append)
    assert len(told) > 4
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_a_release_from_below_is_solved_where_it_starts_on_crowns(tmp_path: Path) -> None:
    """Pressed 2.5 mm toward the board the string lies on the last crowns before it is let go."""
    own = tmp_path / "own.toml"
    own.write_text(
        "[strengths.all]\nlight_mm = 0.5\nmedium_mm = 1.0\nheavy_mm = 2.5\n"
        'pluck_from_saddle_mm = 130.0\nrelease = "toward"\n',
        encoding="utf-8",
    )
    found = buzz(service(), ("light", "heavy"), own).map
    pressed = [one for one in found.touching("heavy") if one.first_ms == 0.0]
    assert len(pressed) > 20
    assert all(one.impulse_ratio >= 0.0 and one.crown is not None for one in pressed)
    assert len(found.touching("light")) < len(found.touching("heavy"))


def test_the_same_seed_gives_the_same_map() -> None:
    assert (
        buzz(service(low_mm=1.0, high_mm=0.9)).to_json() == buzz(service(low_mm=1.0, high_mm=0.9)).to_json()
    )


def test_terminal_says_clean_and_exits_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ask(buzz_verb, tmp_path) == 0
    out = capsys.readouterr().out
    assert "All 132 notes are clear" in out
    assert "Not modelled: the part of the string behind the stopped fret (back buzz)" in " ".join(out.split())


def test_terminal_names_the_crown_and_exits_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ask(buzz_verb, tmp_path, "--strength", "medium", crowns={9: 0.1}) == 1
    out = capsys.readouterr().out
    assert "proud crown, fret 9" in out
    assert "not calibrated" in out
    row = next(line for line in out.splitlines() if line.startswith(" 6 E2"))
    stops = row[8:].split()
    assert stops.index("X") == 8
    # Near a crown a note may touch; none is said to but the one before, which would swing 0.029 mm below it: about
    # where a touch begins to be heard (0.075 of the pluck's height).
    assert stops[7] in ("t", "B")
    assert set(stops[:7] + stops[9:]) <= {"·", "?"}
    # Nobody read a gap over the board's end, which may have risen: what stands near it there may touch as well.
    joint = service().instrument.joint_fret
    assert stops[: joint - 1].count("?") <= 3


def test_json_holds_the_whole_map(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        ask(buzz_verb, tmp_path, "--json", "--strength", "light", "--strength", "heavy", crowns={9: 0.1}) == 1
    )
    found = json.loads(capsys.readouterr().out)
    assert found["format"] == "breakangle/buzz/1"
    assert set(found["strengths_mm"]) == {"light", "heavy"}
    assert len(found["notes"]) == 2 * 6 * 22
    assert found["classes_calibrated"] is False
    one = next(n for n in found["notes"] if (n["string"], n["stop"], n["strength"]) == (6, 8, "light"))
    assert one["crown"] == 9
    assert one["impulse_ratio"] > 0.0
    assert "crown 9 stands proud" in one["cause"]["words"]


@pytest.mark.parametrize(("ending", "start"), [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_a_picture_is_drawn(tmp_path: Path, ending: str, start: bytes) -> None:
    picture = tmp_path / f"map.{ending}"
    assert ask(buzz_verb, tmp_path, "--plot", str(picture), crowns={9: 0.1}) == 1
    assert picture.read_bytes().startswith(start)


def test_lowest_says_how_low_and_what_holds_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ask(lowest_verb, tmp_path, low_mm=2.0, high_mm=1.75) == 0
    out = capsys.readouterr().out
    assert "lowest set-up with nothing heard at medium play" in out
    assert "held up by" in out
    assert "Lowest action, mean of the strings, at each relief" in out


def test_lowest_says_where_the_nut_is_too_low(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ask(lowest_verb, tmp_path, "--strength", "heavy", nut_mm=0.0)
    assert "The nut is too low at strings 1 to 6: a slot cannot be filed up." in capsys.readouterr().out


def test_lowest_tells_what_levelling_buys(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ask(lowest_verb, tmp_path, "--json", crowns={9: 0.1}) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["levelling"]["frets"] == [9]
    assert found["levelling"]["gain_mm"] > 0.2


def test_what_lowest_promises_the_map_confirms() -> None:
    """The set-up `lowest` gives, written as readings and mapped again, is not heard."""
    found = lowest_setup(service(), "medium", 0.04).lowest
    again = service(
        low_mm=float(found.action_mm[-1]), high_mm=float(found.action_mm[0]), relief_mm=found.relief_mm
    )
    assert all(one.stop == 0 for one in buzz(again).map.heard("medium"))
    assert found.action_mm.mean() < present(estimate(service()).picture).action_mm.mean()


def test_a_shop_finds_its_own_height() -> None:
    """Notes that buzz from 0.7 mm on, told as heard and clean, give a height near it."""
    mine = service()
    picture = estimate(mine).picture
    board = board_notes(picture)
    onset = board.notes.gap_mm / quiet_depths(picture.board, playing("electric-guitar"))
    least = [min(row[row == row]) for row in onset]
    places = [(int(s) + 1, int(n)) for s, n in zip(board.string, board.stop, strict=True)]
    heard = [place for place, at in zip(places, least, strict=True) if at <= 0.7][::7]
    clean = [place for place, at in zip(places, least, strict=True) if at > 0.7][::7]
    found = played(mine, heard, clean)
    assert found.low_mm <= 0.7 < found.high_mm
    assert found.against == ()
    wrong = played(mine, heard, [*clean, heard[0]])
    assert heard[0] in wrong.against


def pluck_file(path: Path, loudness: float) -> Path:
    """A decaying tone of the given peak."""
    time = np.arange(48000) / 48000
    soundfile.write(
        path, loudness * np.exp(-3 * time) * np.sin(2 * np.pi * 110 * time), 48000, subtype="FLOAT"
    )
    return path


def test_loudness_gives_the_other_strengths(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Half as loud is half as high: the heights of a string that does not touch go with its loudness."""
    takes = [
        f"{name}={pluck_file(tmp_path / f'{name}.wav', loud)}"
        for name, loud in (("light", 0.1), ("medium", 0.2), ("heavy", 0.5))
    ]
    assert ask(buzz_verb, tmp_path, "--heard", "1:3", "3:16", "--clean", "6:0", "6:3", "--takes", *takes) == 0
    own = tmp_path / "own.toml"
    own.write_text(capsys.readouterr().out, encoding="utf-8")
    found = own_playing(own, "electric-guitar").strengths
    assert found.light_mm / found.medium_mm == pytest.approx(0.5, rel=0.01)
    assert found.heavy_mm / found.medium_mm == pytest.approx(2.5, rel=0.01)
    assert ask(buzz_verb, tmp_path, "--strengths-file", str(own)) == 1


def test_a_shops_own_strengths_are_used(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        "[strengths.all]\nlight_mm = 0.2\nmedium_mm = 0.9\nheavy_mm = 1.2\n"
        'pluck_from_saddle_mm = 130.0\nrelease = "away"\n[classes]\ncalibrated = true\n',
        encoding="utf-8",
    )
    assert ask(buzz_verb, tmp_path, "--strengths-file", str(own)) == 1
    out = capsys.readouterr().out
    assert "plucked 0.90 mm from rest" in out
    assert "not calibrated" not in out
