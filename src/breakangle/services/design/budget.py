"""A design's geometry and its tolerance budget: what the final action hangs on, and what adjusters take up."""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from breakangle.documents.true_size.wanted import floors_mm, over_frets_mm
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.build import (
    Build,
    action_mm,
    angle_for_degrees,
    drawn_builds,
    slopes_mm,
)
from breakangle.physics.making.neck_angle import break_angle_degrees
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.targets.gap import is_relief
from breakangle.planning.state.board import Board, board_of
from breakangle.reference.families import family_of

BUILDS, SEED = 10_000, 1925  # chosen: builds drawn, and the same ones at every run
NINETEEN_IN_20 = 1.959964  # spreads of a normal that hold 95 % of it; exact
# Where nothing else is said below: common practice, no source.
NAMES = {
    "bridge_mm": mark("bridge over the top"), "saddle_mm": mark("saddle over the bridge"),
    "board_mm": mark("board at the joint"),
    "crown_mm": mark("crowns"), "angle_degrees": mark("neck angle"), "floor_mm": mark("nut slot over the crowns' line"),
    "relief_mm": mark("relief"), "reach_mm": mark("joint to saddle"),
}  # fmt: skip
ADJUSTED = ("saddle_mm", "floor_mm", "relief_mm")
# How near a hand builds to each, one standard deviation.
SPREADS = Build(
    bridge_mm=0.15, saddle_mm=0.1, board_mm=0.1, crown_mm=0.03, angle_degrees=0.1, floor_mm=0.03, relief_mm=0.05,
    reach_mm=0.5,
)  # fmt: skip
LEAST_BREAK_DEGREES, MOST_BREAK_DEGREES = (
    10.0,
    60.0,
)  # flatter slips, steeper breaks strings; common practice, no source
BEHIND_MM = 8.0  # from saddle to where the string is held behind it
ANCHOR_MM = 1.0  # how far it leaves below the bridge's top there, as on the sheets of saddle and neck angle


@dataclass(frozen=True)
class Share:
    """One dimension of the budget: nominal and spread in its unit, what it does to the action, and its share of all."""

    name: str
    words: str
    nominal: float
    spread: float
    slope: float
    action_spread_mm: float
    share: float


