"""Phone recordings (m4a, 3gp, webm, amr) through PyAV, an optional part."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import ChooseAnotherFileError, InstallError
from breakangle.model.words.speech import mark, tr

FloatArray = NDArray[np.float64]

OTHER = mark("record again or name another file")
POSSIBLE = mark("wav, flac, mp3, ogg, opus, aiff, caf, m4a, 3gp, webm and amr can be read")


def _library(path: Path, looks_right: bool) -> Any:
    """The PyAV module.

    Raises:
        InstallError: it is not installed and the file is of a phone format.
        ChooseAnotherFileError: it is not installed and the file is of no known format.
    """
    try:
        import av
    except ImportError as missing:
        if looks_right:
            raise InstallError(
                tr("{path} is a phone recording", path=path),
                tr("its reader is an optional part"),
                tr("pip install 'breakangle[phone]'"),
            ) from missing
        raise ChooseAnotherFileError(
            tr("{path} is no sound file", path=path), tr(POSSIBLE), tr(OTHER)
        ) from missing
    av.logging.set_level(None)
    return av


def phone_length(path: Path, looks_right: bool) -> tuple[int, float | None, int]:
    """Rate, length in seconds (None: not said) and channels of the first sound in the file.

    Raises:
        ChooseAnotherFileError: no sound can be found in it.
        InstallError: PyAV is not installed.
    """
    av = _library(path, looks_right)
    try:
        with av.open(str(path)) as container:
            if not container.streams.audio:
                raise ChooseAnotherFileError(tr("{path} holds no sound", path=path), tr(POSSIBLE), tr(OTHER))
            stream = container.streams.audio[0]
            for frame in container.decode(stream):
                length_s = float(container.duration) / av.time_base if container.duration else None
                return int(frame.sample_rate), length_s, len(frame.layout.channels)
    except (av.FFmpegError, OSError, ValueError, RuntimeError) as problem:
        raise ChooseAnotherFileError(
            tr("{path} is no sound file, or is damaged", path=path), tr(POSSIBLE), tr(OTHER)
        ) from problem
    raise ChooseAnotherFileError(tr("{path} holds no sound", path=path), tr(POSSIBLE), tr(OTHER))


def phone_blocks(path: Path) -> Iterator[FloatArray]:
    """Blocks of shape (samples, channels), full scale 1, half a second or so each.

    Raises:
        ChooseAnotherFileError: the file is damaged.
    """
    av = _library(path, True)
    waiting: list[FloatArray] = []
    count, at_s = 0, 0.0
    try:
        with av.open(str(path)) as container:
            stream = container.streams.audio[0]
            rate, channels = 0, 0
            for frame in container.decode(stream):
                block = _samples(frame)
                rate, channels = rate or frame.sample_rate, channels or block.shape[1]
                if frame.sample_rate != rate or block.shape[1] != channels:
                    raise ChooseAnotherFileError(
                        tr("{path} changes its rate after {at_s:.1f} s", path=path, at_s=at_s),
                        tr(POSSIBLE),
                        tr(OTHER),
                    )
                waiting.append(block)
                count, at_s = count + len(block), at_s + len(block) / rate
                if count >= rate / 2:
                    yield np.concatenate(waiting)
                    waiting, count = [], 0
    except (av.FFmpegError, OSError, ValueError, RuntimeError) as problem:
        raise ChooseAnotherFileError(
            tr("{path} is damaged after {at_s:.1f} s", path=path, at_s=at_s), tr(POSSIBLE), tr(OTHER)
        ) from problem
    if waiting:
        yield np.concatenate(waiting)


def _samples(frame: Any) -> FloatArray:
    """Samples of one frame, full scale 1, shape (samples, channels).

    The channels are kept apart: the library's own mix to mono sums them, 3 dB too loud.
    """
    raw = frame.to_ndarray()
    channels = len(frame.layout.channels)
    if not frame.format.is_planar:
        raw = raw.reshape(-1, channels).T
    if raw.dtype.kind == "u":
        return np.asarray((raw.T.astype(float) - 128.0) / 128.0)
    scale = float(2 ** (8 * raw.dtype.itemsize - 1)) if raw.dtype.kind == "i" else 1.0
    return np.asarray(raw.T.astype(float) / scale)
