"""Slips of the pen: two digits changed about, a decimal slipped, the neighbour string's figure, one digit wrong."""

from collections.abc import Sequence

import numpy as np

from breakangle.model.reading import Reading

# What a service file takes; a slip past these would not be stored at all.
LEAST = {"mm": 0.0, "cents": -250.0}
MOST = {"mm": 15.0, "cents": 250.0}
CROWN_MOST_MM = 1.0
TRIES = 12


def _key(reading: Reading) -> str:
    return "mm" if hasattr(reading, "mm") else "cents"


def _digits(value: float, key: str) -> str:
    return f"{abs(value):.2f}" if key == "mm" else f"{abs(value):.1f}"


def _swapped(text: str, rng: np.random.Generator) -> str:
    places = [i for i, letter in enumerate(text) if letter.isdigit()]
    pair = int(rng.integers(len(places) - 1))
    letters = list(text)
    a, b = places[pair], places[pair + 1]
    letters[a], letters[b] = letters[b], letters[a]
    return "".join(letters)


def _one_wrong(text: str, rng: np.random.Generator) -> str:
    places = [i for i, letter in enumerate(text) if letter.isdigit()]
    letters = list(text)
    letters[int(rng.choice(places))] = str(rng.integers(10))
    return "".join(letters)


def _slipped(value: float, kind: str, key: str, rng: np.random.Generator) -> float:
    text = _digits(value, key)
    if kind == "swapped":
        found = float(_swapped(text, rng))
    elif kind == "digit":
        found = float(_one_wrong(text, rng))
    else:
        found = abs(value) * float(rng.choice([0.1, 10.0]))
    return float(np.copysign(found, value))


def _neighbour(reading: Reading, among: Sequence[Reading], key: str) -> float | None:
    """Return the figure of the next string, if it was read the same way."""

    def place(one: Reading) -> tuple[object, ...]:
        return (one.quantity, one.fret, getattr(one, "held", None), getattr(one, "harmonic", None))

    beside = [
        float(getattr(one, key)) for one in among
        if place(one) == place(reading) and abs(one.string - reading.string) == 1
    ]  # fmt: skip
    return beside[0] if beside else None


def mistyped(reading: Reading, among: Sequence[Reading], rng: np.random.Generator) -> Reading | None:
    """Return the reading with a figure written down wrong, within what a service file takes; None if none comes."""
    key = _key(reading)
    value = float(getattr(reading, key))
    most = CROWN_MOST_MM if reading.quantity == "crown" else MOST[key]
    least = -CROWN_MOST_MM if reading.quantity == "crown" else LEAST[key]
    for _ in range(TRIES):
        kind = str(rng.choice(["swapped", "decimal", "neighbour", "digit"]))
        found = _neighbour(reading, among, key) if kind == "neighbour" else _slipped(value, kind, key, rng)
        if found is None:
            continue
        found = round(found, 2 if key == "mm" else 1)
        if found != round(value, 2) and least <= found <= most:
            return reading.model_copy(update={key: found})
    return None