@dataclass(frozen=True)
class Budget:
    """A design: its nominal build, the action it gives, and how that spreads over builds, all mm.

    `linear_mm`, `drawn_mm`: the spread of the action by slopes and over the builds drawn; `inside`: how many of those
    lie within the linear interval of 19 in 20. `adjusters_mm`: how far saddle heights must reach either way for that.
    """

    build: Build
    action_mm: float
    shares: tuple[Share, ...]
    linear_mm: float
    drawn_mm: float
    inside: float
    adjusters_mm: float
    break_degrees: float

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data (breakangle/design/1)."""
        return {
            "format": "breakangle/design/1",
            "build": {one.name: round(float(getattr(self.build, one.name)), 4) for one in fields(Build)},
            "action_mm": round(self.action_mm, 3),
            "action_spread_mm": {"linear": round(self.linear_mm, 4), "drawn": round(self.drawn_mm, 4)},
            "inside_ratio": self.inside,
            "adjusters_mm": round(self.adjusters_mm, 3),
            "break_degrees": round(self.break_degrees, 1),
            "budget": [
                {
                    "dimension": one.name,
                    "spread": one.spread,
                    "slope": round(one.slope, 4),
                    "share": round(one.share, 4),
                }
                for one in self.shares
            ],
        }


def saddle_for(break_degrees: float | None) -> dict[str, float]:
    """Return the saddle's height over the bridge for a break angle wanted, as a size of `designed`.

    Raises:
        CorrectInputError: an angle that no saddle gives.
    """
    if break_degrees is None:
        return {}
    if not LEAST_BREAK_DEGREES <= break_degrees <= MOST_BREAK_DEGREES:
        raise CorrectInputError(
            tr("a break angle of {degrees:g}°", degrees=break_degrees),
            tr("from {least:g}° to {most:g}°", least=LEAST_BREAK_DEGREES, most=MOST_BREAK_DEGREES),
            "",
        )
    return {"saddle_mm": BEHIND_MM * float(np.tan(np.radians(break_degrees))) - ANCHOR_MM}


def designed(
    service: Service, sizes: dict[str, float] | None = None, spreads: dict[str, float] | None = None
) -> Budget:
    """Return the geometry that gives the service's targets, and its budget.

    Args:
        service: the instrument, strung as it is wanted; its targets are the action, nut and relief.
        sizes: `bridge_mm`, `saddle_mm`, `board_mm`, `crown_mm` where they are not the usual ones.
        spreads: how near each is built, one standard deviation, where that is not the usual one.

    Raises:
        CorrectInputError: a dimension that is not known, or no strings that start at the nut.
    """
    instrument = service.instrument_now()
    board = board_of(instrument, service.reference_hz)
    if (board.first > 0).all():
        raise CorrectInputError(tr("no string starts at the nut"), tr("an instrument with a nut"), "")
    given = {"bridge_mm": 9.5 if family_of(instrument).bridge.on_top else 8.0, "saddle_mm": 3.5, "board_mm": 6.0,
             "crown_mm": 1.05} | _checked(sizes, ("bridge_mm", "saddle_mm", "board_mm", "crown_mm"))  # fmt: skip
    near = replace(SPREADS, **_checked(spreads, tuple(NAMES)))
    full = board.first == 0
    relief = np.mean([one.mm for one in targets_of(service, board).wanted if is_relief(one)] or [0.0])  # type: ignore[attr-defined]
    along = board.along_mm[full].mean(axis=0)
    share, place = octave_of(board)
    floor = float(floors_mm(service, board)[full].mean())
    start = Build(
        angle_degrees=0.0, floor_mm=floor, relief_mm=float(relief),
        reach_mm=float(along[-1] - along[instrument.joint_fret]), **given,
    )  # fmt: skip
    wanted = _open_action_mm(service, share, floor)
    build = replace(start, angle_degrees=angle_for_degrees(start, wanted, share, place))
    return _budget(build, near, share, place)


def octave_of(board: Board) -> tuple[float, float]:
    """Return how far from nut to saddle the octave's fret lies, and how far from nut to joint: strings from the nut."""
    along = board.along_mm[board.first == 0].mean(axis=0)
    octave = min(12, board.fret_count)
    return float(along[octave] / along[-1]), float(along[octave] / along[board.instrument.joint_fret])


def _open_action_mm(service: Service, share: float, floor_mm: float) -> float:
    """Return the action wanted, read open, mm, mean over the strings: the targets hold the first fret."""
    board = board_of(service.instrument_now(), service.reference_hz)
    over = over_frets_mm(service, board)[board.first == 0]
    return float(share * over.mean() + (1.0 - share) * floor_mm)


def _budget(build: Build, near: Build, share: float, place: float) -> Budget:
    slopes = slopes_mm(build, share, place)
    spread = {name: abs(slope) * float(getattr(near, name)) for name, slope in slopes.items()}
    variance = sum(one**2 for one in spread.values())
    linear, nominal = float(np.sqrt(variance)), float(action_mm(build, share, place))
    drawn = action_mm(drawn_builds(build, near, BUILDS, SEED), share, place)
    shares = tuple(
        Share(
            name, tr(NAMES[name]), float(getattr(build, name)), float(getattr(near, name)), slopes[name], spread[name],
            spread[name] ** 2 / max(variance, 1e-18),
        )
        for name in sorted(spread, key=lambda one: -spread[one])
    )  # fmt: skip
    fixed = float(np.sqrt(sum(spread[name] ** 2 for name in spread if name not in ADJUSTED)))
    return Budget(
        build=build,
        action_mm=nominal,
        shares=shares,
        linear_mm=linear,
        drawn_mm=float(drawn.std()),
        inside=float(np.mean(np.abs(drawn - nominal) <= NINETEEN_IN_20 * linear)),
        adjusters_mm=NINETEEN_IN_20 * fixed / share,
        break_degrees=float(break_angle_degrees(build.saddle_mm, BEHIND_MM, ANCHOR_MM)),
    )


def _checked(given: dict[str, float] | None, known: tuple[str, ...]) -> dict[str, float]:
    unknown = set(given or {}) - set(known)
    if unknown:
        raise CorrectInputError(
            tr('"{unknown}" is no dimension of a build', unknown=min(unknown)),
            tr("one of {known}", known=", ".join(known)),
            "",
        )
    return dict(given or {})
