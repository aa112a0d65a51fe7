"""How loud a recorded note is, to tell strengths of play apart."""

from pathlib import Path

import numpy as np

from breakangle.model.errors import ReadAgainError
from breakangle.model.words.speech import tr

# Chosen: of full scale, from which a sample is cut off; how long the loudest part is; below which nothing was played.
CLIPPED, LEVEL_S, SILENT_POWER = 0.999, 0.1, 1e-8


def take_level_db(path: Path) -> float:
    """How loud the strongest tenth of a second of a recording is, dB of full scale.

    Raises:
        ChooseAnotherFileError: no sound file that can be read.
        ReadAgainError: clipped, or nothing was played.
    """
    from breakangle.listening.capture.decode import open_sound

    sound = open_sound(path)
    samples = np.concatenate(list(sound.blocks()))
    if np.count_nonzero(np.abs(samples) >= CLIPPED) > 3:
        raise ReadAgainError(
            tr("{path} is clipped", path=path),
            tr("how loud it was cannot be told"),
            tr("record it more softly"),
        )
    width = min(round(LEVEL_S * sound.rate_hz), len(samples))
    power = np.convolve(samples**2, np.ones(width) / width, mode="valid").max()
    if power < SILENT_POWER:
        raise ReadAgainError(
            tr("{path} is silent", path=path), tr("one plucked note is needed"), tr("record it again")
        )
    return float(10.0 * np.log10(power))
