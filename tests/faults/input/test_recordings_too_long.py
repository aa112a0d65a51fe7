"""Recordings that do not say how long they are, or say it wrong: refused when more was heard than may be."""

import struct
import tempfile
import time
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import soundfile

from breakangle.listening.capture.decode import open_sound
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.listening import recordings
from breakangle.services.listening.recorded_forms import Form, form_heard
from breakangle.services.listening.recordings import Named, heard_in
from breakangle.services.service_files.example import example_service, example_text
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.attachments import attach
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA

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


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    opened = shop_at(tmp_path / "shop")
    yield opened
    opened.close()


def refused_as(shop: Shop, form: Form, *contents: bytes) -> str:
    """What is said of recordings heard another way, the second of two as what the first is heard against."""
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    kept = [attach(shop, ADA, visit, "recording", "mine.wav", one) for one in contents]
    with pytest.raises(ChooseAnotherFileError) as told:
        form_heard(shop, visit, kept[:1], form, 4, kept[1] if kept[1:] else None)
    return str(told.value)


def quiet_wav(seconds: int) -> bytes:
    out = BytesIO()
    soundfile.write(out, np.zeros(8_000 * seconds), 8_000, format="WAV", subtype="PCM_16")
    return out.getvalue()


@pytest.mark.parametrize(("form", "against"), [("rings", 0), ("ages", 0), ("ages", 70)])
def test_what_is_too_long_to_be_heard_is_too_long_to_be_heard_another_way(
    shop: Shop, form: Form, against: int
) -> None:
    lengths = (3, against) if against else (70,)
    said = refused_as(shop, form, *map(quiet_wav, lengths))
    assert said.startswith("mine.wav lasts 1 minutes; at most 1 minutes")


def test_no_place_of_the_server_is_said_of_a_recording_heard_another_way(shop: Shop) -> None:
    said = refused_as(shop, "slide", quiet_wav(130))
    assert said.startswith("mine.wav is longer than 120 s")
    assert tempfile.gettempdir() not in said
