"""What every form of listening answers: sentences, plain data, a drawing, and the readings it makes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.drawings.charts.dots import Axes, Series
from breakangle.listening.capture.decode import open_sound
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.reference.routine import cautions_against

FloatArray = NDArray[np.float64]

MOST_S = 120.0  # chosen: a slide, a strum or a dozen taps take much less; so memory stays bounded
FINEST_CENTS = 0.1  # no real string holds its pitch better; common practice, no source


@dataclass(frozen=True)
class Answer:
    """What was heard.

    Attributes:
        words: sentences, the most important first.
        data: the same as plain data.
        series: lines of a drawing, with `axes`; none where there is nothing to draw.
        readings: what may be stored.
        usable: whether anything was heard that can be used.
        dangers: what can hurt in looking for the cause, by their names in the table of dangers.
        job: the making job whose sheet goes on from here; empty where there is none.
        job_options: what was heard, as that job's options.
    """

    words: tuple[str, ...]
    data: dict[str, Any]
    series: tuple[Series, ...] = ()
    axes: Axes | None = None
    readings: tuple[Reading, ...] = field(default=())
    usable: bool = True
    dangers: tuple[str, ...] = ()
    job: str = ""
    job_options: Mapping[str, str] = field(default_factory=dict)

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions that its dangers ask for, the gravest first."""
        return tuple(row.words for row in cautions_against(self.dangers))


def pitch_readings(rows: Sequence[Mapping[str, Any]], service: Service) -> tuple[Reading, ...]:
    """Return the pitch readings of rows that are good: each has string, fret, hz and uncertainty_cents."""
    kind, after = reading_kinds()["pitch"].model, {"after": len(service.work)} if service.work else {}
    return tuple(
        kind(
            string=row["string"], fret=row["fret"], hz=row["hz"],
            uncertainty_cents=max(row["uncertainty_cents"], FINEST_CENTS), **after,
        )
        for row in rows if row["good"]
    )  # fmt: skip


def cents_series(name: str, rows: Sequence[Mapping[str, Any]], across: str) -> Series:
    """Return rows as a line of cents over what `across` names, those that are not good marked."""
    places = tuple(float(row[across]) for row in rows)
    marked = frozenset(float(row[across]) for row in rows if not row["good"])
    return Series(name, places, tuple(row["cents"] for row in rows), marked)


def whole_sound(path: Path) -> tuple[FloatArray, int]:
    """All samples of a short recording, mono, shape (samples,), and samples a second.

    Raises:
        ChooseAnotherFileError: it cannot be read, or is longer than two minutes.
        InstallError: a phone recording, and its reader is not installed.
    """
    sound = open_sound(path)
    blocks, count = [], 0
    for block in sound.blocks():
        blocks.append(block)
        count += len(block)
        if count > MOST_S * sound.rate_hz:
            raise ChooseAnotherFileError(
                tr("{path} is longer than {most_s:.0f} s", path=path, most_s=MOST_S),
                tr("a slide, a strum, taps or a pause of at most two minutes"),
                tr("cut it"),
            )
    return np.concatenate(blocks), sound.rate_hz
