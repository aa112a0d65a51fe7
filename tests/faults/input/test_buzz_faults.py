"""Bad input to the buzz verbs: the sentence says what was given, what is possible, what to do."""

import argparse
import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from breakangle.cli.verbs.service_files import buzz as buzz_verb
from breakangle.cli.verbs.service_files import lowest as lowest_verb
from breakangle.model.errors import BreakangleError, ChooseAnotherFileError, CorrectInputError, ReadAgainError
from breakangle.reference.strength import own_playing
from breakangle.services.service_files.buzz import buzz, played
from breakangle.services.service_files.lowest import lowest_setup
from contact_setups import service, service_data

WHOLE = (
    "[strengths.all]\nlight_mm = {}\nmedium_mm = {}\nheavy_mm = {}\n"
    'pluck_from_saddle_mm = {}\nrelease = "{}"\n'
)


def file_of(tmp_path: Path) -> Path:
    path = tmp_path / "service.json"
    path.write_text(json.dumps(service_data()), encoding="utf-8")
    return path


def run(verb: object, *words: str) -> int:
    parser = argparse.ArgumentParser()
    verb.add(parser.add_subparsers(required=True))  # type: ignore[attr-defined]
    arguments = parser.parse_args(list(words))
    return int(arguments.run(arguments))


def test_unknown_strength() -> None:
    with pytest.raises(CorrectInputError, match="'brutal' is not known; known are light, medium, heavy"):
        buzz(service(), ("brutal",))
    with pytest.raises(CorrectInputError, match="brutal"):
        lowest_setup(service(), "brutal")


def test_missing_file(tmp_path: Path) -> None:
    for verb, name in ((buzz_verb, "buzz"), (lowest_verb, "lowest")):
        with pytest.raises(BreakangleError, match="cannot be read"):
            run(verb, name, str(tmp_path / "nothing.json"))


def test_picture_of_another_kind(tmp_path: Path) -> None:
    with pytest.raises(CorrectInputError, match=r"ends in \.svg or \.png"):
        run(buzz_verb, "buzz", str(file_of(tmp_path)), "--plot", "map.gif")


def test_picture_where_nothing_can_be_written(tmp_path: Path) -> None:
    with pytest.raises(ChooseAnotherFileError, match="cannot be written"):
        run(buzz_verb, "buzz", str(file_of(tmp_path)), "--plot", str(tmp_path / "no" / "map.png"))


def test_takes_that_tell_nothing(tmp_path: Path) -> None:
    loud, silent = tmp_path / "loud.wav", tmp_path / "silent.wav"
    soundfile.write(loud, np.sign(np.sin(np.arange(48000) / 50.0)), 48000)
    soundfile.write(silent, np.zeros(48000), 48000)
    file = str(file_of(tmp_path))
    for path, sentence in ((loud, "is clipped"), (silent, "is silent")):
        with pytest.raises(ReadAgainError, match=sentence):
            run(buzz_verb, "buzz", file, "--heard", "1:3", "--takes", f"medium={path}")
    with pytest.raises(BreakangleError, match="does not exist"):
        run(buzz_verb, "buzz", file, "--heard", "1:3", "--takes", f"medium={tmp_path / 'none.wav'}")
    with pytest.raises(CorrectInputError, match="one strength must be known"):
        run(buzz_verb, "buzz", file, "--takes", f"medium={loud}")
    with pytest.raises(CorrectInputError, match="all were played alike"):
        run(buzz_verb, "buzz", file, "--heard", "1:3", "--strength", "light", "--strength", "heavy")
    with pytest.raises(SystemExit):
        run(buzz_verb, "buzz", file, "--heard", "1:3", "--takes", "medium")


def test_margin_out_of_range(tmp_path: Path) -> None:
    for margin, told in (
        ("-0.1", "from 0 to 1 mm"),
        ("3", "from 0 to 1 mm"),
        ("nan", "'nan' is not a length"),
    ):
        with pytest.raises(CorrectInputError, match=told):
            run(lowest_verb, "lowest", str(file_of(tmp_path)), f"--margin={margin}")


def test_a_note_that_is_not_there(tmp_path: Path) -> None:
    for place in ((7, 0), (1, 22), (1, -1)):
        with pytest.raises(CorrectInputError, match="has no crown beyond it, or is not there"):
            played(service(), [place], [])
    with pytest.raises(CorrectInputError, match="no note was told"):
        played(service(), [], [])
    with pytest.raises(SystemExit):
        run(buzz_verb, "buzz", str(file_of(tmp_path)), "--heard", "six")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("not = [toml", "is not TOML"),
        ("[strengths.all]\nlight_mm = 0.3\n", "does not have the keys"),
        (WHOLE.format(0.5, 0.4, 1.0, 130.0, "away"), "rising heights"),
        (WHOLE.format(0.3, "nan", 1.0, 130.0, "away"), "rising heights"),
        (WHOLE.format(0.3, '"much"', 1.0, 130.0, "away"), "does not have the keys|rising heights"),
        (WHOLE.format(0.3, 0.5, 100.0, 130.0, "away"), "rising heights"),
        (WHOLE.format(0.3, 0.5, 1.0, 2.0, "away"), "from the saddle"),
        (WHOLE.format(0.3, 0.5, 1.0, 130.0, "sideways"), "away from the board, or toward it"),
        ('[strengths]\nall = "soft"\n', "does not have the keys"),
        ("[classes]\nloudness = 3\n", "does not have the keys"),
    ],
)
def test_own_strengths_that_cannot_be_right(tmp_path: Path, text: str, sentence: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BreakangleError, match=sentence):
        own_playing(path, "electric-guitar")


def test_own_strengths_missing_or_not_text(tmp_path: Path) -> None:
    with pytest.raises(ChooseAnotherFileError, match="cannot be read"):
        own_playing(tmp_path / "none.toml", "electric-guitar")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ChooseAnotherFileError, match="is not TOML"):
        own_playing(tmp_path / "bytes.toml", "electric-guitar")
