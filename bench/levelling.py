"""Levelling plans on random boards, judged by the exact motion of the strings over the true crowns.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m bench levelling

Truth, heights and swings are the workshop's own (bench/workshop), which shares no geometry with the planner. The
action asked for is what perfectly level frets would allow at that strength, and as much more as is told. Once the
crowns are known exactly, once they are read with a dial along every string line.
"""

import time
from dataclasses import dataclass, field

import numpy as np

from bench._instruments import instrument_of
from bench._worn_boards import Array, WornBoard, worn_board
from bench.workshop.touching import touched
from breakangle.planning.levelling.plan import (
    MOST_CHANCE,
    Asked,
    Crowns,
    LevellingPlan,
    levelling_plan,
)
from breakangle.planning.levelling.swings import swings_mm
from breakangle.planning.state.board import board_of
from breakangle.reference.families import family
from breakangle.reference.strength import STRENGTHS, playing

KINDS = ("electric-guitar", "steel-acoustic-guitar", "bass-four")
BOARDS, QUICK_BOARDS = 1000, 30
STRENGTH = "medium"
DIAL_MM = 0.004  # a dial of hundredths, read between its lines; common practice, no source
SET_MM = (0.03, 0.01)  # how far off a hand sets action and nut clearance; common practice, no source
CROWN_MM, WIDTH_MM = 1.2, 2.4
MORE_MM = (-0.1, 0.35)  # action asked for over what level frets allow: from, to
RELIEF_ROOM_MM = 0.05


@dataclass
class Figures:
    """What one way of knowing the crowns came to."""

    boards: int = 0
    impossible: int = 0
    unsure: int = 0
    judged: int = 0
    touching: int = 0
    told: float = 0.0
    unsure_touching: int = 0
    unsure_told: float = 0.0
    plane_clean: int = 0
    more_metal: int = 0
    ratios: list[float] = field(default_factory=list)
    times_ms: list[float] = field(default_factory=list)


def _touches(board: WornBoard) -> bool:
    """Return whether any note truly touches at the strength asked for."""
    return bool(touched(board.one).touches[:, STRENGTHS.index(STRENGTH)].any())


def _figures_asked(kind: str) -> tuple[Array, Array, float]:
    """Return action, nut clearance (S,) and relief that the house asks of a medium hand."""
    kin = family(kind)
    board, wanted = board_of(instrument_of(kin, "usual")), kin.targets[STRENGTH]
    share = np.clip((1.0 - board.side_ratio) / 2.0, 0.0, 1.0)
    action = wanted.action_high_mm + (wanted.action_low_mm - wanted.action_high_mm) * share
    nut = wanted.nut_high_mm + (wanted.nut_low_mm - wanted.nut_high_mm) * share
    return action, nut, wanted.relief_mm


def _level_over_mm(kind: str, swing: Array) -> float:
    """Return by how much the house's action must be raised on perfectly level frets to be clean."""
    action, nut, relief = _figures_asked(kind)
    board = worn_board(kind, 1, action, nut, relief)
    board.one.crown_mm[:] = 0.0
    board.one.set_ends(nut, action)
    exact = np.zeros((board.one.crown_mm.size,) * 2)
    asked = Asked(action - 0.5, nut, (relief - RELIEF_ROOM_MM, relief + RELIEF_ROOM_MM))
    plan = levelling_plan(board.heights(board.one.crown_mm, exact), swing, asked, _crowns(board))
    return plan.over_mm - 0.5


def _crowns(board: WornBoard) -> Crowns:
    return Crowns(np.full(board.one.crown_mm.shape, CROWN_MM), WIDTH_MM)


def _levelled(board: WornBoard, plan: LevellingPlan, random: np.random.Generator, by_hand: bool) -> None:
    """Do what the plan says to the true board."""
    board.one.crown_mm = board.one.crown_mm - plan.off_mm
    board.set_bow(plan.relief_mm)
    off = random.normal(size=(2, board.one.count)) * np.array(SET_MM)[:, None] * by_hand
    board.one.set_ends(np.maximum(plan.nut_mm + off[1], 0.0), plan.action_mm + off[0])


