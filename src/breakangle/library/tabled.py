"""Results as arrays, and as a data frame where one is wanted."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import InstallError
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]


def frame(columns: Mapping[str, Sequence[Any] | NDArray[Any]]) -> "pd.DataFrame":
    """Return columns as a data frame.

    Raises:
        InstallError: pandas is not installed.
    """
    try:
        import pandas as pd
    except ImportError as cause:
        raise InstallError(
            tr("a data frame needs pandas, which is not installed"),
            tr("the arrays are there without it"),
            tr("pip install 'breakangle[frame]'"),
        ) from cause
    return pd.DataFrame(dict(columns))


def every_note(strings: NDArray[np.int64], first_fret: int, fret_count: int) -> dict[str, NDArray[np.int64]]:
    """Return the columns `string` and `fret` of a table of (strings, frets) laid out row by row."""
    frets = np.arange(first_fret, fret_count + 1)
    return {
        "string": np.repeat(strings, len(frets)),
        "fret": np.tile(frets, len(strings)).astype(np.int64),
    }
