"""Recordings that do not say how long they are, or say it wrong: refused when more was heard than may be."""

import struct
import time
from pathlib import Path

import numpy as np
import pytest

from breakangle.listening.capture.decode import open_sound
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.listening import recordings
from breakangle.services.listening.recordings import Named, heard_in
from breakangle.services.service_files.example import example_service

RATE = 48_000
LENGTH_MARK = b"\x44\x89\x88"  # Duration, 8 bytes: RFC 9559 (2024), Duration Element
MOST_S = 60.0


def recorded(path: Path, seconds: int, stream: bool) -> Path:
    """Write hiss as a webm, as a browser does while it records (`stream`: no length) or as a whole file."""
    import av

    rng = np.random.default_rng(3)
    with av.open(str(path), "w", format="webm", options={"live": "1"} if stream else {}) as file:
        track = file.add_stream("libopus", rate=RATE)
        for second in range(seconds):
            block = (0.01 * rng.standard_normal((1, RATE))).astype("f4")
            frame = av.AudioFrame.from_ndarray(block, format="flt", layout="mono")
            frame.sample_rate, frame.pts = RATE, second * RATE
            file.mux(track.encode(frame))
        file.mux(track.encode(None))
    return path


@pytest.fixture(autouse=True)
def at_most_a_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recordings, "LONGEST_S", MOST_S)


def refused(path: Path) -> str:
    with pytest.raises(ChooseAnotherFileError) as told:
        heard_in(example_service(), (Named(path.name, path.read_bytes()),))
    return str(told.value)


def test_a_stream_of_unknown_length_is_counted_and_refused(tmp_path: Path) -> None:
    path = recorded(tmp_path / "long.webm", 70, stream=True)
    assert open_sound(path).length_s is None
    begin = time.monotonic()
    assert refused(path).startswith("long.webm lasts more than 1 minutes; at most 1 minutes")
    assert time.monotonic() - begin < 10.0


def test_a_stream_that_is_short_enough_is_heard(tmp_path: Path) -> None:
    path = recorded(tmp_path / "short.webm", 5, stream=True)
    assert heard_in(example_service(), (Named(path.name, path.read_bytes()),)).takes == ()


def test_a_length_that_the_file_says_wrong_is_no_way_round_it(tmp_path: Path) -> None:
    path = recorded(tmp_path / "says-less.webm", 70, stream=False)
    content = path.read_bytes()
    at = content.index(LENGTH_MARK) + len(LENGTH_MARK)
    path.write_bytes(content[:at] + struct.pack(">d", 9_000.0) + content[at + 8 :])
    assert open_sound(path).length_s == pytest.approx(9.0)
    assert refused(path).startswith("says-less.webm lasts more than 1 minutes")


def test_a_length_that_the_file_says_is_believed_at_once(tmp_path: Path) -> None:
    path = recorded(tmp_path / "long.webm", 100, stream=False)
    assert refused(path).startswith("long.webm lasts 2 minutes; at most 1 minutes")