def _one(kind: str, seed: int, swing: Array, over_mm: float, gauge_mm: float, found: Figures) -> None:
    random = np.random.default_rng([seed, 20])
    action, nut, relief = _figures_asked(kind)
    action = action + over_mm + random.uniform(*MORE_MM)
    board = worn_board(kind, seed, action, nut, relief)
    shape = board.one.crown_mm.shape
    read = board.one.crown_mm + gauge_mm * random.standard_normal(shape)
    covariance = gauge_mm**2 * np.eye(read.size)
    asked = Asked(action, nut, (relief - RELIEF_ROOM_MM, relief + RELIEF_ROOM_MM))
    heights = board.heights(read, covariance)
    begun = time.process_time()
    plan = levelling_plan(heights, swing, asked, _crowns(board))
    found.times_ms.append(1000.0 * (time.process_time() - begun))
    found.boards += 1
    if plan.verdict == "no-metal":
        found.impossible += 1
        return
    plane = board.lowest_plane_mm()
    before = board.one.crown_mm.copy()
    _levelled(board, plan, random, gauge_mm > 0.0)
    touches = _touches(board)
    if plan.chance.any_touch > MOST_CHANCE:
        found.unsure += 1
        found.unsure_touching += touches
        found.unsure_told += plan.chance.any_touch
        return
    found.judged += 1
    found.touching += touches
    found.told += plan.chance.any_touch
    found.ratios.append(plan.metal_mm / max(float(plane.sum()), 1e-9))
    if found.ratios[-1] > 1.0:
        board.one.crown_mm = before - plane
        board.one.set_ends(plan.nut_mm, plan.action_mm)
        clean = not _touches(board)
        found.plane_clean += clean
        found.more_metal += clean


def _lines(kind: str, name: str, found: Figures) -> list[str]:
    ratios, times = np.array(found.ratios or [np.nan]), np.array(found.times_ms)
    interval = _interval(found.touching, found.judged)
    lines = [
        f"{kind:24s} {name:8s} boards {found.boards:5d}  no metal can {found.impossible:4d}  not sure enough "
        f"{found.unsure:4d}  planned {found.judged:5d}",
        f"{'':33s} touch after {found.touching:3d} ({100 * found.touching / max(found.judged, 1):.2f} %, 95 % "
        f"{interval[0]:.2f} to {interval[1]:.2f})  told {100 * found.told / max(found.judged, 1):.2f} %",
        f"{'':33s} metal over lowest plane: median {np.median(ratios):.2f}, most {ratios.max():.2f}; more where the "
        f"plane too is clean: {found.more_metal}",
        f"{'':33s} plan {np.median(times):.0f} ms median, {np.quantile(times, 0.95):.0f} ms of 19 in 20 (processor)",
    ]
    if found.unsure:
        lines.append(
            f"{'':33s} of those not sure enough {100 * found.unsure_touching / found.unsure:.0f} % touch, told "
            f"{100 * found.unsure_told / found.unsure:.0f} %"
        )
    return lines


def _interval(count: int, among: int) -> tuple[float, float]:
    """Return the 95 % interval of a share in per cent, by Clopper and Pearson (1934), Biometrika 26, 404."""
    from scipy.stats import beta

    low = beta.ppf(0.025, count, among - count + 1) if count else 0.0
    high = beta.ppf(0.975, count + 1, among - count) if count < among else 1.0
    return 100.0 * float(low), 100.0 * float(high)


def report(quick: bool = False) -> str:
    """Return the figures of every family, by crowns known exactly and by crowns read."""
    lines = [__doc__ or ""]
    for kind in KINDS:
        swing = swings_mm(board_of(instrument_of(family(kind), "usual")), playing(kind), STRENGTH)
        over = _level_over_mm(kind, swing)
        for name, gauge in (("exact", 0.0), ("dial", DIAL_MM)):
            found = Figures()
            for seed in range(QUICK_BOARDS if quick else BOARDS):
                _one(kind, seed, swing, over, gauge, found)
            lines += _lines(kind, name, found)
    return "\n".join(lines)
