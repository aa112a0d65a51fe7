"""Sound files to blocks of mono samples: any usual format and rate, one block in memory at a time."""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.capture.decode_phone import phone_blocks, phone_length
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import mark, tr

FloatArray = NDArray[np.float64]

# Where nothing else is said below: chosen: what is taken in, and how much at a time.
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 192_000
WORKING_RATE_HZ = 48_000
BLOCK_S = 0.5
MOST_CHANNELS = 32
POSSIBLE = mark(
    "wav, flac, mp3, ogg, opus, aiff and caf can be read, and m4a, 3gp, webm and amr with the phone extra"
)
OTHER = mark("record again or name another file")
PHONE_MARKS = (b"ftyp", b"\x1aE\xdf\xa3", b"#!AMR")


@dataclass(frozen=True)
class Sound:
    """A sound file that can be read: rate of its blocks, and how long it says it is (None when it does not
    say)."""

    path: Path
    rate_hz: int
    length_s: float | None
    by_phone_reader: bool
    file_rate_hz: int

    def blocks(self) -> Iterator[FloatArray]:
        """Mono samples, full scale 1, about half a second a block.

        Raises:
            ChooseAnotherFileError: the file is damaged, or holds values that are no sound.
        """
        raw = phone_blocks(self.path) if self.by_phone_reader else _plain_blocks(self.path)
        mono = (_checked(block, self.path) for block in _one_channel(raw))
        count = 0
        for block in _at_rate(mono, self.file_rate_hz, self.rate_hz):
            count += len(block)
            yield block
        if count == 0:
            raise ChooseAnotherFileError(tr("{path} holds no sound", path=self.path), tr(POSSIBLE), tr(OTHER))


def open_sound(path: Path) -> Sound:
    """A readable sound file.

    Raises:
        ChooseAnotherFileError: missing, empty, no sound in it, or a rate outside 8 to 192 kHz.
        InstallError: a phone format, and its reader is not installed.
    """
    size = _size(path)
    if size == 0:
        raise ChooseAnotherFileError(tr("{path} is empty", path=path), tr(POSSIBLE), tr(OTHER))
    by_phone_reader = False
    found = _plain_length(path)
    if found is None:
        by_phone_reader = True
        found = phone_length(path, _is_phone_format(path))
    rate, length_s, channels = found
    if not LOWEST_RATE_HZ <= rate <= HIGHEST_RATE_HZ:
        raise ChooseAnotherFileError(
            tr("{path} has {rate} samples a second", path=path, rate=rate),
            tr(
                "{lowest_rate_hz} to {highest_rate_hz} can be read",
                lowest_rate_hz=LOWEST_RATE_HZ,
                highest_rate_hz=HIGHEST_RATE_HZ,
            ),
            tr("record again at 44100 or 48000"),
        )
    if not 1 <= channels <= MOST_CHANNELS:
        raise ChooseAnotherFileError(
            tr("{path} has {channels} channels", path=path, channels=channels),
            tr("1 to {most_channels} can be read", most_channels=MOST_CHANNELS),
            tr(OTHER),
        )
    return Sound(path, min(rate, WORKING_RATE_HZ), length_s, by_phone_reader, rate)


def _size(path: Path) -> int:
    """Size of a file in bytes."""
    try:
        if not path.is_file():
            words = tr("is no file") if path.exists() else tr("does not exist")
            raise ChooseAnotherFileError(f"{path} {words}", tr(POSSIBLE), tr("check the name"))
        return path.stat().st_size
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or problem
        raise ChooseAnotherFileError(
            tr("{path} cannot be opened: {reason}", path=path, reason=reason), "", tr("check the name")
        ) from problem


def _is_phone_format(path: Path) -> bool:
    """Whether the first bytes are those of an mp4, 3gp, webm or amr file."""
    try:
        with path.open("rb") as file:
            head = file.read(16)
    except OSError as problem:
        raise ChooseAnotherFileError(
            tr("{path} cannot be opened: {strerror}", path=path, strerror=problem.strerror),
            "",
            tr("check the name"),
        ) from problem
    return any(mark in head for mark in PHONE_MARKS)


def _plain_length(path: Path) -> tuple[int, float | None, int] | None:
    """Rate, length in seconds and channels as libsndfile reads them; None when it does not know the
    format."""
    import soundfile

    try:
        with soundfile.SoundFile(path) as file:
            # An opus or mp3 header may not say how long it is; libsndfile then answers with a huge number.
            length_s = file.frames / file.samplerate
            return file.samplerate, length_s if 0 < length_s < 1e6 else None, file.channels
    except (soundfile.LibsndfileError, OSError, ValueError, TypeError, ZeroDivisionError):
        return None


def _plain_blocks(path: Path) -> Iterator[FloatArray]:
    """Blocks of shape (samples, channels) through libsndfile."""
    import soundfile

    at_s = 0.0
    try:
        with soundfile.SoundFile(path) as file:
            size = max(1, round(BLOCK_S * file.samplerate))
            while len(block := file.read(size, dtype="float64", always_2d=True)):
                yield block
                at_s += len(block) / file.samplerate
    except (soundfile.LibsndfileError, OSError) as problem:
        raise ChooseAnotherFileError(
            tr("{path} is damaged after {at_s:.1f} s", path=path, at_s=at_s), tr(POSSIBLE), tr(OTHER)
        ) from problem


def _one_channel(blocks: Iterator[FloatArray]) -> Iterator[FloatArray]:
    """The mean of the channels, or the first one where they cancel each other."""
    cancels: bool | None = None
    for block in blocks:
        mean = block.mean(axis=1)
        power = float(np.mean(block**2))
        if cancels is None and block.shape[1] > 1 and power > 1e-8:
            cancels = float(np.mean(mean**2)) < 0.05 * power
        yield block[:, 0] if cancels else mean


def _checked(block: FloatArray, path: Path) -> FloatArray:
    """The block, when every sample is a number of believable size; louder than full scale is brought to
    it."""
    if not np.isfinite(block).all():
        raise ChooseAnotherFileError(
            tr("{path} holds samples that are no numbers", path=path),
            tr("samples lie between -1 and 1"),
            tr(OTHER),
        )
    top = float(np.max(np.abs(block), initial=0.0))
    if top > 1e4:
        raise ChooseAnotherFileError(
            tr("{path} holds samples as large as {top:.3g}", path=path, top=top),
            tr("samples lie between -1 and 1"),
            tr(OTHER),
        )
    return block


def _at_rate(blocks: Iterator[FloatArray], from_hz: int, to_hz: int) -> Iterator[FloatArray]:
    """The blocks at another rate."""
    if from_hz == to_hz:
        yield from blocks
        return
    import soxr

    stream = soxr.ResampleStream(from_hz, to_hz, 1, dtype="float64", quality="HQ")
    with suppress(StopIteration):
        for block in blocks:
            yield np.asarray(stream.resample_chunk(block), dtype=float)
    yield np.asarray(stream.resample_chunk(np.zeros(0), last=True), dtype=float)
