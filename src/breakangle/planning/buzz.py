"""Where this set-up buzzes: each string, each stop, each strength; which crown, when, how badly, how surely."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.contact.collide import Grid
from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.screen import cleared, reach_bound
from breakangle.physics.contact.severity import Severity, severity
from breakangle.planning.contact_notes import PERIOD_COUNT, BoardNotes, board_notes, losses_of, pluck_of
from breakangle.planning.culprit import Cause, cause_of
from breakangle.planning.layout import Belief
from breakangle.planning.picture import Picture
from breakangle.tables.strength import BuzzClasses, Playing

Array = NDArray[np.float64]
Verdict = Literal["clear", "trace", "audible", "choking"]
SURE_SPREADS = 4.0
"""A note is cleared by the screen only where its gaps would have to be wrong by more than this."""
DRAW_COUNT = 1000

NOT_MODELLED = (
    "the part of the string behind the stopped fret (back buzz)",
    "the part of the string behind the nut, and loose parts that rattle with a note",
    "sideways swing, the finger's own damping, and the give of neck and bridge",
    "the change of tension during a hard pluck",
)
"""What a buzz may still come from when this says that a note is clear."""


@dataclass(frozen=True)
class NoteBuzz:
    """One note at one strength. `string` from 1, `stop` 0 for the open string, `crown` the fret touched first.

    `margin_mm` is what is left between swing and nearest crown, negative where it touches (where the screen cleared
    the note: at least so much). `impulse_ratio` and `low_loss_ratio` are NaN where contact was not followed.
    """

    string: int
    stop: int
    strength: str
    verdict: Verdict
    probability: float
    margin_mm: float
    decided: Literal["screen", "exact", "rest"]
    crown: int | None = None
    first_ms: float = float("nan")
    impulse_ratio: float = float("nan")
    low_loss_ratio: float = float("nan")
    cause: Cause | None = None


@dataclass(frozen=True)
class BuzzMap:
    """Every note at every strength asked for, and what the figures rest on."""

    notes: tuple[NoteBuzz, ...]
    playing: Playing
    strengths: tuple[str, ...]
    string_count: int
    fret_count: int

    def at(self, strength: str) -> tuple[NoteBuzz, ...]:
        """Notes at one strength, by string, then stop."""
        return tuple(one for one in self.notes if one.strength == strength)

    def touching(self, strength: str) -> tuple[NoteBuzz, ...]:
        """Notes at one strength that touch a crown."""
        return tuple(one for one in self.at(strength) if one.verdict != "clear")


@dataclass(frozen=True)
class _Decision:
    """Arrays over notes and strengths (N, S); depth (N, F) per mm of pluck."""

    depth: Array
    exact: NDArray[np.bool_]
    margin: Array
    rests: NDArray[np.bool_]
    touches: NDArray[np.bool_]
    first_ms: Array
    first_crown: NDArray[np.int64]


def _decide(board: BoardNotes, belief: Belief, playing: Playing, height: Array, threads: int) -> _Decision:
    notes, pluck, losses = board.notes, pluck_of(playing), losses_of(playing)
    depth = reach_bound(notes, pluck, losses, PERIOD_COUNT)
    cautious = notes.gap_mm - SURE_SPREADS * board.spread_mm(belief.covariance)
    exact = ~np.all(cleared(cautious, depth, height), axis=1)
    first_ms = np.full((notes.count, len(height)), np.nan)
    first_crown = np.full(first_ms.shape, -1, dtype=np.int64)
    if np.any(exact):
        found = reach(notes.take(exact), pluck, losses, height, PERIOD_COUNT, threads=threads)
        depth[exact], first_ms[exact], first_crown[exact] = found.depth, found.first_ms, found.first_crown
    left = notes.gap_mm[:, :, None] - np.nan_to_num(depth)[:, :, None] * height
    margin = left.min(axis=1)
    rests = np.any(notes.gap_mm <= 0.0, axis=1)
    return _Decision(depth, exact, margin, rests, (margin < 0.0) | rests[:, None], first_ms, first_crown)


def _probability(board: BoardNotes, belief: Belief, found: _Decision, height: Array, seed: int) -> Array:
    """Share of states, drawn from the belief, in which each note touches: (N, S)."""
    share = np.zeros(found.margin.shape)
    which = np.flatnonzero(found.exact)
    if len(which) == 0:
        return share
    random = np.random.default_rng(seed)
    values, vectors = np.linalg.eigh(belief.covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    moved = root @ random.standard_normal((len(values), DRAW_COUNT))
    for n in which:
        there = np.isfinite(board.notes.crown_mm[n])
        gap = board.notes.gap_mm[n, there][:, None] + board.gap_rows[n, there] @ moved
        onset = np.min(gap / found.depth[n, there][:, None], axis=0)
        share[n] = np.mean(onset[:, None] < height, axis=0)
    return share


def verdict_of(impulse_ratio: float, low_loss_ratio: float, rests: bool, classes: BuzzClasses) -> Verdict:
    """Class of a touching note; a string that lies on a crown at rest is choked."""
    if rests or impulse_ratio >= classes.choking_from_impulse_ratio:
        return "choking"
    if low_loss_ratio >= classes.choking_from_loss_ratio:
        return "choking"
    return "audible" if impulse_ratio >= classes.audible_from_impulse_ratio else "trace"


def buzz_map(
    picture: Picture,
    belief: Belief,
    playing: Playing,
    strengths: Sequence[str],
    *,
    seed: int = 0,
    threads: int = 2,
    progress: Callable[[float], None] = lambda share: None,
) -> BuzzMap:
    """Where the set-up in `picture` buzzes at each strength, with the belief's uncertainty as a probability.

    `progress` is called with the share of the work that is done. The same `seed` gives the same probabilities.

    Raises:
        CorrectInputError: a strength that is not light, medium or heavy.
    """
    height = np.array([playing.strengths.height_mm(one) for one in strengths])
    board = board_notes(picture)
    found = _decide(board, belief, playing, height, threads)
    progress(0.2)
    probability = _probability(board, belief, found, height, seed)
    progress(0.3)
    follow = found.touches & ~found.rests[:, None]
    note, level = np.nonzero(follow)
    struck = _follow(board, playing, note, height[level], threads, progress)
    place = {(int(n), int(s)): m for m, (n, s) in enumerate(zip(note, level, strict=True))}
    rows = [
        _row(board, playing, found, (n, s), strengths[s], height[s], probability[n, s], struck, place.get((n, s)))
        for s in range(len(strengths))
        for n in range(board.notes.count)
    ]
    progress(1.0)
    board_of = picture.board
    return BuzzMap(tuple(rows), playing, tuple(strengths), board_of.string_count, board_of.fret_count)


def _follow(
    board: BoardNotes,
    playing: Playing,
    note: NDArray[np.intp],
    height: Array,
    threads: int,
    progress: Callable[[float], None],
) -> list[Severity]:
    """Contact of each touching note, in portions so that progress can be told; one entry per note."""
    portion, out = 48, []
    grid = Grid(period_count=PERIOD_COUNT)
    for start in range(0, len(note), portion):
        part = slice(start, start + portion)
        done = severity(
            board.notes, note[part], height[part], pluck_of(playing), losses_of(playing), grid, threads
        )
        out += [done.one(index) for index in range(len(done.impulse_ratio))]
        progress(0.3 + 0.7 * min(start + portion, len(note)) / len(note))
    return out


def _row(
    board: BoardNotes,
    playing: Playing,
    found: _Decision,
    at: tuple[int, int],
    strength: str,
    height: float,
    probability: float,
    struck: list[Severity],
    place: int | None,
) -> NoteBuzz:
    n, s = at
    base = NoteBuzz(
        string=int(board.string[n]) + 1,
        stop=int(board.stop[n]) if board.stop[n] > board.picture.board.first[board.string[n]] else 0,
        strength=strength,
        verdict="clear",
        probability=float(probability),
        margin_mm=float(found.margin[n, s]),
        decided="exact" if found.exact[n] else "screen",
    )
    return base if not found.touches[n, s] else _touching(board, playing, found, at, height, base, struck, place)
