"""Recordings of plucked strings to pitches, from a file, its bytes, or samples at hand."""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from breakangle.library.tabled import frame
from breakangle.listening.capture.decode import HIGHEST_RATE_HZ, LOWEST_RATE_HZ, MOST_CHANNELS
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.services.listening.takes import Listened, NamedTake, listen_to, readings_of

if TYPE_CHECKING:
    import pandas as pd

Played = Literal["open", "harmonic", "fretted"]


@dataclass(frozen=True)
class HeardTake:
    """One pluck.

    Attributes:
        start_s: when it was plucked, seconds from the beginning.
        verdict: `good`, `doubtful` or `refused`.
        reasons: what is wrong with it, in words.
        hz: its first partial, Hz; NaN where nothing could be measured.
        uncertainty_cents: one standard deviation, cents; NaN as `hz`.
        inharmonicity: B of partial n at n f0 sqrt(1 + B n^2); NaN as `hz`.
        string: its string, 0 where that could not be told.
        fret: 0 open, else the fret pressed or touched.
        harmonic: which natural harmonic, 0 for none.
        cents: how far it lies above its note in equal temperament; NaN where it has no name.
    """

    start_s: float
    verdict: str
    reasons: tuple[str, ...]
    hz: float
    uncertainty_cents: float
    inharmonicity: float
    string: int
    fret: int
    harmonic: int
    cents: float


@dataclass(frozen=True)
class Takes:
    """All that was heard.

    Attributes:
        takes: every pluck, in the order played.
        readings: the good, named ones as readings for `add_readings`, the median of several of one note.
        intonation_strings: strings whose intonation at the octave was heard whole, shape (heard,).
        intonation_cents: how far the fretted octave lies above the true one, cents, shape (heard,); sharp is positive.
        intonation_uncertainty_cents: its standard deviation, same shape.
    """

    takes: tuple[HeardTake, ...]
    readings: tuple[Reading, ...]
    intonation_strings: NDArray[np.int64]
    intonation_cents: NDArray[np.float64]
    intonation_uncertainty_cents: NDArray[np.float64]

    def to_dataframe(self) -> "pd.DataFrame":
        """Return a row for each pluck, a column for each attribute of `HeardTake`.

        Raises:
            InstallError: pandas is not installed.
        """
        names = HeardTake.__dataclass_fields__
        return frame({name: [getattr(take, name) for take in self.takes] for name in names})


def listen(
    sound: str | os.PathLike[str] | bytes | ArrayLike,
    rate_hz: float | None = None,
    *,
    service: Service | None = None,
    string: int | None = None,
    order: Sequence[Played] | None = None,
) -> Takes:
    """Return every pluck of a recording: its pitch, how well it is known, and which note it was.

    Args:
        sound: the path of a sound file (wav, flac, mp3, ogg, opus, aiff, caf; m4a, 3gp, webm and amr with the extra
            `phone`); or the bytes of one; or samples, full scale 1 (or signed whole numbers of any
            width), shape (samples,) or (samples, channels).
        rate_hz: samples a second, with samples at hand; none with a file, which says it itself.
        service: whose instrument was played; without it takes have no names.
        string: the one string that was played, where that is known.
        order: what was played of each string, in that order, where that is known.

    Raises:
        ChooseAnotherFileError: a file that cannot be read.
        CorrectInputError: samples without a rate, or that are no sound; no such string.
        InstallError: a phone's recording without the extra that reads it.

    Source: the method, what it was held to and its sources stand in docs/listening.md.
    """
    with _as_file(sound, rate_hz) as path:
        heard = listen_to([path], service, string, told=order)
    return _takes(heard, len(service.work) if service is not None else 0)


@contextmanager
def _as_file(sound: str | os.PathLike[str] | bytes | ArrayLike, rate_hz: float | None) -> Iterator[Path]:
    """Give the path of a sound file; one of its own for what is at hand, removed afterwards."""
    if isinstance(sound, str | os.PathLike):
        _no_rate(rate_hz)
        yield Path(sound)
        return
    with TemporaryDirectory(prefix="breakangle-") as folder:
        path = Path(folder) / "sound.wav"
        if isinstance(sound, bytes):
            _no_rate(rate_hz)
            path.write_bytes(sound)
        else:
            samples, rate = _checked(sound, rate_hz)
            import soundfile

            soundfile.write(path, samples, rate, subtype="DOUBLE")
        try:
            yield path
        except ChooseAnotherFileError as cause:
            given = cause.given.replace(str(path), "what was given")
            raise ChooseAnotherFileError(given, cause.possible, cause.remedy) from cause


def _no_rate(rate_hz: float | None) -> None:
    if rate_hz is not None:
        raise CorrectInputError(
            tr("a rate of {rate_hz:g} Hz for a file", rate_hz=rate_hz),
            tr("a file says its own"),
            tr("leave it out"),
        )


def _checked(sound: ArrayLike, rate_hz: float | None) -> tuple[NDArray[np.float64], int]:
    """Return samples as an array of (samples, channels), and their rate.

    Raises:
        CorrectInputError: no rate, or samples that are no sound.
    """
    if rate_hz is None or not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ or rate_hz != int(rate_hz):
        raise CorrectInputError(
            tr("samples at a rate of {rate_hz}", rate_hz=rate_hz),
            tr(
                "a whole number from {lowest_rate_hz} to {highest_rate_hz} Hz",
                lowest_rate_hz=LOWEST_RATE_HZ,
                highest_rate_hz=HIGHEST_RATE_HZ,
            ),
            tr("name the rate they were taken at"),
        )
    given = np.asarray(sound)
    if given.dtype.kind not in "fi":
        raise CorrectInputError(
            tr("samples of type {dtype}", dtype=given.dtype), tr("floating-point or signed whole numbers")
        )
    whole = given.dtype.kind == "i"
    samples = given / -float(np.iinfo(given.dtype).min) if whole else np.asarray(given, dtype=np.float64)
    shape = samples.shape
    if samples.ndim not in (1, 2) or samples.size == 0 or (samples.ndim == 2 and shape[1] > MOST_CHANNELS):
        raise CorrectInputError(
            tr("samples of shape {shape}", shape=shape),
            tr("(samples,) or (samples, up to {most_channels} channels)", most_channels=MOST_CHANNELS),
        )
    if not np.all(np.isfinite(samples)):
        raise CorrectInputError(tr("samples that are not finite numbers"), tr("numbers, full scale 1"))
    return samples, int(rate_hz)


def _takes(heard: Listened, after: int) -> Takes:
    found = heard.intonation
    return Takes(
        tuple(_take(take) for take in heard.takes),
        tuple(readings_of(heard.takes, after)),
        np.array([one.string for one in found], dtype=np.int64),
        np.array([one.intonation.cents for one in found], dtype=np.float64),
        np.array([one.intonation.uncertainty_cents for one in found], dtype=np.float64),
    )


def _take(one: NamedTake) -> HeardTake:
    pitch, name = one.take.pitch, one.name
    return HeardTake(
        start_s=one.take.start_s,
        verdict=str(one.take.verdict),
        reasons=tuple(why.words for why in one.take.reasons),
        hz=np.nan if pitch is None else pitch.law.partial_one_hz,
        uncertainty_cents=np.nan if pitch is None else pitch.uncertainty_cents,
        inharmonicity=np.nan if pitch is None else pitch.law.inharmonicity,
        string=0 if name is None else name.string,
        fret=0 if name is None else name.fret,
        harmonic=0 if name is None else name.harmonic or 0,
        cents=np.nan if name is None else name.cents,
    )
