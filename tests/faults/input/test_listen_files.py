"""Sound files as they come: every format, rate and width; hostile, cut and empty ones give one sentence."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from breakangle.listening.capture.decode import open_sound
from breakangle.listening.stream import TakeJudged, listen
from breakangle.model.errors import BreakangleError, ChooseAnotherFileError, InstallError
from listening_fixtures.plucks import Pluck, render

RATE = 44_100
TRUE_HZ = 196.0


@pytest.fixture(scope="module")
def sound() -> np.ndarray:
    return render(Pluck(TRUE_HZ, glide_cents=3.0, silence_s=0.4, duration_s=2.0), 4)


def off_cents(path: Path) -> list[float]:
    opened = open_sound(path)
    events = listen(opened.blocks(), opened.rate_hz)
    takes = [event.take for event in events if isinstance(event, TakeJudged)]
    return [1200 * float(np.log2(t.pitch.law.partial_one_hz / TRUE_HZ)) for t in takes if t.pitch is not None]


@pytest.mark.parametrize(
    ("ending", "subtype"),
    [
        ("wav", "PCM_16"),
        ("wav", "PCM_24"),
        ("wav", "PCM_32"),
        ("wav", "FLOAT"),
        ("wav", "PCM_U8"),
        ("flac", "PCM_24"),
        ("aiff", "PCM_16"),
        ("caf", "PCM_16"),
        ("ogg", "VORBIS"),
        ("ogg", "OPUS"),
        ("mp3", None),
    ],
)
def test_plain_formats(tmp_path: Path, sound: np.ndarray, ending: str, subtype: str | None) -> None:
    path = tmp_path / f"pluck.{ending}"
    rate = 48_000 if subtype == "OPUS" else RATE
    soundfile.write(path, sound if rate == RATE else resampled(sound, rate), rate, subtype=subtype)
    found = off_cents(path)
    assert len(found) == 1
    assert abs(found[0]) < 0.1


def resampled(sound: np.ndarray, rate: int) -> np.ndarray:
    import soxr

    return np.asarray(soxr.resample(sound, RATE, rate, quality="VHQ"))


@pytest.mark.parametrize(
    "rate", [8_000, 11_025, 16_000, 22_050, 32_000, 48_000, 88_200, 96_000, 176_400, 192_000]
)
def test_rates(tmp_path: Path, sound: np.ndarray, rate: int) -> None:
    path = tmp_path / "pluck.wav"
    soundfile.write(path, resampled(sound, rate), rate)
    found = off_cents(path)
    assert len(found) == 1
    assert abs(found[0]) < 0.1


@pytest.mark.parametrize("channels", [lambda x: (x, x), lambda x: (x, 0 * x), lambda x: (x, -x)])
def test_stereo_even_out_of_phase(tmp_path: Path, sound: np.ndarray, channels: object) -> None:
    path = tmp_path / "pluck.wav"
    soundfile.write(path, np.stack(channels(sound), axis=1), RATE)  # type: ignore[operator]
    found = off_cents(path)
    assert len(found) == 1
    assert abs(found[0]) < 0.1


def test_stereo_keeps_the_level(tmp_path: Path, sound: np.ndarray) -> None:
    path = tmp_path / "pluck.wav"
    soundfile.write(path, np.stack([sound, sound], axis=1), RATE, subtype="FLOAT")
    back = np.concatenate(list(open_sound(path).blocks()))
    assert np.max(np.abs(back - sound)) < 1e-6


def phone_file(path: Path, sound: np.ndarray, codec: str, layout: str = "mono", rate: int = 48_000) -> None:
    """A recording as a phone makes it, encoded with PyAV."""
    import av

    samples = resampled(sound, rate).astype(np.float32)
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate, layout=layout)
        count = 2 if layout == "stereo" else 1
        for at in range(0, len(samples), 960):
            block = np.repeat(samples[None, at : at + 960], count, axis=0)
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block), format="fltp", layout=layout)
            frame.sample_rate = rate
            frame.pts = at
            for packet in stream.encode(av.AudioResampler(stream.format, layout, rate).resample(frame)[0]):
                container.mux(packet)
        for packet in stream.encode(None):
            container.mux(packet)


@pytest.mark.parametrize(
    ("name", "codec", "layout"),
    [
        ("pluck.m4a", "aac", "mono"),
        ("pluck.m4a", "aac", "stereo"),
        ("pluck.3gp", "aac", "mono"),
        ("pluck.webm", "libopus", "mono"),
        ("pluck.m4a", "alac", "mono"),
    ],
)
def test_phone_formats(tmp_path: Path, sound: np.ndarray, name: str, codec: str, layout: str) -> None:
    path = tmp_path / name
    phone_file(path, sound, codec, layout)
    found = off_cents(path)
    assert len(found) == 1
    assert abs(found[0]) < 0.2
    back = np.concatenate(list(open_sound(path).blocks()))
    assert np.max(np.abs(back)) == pytest.approx(np.max(np.abs(sound)), rel=0.15)


def test_amr_keeps_little_but_the_pitch(tmp_path: Path, sound: np.ndarray) -> None:
    path = tmp_path / "pluck.amr"
    phone_file(path, sound, "libopencore_amrnb", rate=8_000)
    found = off_cents(path)
    assert len(found) == 1
    assert abs(found[0]) < 1.0


def test_phone_formats_without_their_reader(
    tmp_path: Path, sound: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "pluck.m4a"
    phone_file(path, sound, "aac")
    monkeypatch.setitem(__import__("sys").modules, "av", None)
    with pytest.raises(InstallError, match=r"pip install 'breakangle\[phone\]'"):
        open_sound(path)
    other = tmp_path / "text.wav"
    other.write_text("no sound")
    with pytest.raises(ChooseAnotherFileError, match="no sound file"):
        open_sound(other)


def hostile(folder: Path, sound: np.ndarray) -> dict[str, Path]:
    """Files that are no sound, or no longer."""
    whole = folder / "whole.wav"
    soundfile.write(whole, sound, RATE)
    head = whole.read_bytes()
    rng = np.random.default_rng(0)
    made = {
        "empty.wav": b"",
        "zeros.wav": bytes(4096),
        "random.mp3": rng.bytes(5000),
        "text.wav": b"this is no sound\n" * 50,
        "header.wav": head[:44],
        "half-header.wav": head[:20],
        "mp4.m4a": b"\0\0\0\x18ftypM4A " + rng.bytes(400),
        "webm.webm": b"\x1aE\xdf\xa3" + rng.bytes(400),
        "liar.wav": head[:40] + b"\xff\xff\xff\x7f",
    }
    for name, content in made.items():
        (folder / name).write_bytes(content)
    return {name: folder / name for name in made} | {"missing.wav": folder / "no.wav", "folder": folder}


HOSTILE = [
    "empty.wav", "zeros.wav", "random.mp3", "text.wav", "header.wav", "half-header.wav",
    "mp4.m4a", "webm.webm", "liar.wav", "missing.wav", "folder",
]  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files_give_one_sentence(tmp_path: Path, sound: np.ndarray, name: str) -> None:
    path = hostile(tmp_path, sound)[name]
    with pytest.raises(BreakangleError) as caught:
        list(open_sound(path).blocks())
    words = str(caught.value)
    assert "\n" not in words
    assert words.endswith(".")
    assert path.name in words


@pytest.mark.parametrize("value", [np.nan, np.inf, 1e30])
def test_samples_that_are_no_sound(tmp_path: Path, sound: np.ndarray, value: float) -> None:
    path = tmp_path / "bad.wav"
    spoiled = sound.copy()
    spoiled[30_000] = value
    soundfile.write(path, spoiled, RATE, subtype="FLOAT")
    with pytest.raises(ChooseAnotherFileError, match="samples"):
        list(open_sound(path).blocks())


@pytest.mark.parametrize("rate", [4_000, 384_000])
def test_rates_out_of_reach(tmp_path: Path, sound: np.ndarray, rate: int) -> None:
    path = tmp_path / "odd.wav"
    soundfile.write(path, sound, rate)
    with pytest.raises(ChooseAnotherFileError, match="8000 to 192000"):
        open_sound(path)


@pytest.mark.parametrize("ending", ["wav", "flac", "mp3", "ogg"])
def test_a_file_cut_short_gives_its_take_or_one_sentence(
    tmp_path: Path, sound: np.ndarray, ending: str
) -> None:
    path = tmp_path / f"cut.{ending}"
    soundfile.write(path, sound, RATE)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(0.7 * len(whole))])
    try:
        found = off_cents(path)
    except BreakangleError as problem:
        assert "cut." in str(problem)
    else:
        assert len(found) == 1
        assert abs(found[0]) < 1.0


def test_memory_stays_small_however_long_the_file_is(tmp_path: Path, sound: np.ndarray) -> None:
    import tracemalloc

    path = tmp_path / "long.wav"
    with soundfile.SoundFile(path, "w", RATE, 1) as file:
        for _ in range(30):
            file.write(0.5 * sound)
    opened = open_sound(path)
    tracemalloc.start()
    count = sum(isinstance(event, TakeJudged) for event in listen(opened.blocks(), opened.rate_hz))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count == 30
    assert peak < 60e6
