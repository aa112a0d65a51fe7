"""String makes, wraps, wire and usual cores: the figures a string's constants are formed from."""

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Literal

from breakangle.model.words.speech import tr
from breakangle.reference.rows import look_up, read_table


@dataclass(frozen=True)
class Wrap:
    """A wire wound over a core."""

    key: str
    words: str
    density_kg_per_m3: float
    density_sd_kg_per_m3: float
    source: str


@dataclass(frozen=True)
class WireStrength:
    """Constants of S = A / d^m: strength in MPa of wire of a diameter in mm."""

    strength_mpa: float
    thinning_exponent: float
    source: str


@dataclass(frozen=True)
class Wire:
    """Drawn wire that carries the pull of steel strings."""

    key: str
    words: str
    density_kg_per_m3: float
    density_low_kg_per_m3: float
    density_high_kg_per_m3: float
    modulus_mpa: float
    modulus_low_mpa: float
    modulus_high_mpa: float
    strength: tuple[WireStrength, ...]
    source: str


@dataclass(frozen=True)
class Spread:
    """One standard deviation of the logarithm of each constant of a string."""

    unit_mass_sd_ratio: float
    axial_sd_ratio: float
    bending_sd_ratio: float


@dataclass(frozen=True)
class StringMake:
    """How a make of string gets unit mass, EA, EI and strength from its diameters.

    ``title`` is what people call it, ``words`` what it is. ``soft``: a polymer or gut carries the pull, no hard wire.
    """

    key: str
    title: str
    words: str
    material: str
    soft: bool
    wound: bool
    carries: Literal["whole", "core"]
    density_kg_per_m3: float
    axial: Literal["modulus", "tension"]
    modulus_mpa: float | None
    axial_ratio: float | None
    bending: Literal["core", "outside"]
    wrap_fill_ratio: float | None
    usual_wrap: str | None
    cores: str | None
    spread: Spread
    guessed_core_spread: Spread
    strength: str | None
    strength_low_mpa: float | None
    strength_high_mpa: float | None
    source: str

    @property
    def has_wire(self) -> bool:
        """Whether there is wire in it that whips and cuts, as its core or wound around it."""
        return self.wound or not self.soft


@cache
def _wraps() -> dict[str, Wrap]:
    return {key: Wrap(key=key, **row) for key, row in read_table("materials/wraps").items()}


@cache
def _wires() -> dict[str, Wire]:
    found = {}
    for key, row in read_table("materials/wire").items():
        strength = tuple(WireStrength(**constants) for constants in row["strength"])
        found[key] = Wire(key=key, **{**row, "strength": strength})
    return found


@cache
def _makes() -> dict[str, StringMake]:
    return {key: _make_of(key, dict(row)) for key, row in read_table("materials/makes").items()}


def _make_of(key: str, row: dict[str, object]) -> StringMake:
    """Return a make from its row; `behaviour` and `sold` in it are for those who ask for them."""
    row = {name: value for name, value in row.items() if name not in ("behaviour", "sold")}
    spread = {name: row.pop(name) for name in Spread.__dataclass_fields__}
    guessed = {name: row.pop(f"guessed_core_{name}", spread[name]) for name in spread}
    optional = (
        "modulus_mpa", "axial_ratio", "wrap_fill_ratio", "usual_wrap", "cores",
        "strength", "strength_low_mpa", "strength_high_mpa",
    )  # fmt: skip
    fields: dict[str, object] = {**dict.fromkeys(optional), **row}
    return StringMake(key=key, spread=Spread(**spread), guessed_core_spread=Spread(**guessed), **fields)  # type: ignore[arg-type]


def wraps() -> tuple[str, ...]:
    """Keys of the known wraps, as a service file writes them."""
    return tuple(_wraps())


def wrap(key: str) -> Wrap:
    """A wrap by its key.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    return look_up("wrap", key, _wraps())


def wire(key: str) -> Wire:
    """A core wire by its key.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    return look_up("wire", key, _wires())


def makes() -> tuple[str, ...]:
    """Keys of the known string makes, as a service file writes them."""
    return tuple(_makes())


def make(key: str) -> StringMake:
    """A string make by its key.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    return look_up(tr("string make"), key, _makes())


def usual_core_mm(make_key: str, diameter_mm: float) -> float:
    """Usual core diameter in mm of a wound string of this make and outside diameter.

    Straight lines between the rows of the table; beyond its ends the core keeps the ratio of the end row.

    Raises:
        CorrectInputError: the make is unknown or has no core.
    """
    table = look_up(tr("core of a string make"), make(make_key).cores or make_key, read_table("cores"))
    rows = [(row["diameter_mm"], row["core_mm"]) for row in table["rows"]]
    if diameter_mm <= rows[0][0]:
        return float(diameter_mm * rows[0][1] / rows[0][0])
    for (d_0, c_0), (d_1, c_1) in pairwise(rows):
        if diameter_mm <= d_1:
            return float(c_0 + (c_1 - c_0) * (diameter_mm - d_0) / (d_1 - d_0))
    return float(diameter_mm * rows[-1][1] / rows[-1][0])
