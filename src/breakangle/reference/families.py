"""Instrument families: usual shape and stringing, what they are like when they come in, house targets."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any, Literal

from breakangle.model.instrument import Instrument
from breakangle.model.kind.kind_table import KindTable
from breakangle.model.words.speech import mark, tr
from breakangle.reference.rows import file_names, look_up, read_table

HANDS: tuple[str, ...] = ("light", "medium", "heavy")
HAND_WORDS = mark("light"), mark("medium"), mark("heavy")  # as a sentence says these keys


@dataclass(frozen=True)
class Prior:
    """What a quantity usually is, and one standard deviation around it, in the unit of its name."""

    mean: float
    sd: float


@dataclass(frozen=True)
class FamilyBridge:
    """Kind of bridge and its screws; None where there is no screw.

    ``stands_loose``: no screw or glue holds it, it stands on the top by the strings' pull and is slid as a whole.
    ``on_head``: it stands on a stretched head, which carries it higher or lower with its tension.
    ``on_top``: it stands on a thin top of wood, which sounds, and breathes with the air's humidity.
    """

    kind: Literal["individual", "two-post", "one-piece", "floating"]
    height_mm_per_turn: float | None
    position_mm_per_turn: float | None
    position_travel_mm: tuple[float, float] | None
    source: str
    stands_loose: bool = False
    on_head: bool = False
    on_top: bool = False


@dataclass(frozen=True)
class FamilyRod:
    """Truss rod: relief per whole turn, negative because tightening lessens relief."""

    kind: str
    relief_mm_per_turn: Prior
    source: str


@dataclass(frozen=True)
class FamilyString:
    """One string of an ordinary set; strings of one course sound together."""

    string: int
    note: str
    make: str
    diameter_mm: float
    core_mm: float | None
    wrap: str | None
    course: int
    nut_at_fret: int


@dataclass(frozen=True)
class FamilyPriors:
    """What an instrument of the family is like when it comes in; low is the bass side, high is string 1."""

    relief_mm: Prior
    action_low_mm: Prior
    action_high_mm: Prior
    nut_low_mm: Prior
    nut_high_mm: Prior
    relief_mm_per_n: Prior
    saddle_setback_sd_mm: float
    source: str


@dataclass(frozen=True)
class HandTargets:
    """House targets for one hand: relief, action and nut clearance in mm, intonation in cents.

    Relief is read at the family's relief fret with the first and joint frets held, action at the 12th with
    the first held, nut clearance at the first with the third held.
    """

    relief_mm: float
    action_low_mm: float
    action_high_mm: float
    nut_low_mm: float
    nut_high_mm: float
    intonation_cents: float
    source: str


@dataclass(frozen=True)
class Tolerances:
    """How far from a target still counts as on it."""

    relief_mm: float
    action_mm: float
    nut_mm: float
    intonation_cents: float
    source: str


@dataclass(frozen=True)
class Family:
    """One family of instruments; ``board_radius_mm`` is None for a flat board, ``rod`` None without one.

    ``offered_first``: what a list of families has chosen until a person chooses.
    ``made``: the table, where a shop made it.
    """

    kind: str
    words: str
    scale_mm: float
    frets: int
    joint_fret: int
    relief_fret: int
    board_radius_mm: float | None
    spread_nut_mm: float
    spread_bridge_mm: float
    nut: Literal["nut", "zero-fret"]
    # How strings are held at the bridge, whether the head is slotted, the usual tuner post (a row of the posts table),
    # and whether there are pickups and wiring.
    anchor: Literal["ball", "pins", "tied"]
    head: Literal["plain", "slotted"]
    post: str
    electrics: bool
    shape_source: str
    bridge: FamilyBridge
    rod: FamilyRod | None
    strings: tuple[FamilyString, ...]
    strings_source: str
    priors: FamilyPriors
    targets: Mapping[str, HandTargets]
    tolerances: Tolerances
    offered_first: bool = False
    made: KindTable | None = None

    def target(self, hand: str) -> HandTargets:
        """House targets for a hand.

        Raises:
            CorrectInputError: not light, medium or heavy.
        """
        return look_up("hand", hand, self.targets)


@cache
def families() -> tuple[str, ...]:
    """Kinds of instrument the tables know, sorted, as a service file writes them."""
    return file_names("families")


@cache
def offered_first() -> str:
    """The kind that a list of families has chosen at first."""
    return next((kind for kind in families() if family(kind).offered_first), families()[0])


@cache
def family(kind: str) -> Family:
    """A family by its kind.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    look_up(tr("instrument kind"), kind, dict.fromkeys(families()))
    return _family(kind, read_table(f"families/{kind}"))


def family_of(instrument: Instrument) -> Family:
    """The family of an instrument: its own kind where a shop made it and the instrument carries it, else the tables'.

    Raises:
        CorrectInputError: a kind that neither knows.
    """
    return family_with(instrument.kind, instrument.kind_table)


@lru_cache(maxsize=64)
def family_with(kind: str, own: KindTable | None) -> Family:
    """The family that a shop's own table makes, under the name of its kind; without one, the tables' family.

    Raises:
        CorrectInputError: no table of its own, and a kind that the tables do not know.
    """
    return family(kind) if own is None else replace(_family(kind, own.plain()), made=own)


def _family(kind: str, table: Mapping[str, Any]) -> Family:
    shape = dict(table["shape"])
    return Family(
        kind=kind,
        words=table["words"],
        shape_source=shape.pop("source"),
        board_radius_mm=shape.pop("board_radius_mm", None),
        **shape,
        bridge=_bridge(table["bridge"]),
        rod=_rod(table["rod"]) if "rod" in table else None,
        strings=tuple(_string(row) for row in table["stringing"]["rows"]),
        strings_source=table["stringing"]["source"],
        priors=FamilyPriors(**_with_priors(table["priors"])),
        targets={hand: HandTargets(**row) for hand, row in table["targets"].items()},
        tolerances=Tolerances(**table["tolerances"]),
    )


def _with_priors(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: Prior(**value) if isinstance(value, dict) else value for name, value in row.items()}


def _bridge(row: Mapping[str, Any]) -> FamilyBridge:
    travel = row.get("position_travel_mm")
    return FamilyBridge(
        kind=row["kind"],
        height_mm_per_turn=row.get("height_mm_per_turn"),
        position_mm_per_turn=row.get("position_mm_per_turn"),
        position_travel_mm=None if travel is None else (travel[0], travel[1]),
        source=row["source"],
        stands_loose=row.get("stands_loose", False),
        on_head=row.get("on_head", False),
        on_top=row.get("on_top", False),
    )


def _rod(row: Mapping[str, Any]) -> FamilyRod:
    return FamilyRod(**_with_priors(row))


def _string(row: Mapping[str, Any]) -> FamilyString:
    usual = {"core_mm": None, "wrap": None, "course": row["string"], "nut_at_fret": 0}
    return FamilyString(**{**usual, **row})
