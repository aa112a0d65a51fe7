"""Arrays of results as rows of plain values."""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray


def plain(value: Any) -> Any:
    """Return a value as Arrow stores it: numpy's numbers as Python's, NaN as nothing."""
    found = value.item() if isinstance(value, np.generic) else value
    if isinstance(found, tuple):
        return [plain(one) for one in found]
    return None if isinstance(found, float) and math.isnan(found) else found


def note_rows(
    strings: NDArray[np.int64], first_fret: int, arrays: Mapping[str, NDArray[Any]]
) -> list[dict[str, Any]]:
    """Return a row for each note of arrays of shape (strings, frets), string by string."""
    frets = next(iter(arrays.values())).shape[1]
    return [
        {
            "string": int(string),
            "fret": first_fret + fret,
            **{name: plain(array[place, fret]) for name, array in arrays.items()},
        }
        for place, string in enumerate(strings)
        for fret in range(frets)
    ]
