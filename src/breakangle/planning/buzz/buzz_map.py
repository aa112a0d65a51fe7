"""Where this set-up buzzes, by string, stop and strength: which crown, when, how badly, how surely."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.model.words.speech import mark
from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.screen import cleared, reach_bound
from breakangle.physics.contact.severity import severity, usual_grid
from breakangle.planning.buzz.contact_notes import (
    PERIOD_COUNT,
    BoardNotes,
    board_notes,
    losses_of,
    pluck_of,
    unheard_need,
)
from breakangle.planning.buzz.culprit import Cause, cause_of
from breakangle.planning.buzz.touch_chance import SURE_SPREADS, GapBelief
from breakangle.planning.state.layout import Belief
from breakangle.planning.state.picture import Picture
from breakangle.reference.strength import BuzzClasses, Playing

Array = NDArray[np.float64]
Verdict = Literal["clear", "trace", "audible", "choking"]
PORTION = 64  # chosen: notes drawn at once

NOT_MODELLED = (
    mark("the part of the string behind the stopped fret (back buzz)"),
    mark("the part of the string behind the nut, and loose parts that rattle with a note"),
    mark("sideways swing, the finger's own damping, and the give of neck and bridge"),
    mark("the change of tension during a hard pluck"),
)
"""What a buzz may still come from when this says that a note is clear."""


@dataclass(frozen=True)
class NoteBuzz:
    """One note at one strength: `string` from 1, `stop` 0 when open, `crown` the fret touched first.

    A `trace` touches and is not heard; `audible` is heard; a `choking` note loses what carries it. `depth_ratio` is how
    far the free string would swing below the crown it reaches deepest, over the height of the pluck.

    `margin_mm` is what is left between swing and nearest crown, negative where it touches (where the screen
    cleared the note: at least so much). `impulse_ratio` and `low_loss_ratio` are NaN where contact was not
    followed.
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
    depth_ratio: float = 0.0
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

    def heard(self, strength: str) -> tuple[NoteBuzz, ...]:
        """Notes at one strength whose touch is heard: a graze that nobody hears is no complaint."""
        return tuple(one for one in self.touching(strength) if one.verdict != "trace")


@dataclass(frozen=True)
class _Decision:
    """Arrays over notes and strengths (N, S); `depth` (N, F) per mm of pluck, a bound where not `exact`."""

    depth: Array
    exact: NDArray[np.bool_]
    cleared: NDArray[np.bool_]
    margin: Array
    rests: NDArray[np.bool_]
    touches: NDArray[np.bool_]
    first_ms: Array
    first_crown: NDArray[np.int64]


def _silent(share: float) -> None:
    """Tell nobody."""
    del share


def _decide(board: BoardNotes, gaps: GapBelief, playing: Playing, height: Array, threads: int) -> _Decision:
    notes, pluck, losses = board.notes, pluck_of(playing), losses_of(playing)
    depth = reach_bound(notes, pluck, losses, PERIOD_COUNT)
    cautious = np.minimum(notes.gap_mm, gaps.gap_mm) - SURE_SPREADS * gaps.spread_mm
    screened = cleared(cautious, depth, height)
    exact = ~np.all(screened, axis=1)
    first_ms = np.full((notes.count, len(height)), np.nan)
    first_crown = np.full(first_ms.shape, -1, dtype=np.int64)
    if np.any(exact):
        found = reach(notes.take(exact), pluck, losses, height, PERIOD_COUNT, threads=threads)
        depth[exact], first_ms[exact], first_crown[exact] = found.depth, found.first_ms, found.first_crown
    left = notes.gap_mm[:, :, None] - np.nan_to_num(depth)[:, :, None] * height
    margin = left.min(axis=1)
    rests = np.any(notes.gap_mm <= 0.0, axis=1)
    touches = (margin < 0.0) | rests[:, None]
    return _Decision(depth, exact, screened, margin, rests, touches, first_ms, first_crown)


def _probability(board: BoardNotes, gaps: GapBelief, found: _Decision, height: Array, seed: int) -> Array:
    """Share of states, drawn from the belief, in which each note touches: (N, S).

    Gaps are linear in the state and in what crowns have of their own, so their joint normal distribution is drawn
    from, note by note; where nothing is in doubt it is the note as it stands.
    """
    share = np.where(found.touches, 1.0, gaps.end_chances(found.depth, height))
    spread = gaps.spread_mm
    random = np.random.default_rng(seed)
    for n in np.flatnonzero(found.exact):
        near = np.isfinite(board.notes.crown_mm[n])
        left = gaps.gap_mm[n, near][:, None] - found.depth[n, near][:, None] * height
        doubtful = np.any(np.abs(left) < SURE_SPREADS * spread[n, near][:, None], axis=0)
        if not np.any(doubtful):
            continue
        share[n] = np.where(doubtful, gaps.chances(int(n), near, found.depth[n], height, random), share[n])
    return share


def verdict_of(
    depth_ratio: float, impulse_ratio: float, low_loss_ratio: float, rests: bool, classes: BuzzClasses
) -> Verdict:
    """Class of a touching note; a string that lies on a crown at rest is choked."""
    if rests:
        return "choking"
    if depth_ratio < classes.heard_from_depth_ratio:
        return "trace"
    choked = impulse_ratio >= classes.choking_from_impulse_ratio
    return "choking" if choked or low_loss_ratio >= classes.choking_from_loss_ratio else "audible"


def buzz_map(
    picture: Picture,
    belief: Belief,
    playing: Playing,
    strengths: Sequence[str],
    *,
    seed: int = 0,
    threads: int = 2,
    progress: Callable[[float], None] = _silent,
) -> BuzzMap:
    """Where the set-up in `picture` buzzes at each strength, with the belief's uncertainty as a probability.

    `progress` is called with the share of the work that is done. The same `seed` gives the same
    probabilities.

    Raises:
        CorrectInputError: a strength that is not light, medium or heavy.
    """
    height = np.array([playing.strengths.height_mm(one) for one in strengths])
    board = board_notes(picture)
    gaps = GapBelief(board, belief)
    found = _decide(board, gaps, playing, height, threads)
    progress(0.2)
    probability = _probability(board, gaps, found, height, seed)
    progress(0.3)
    struck = _follow(board, playing, found, height, threads, progress)
    rows = tuple(
        _note(board, playing, found, struck, (n, s), strength, float(probability[n, s]))
        for s, strength in enumerate(strengths)
        for n in range(board.notes.count)
    )
    progress(1.0)
    return BuzzMap(rows, playing, tuple(strengths), picture.board.string_count, picture.board.fret_count)


def _follow(
    board: BoardNotes,
    playing: Playing,
    found: _Decision,
    height: Array,
    threads: int,
    progress: Callable[[float], None],
) -> tuple[Array, Array]:
    """Impulse and loss of the low partials of the notes that touch, NaN elsewhere: (N, S) each."""
    impulse, loss = np.full(found.margin.shape, np.nan), np.full(found.margin.shape, np.nan)
    note, level = np.nonzero(found.touches & ~found.rests[:, None])
    for start in range(0, len(note), PORTION):
        n, s = note[start : start + PORTION], level[start : start + PORTION]
        done = severity(
            board.notes,
            n,
            height[s],
            pluck_of(playing),
            losses_of(playing),
            usual_grid(PERIOD_COUNT),
            threads,
        )
        impulse[n, s], loss[n, s] = done.impulse_ratio, done.low_loss_ratio
        progress(0.3 + 0.7 * (start + len(n)) / len(note))
    return impulse, loss


def _only_open(board: BoardNotes, found: _Decision, note: int, level: int) -> bool:
    """Whether this is an open string that touches while all its stopped notes are clear."""
    own = board.string == board.string[note]
    others = own & (np.arange(len(own)) != note)
    is_open = board.stop[note] == board.picture.board.first[board.string[note]]
    return bool(is_open and not np.any(found.touches[others, level]))


def _note(
    board: BoardNotes,
    playing: Playing,
    found: _Decision,
    struck: tuple[Array, Array],
    at: tuple[int, int],
    strength: str,
    probability: float,
) -> NoteBuzz:
    n, s = at
    stop = int(board.stop[n])
    note = NoteBuzz(
        string=int(board.string[n]) + 1,
        stop=stop if stop > board.picture.board.first[board.string[n]] else 0,
        strength=strength,
        verdict="clear",
        probability=probability,
        margin_mm=float(found.margin[n, s]),
        decided="screen" if found.cleared[n, s] else "exact",
    )
    if not found.touches[n, s]:
        return note
    return _touched(board, playing, found, struck, at, note)


def _touched(
    board: BoardNotes,
    playing: Playing,
    found: _Decision,
    struck: tuple[Array, Array],
    at: tuple[int, int],
    note: NoteBuzz,
) -> NoteBuzz:
    """The note with what the crowns do to it, and whose fault that is."""
    n, s = at
    rests, height_mm = bool(found.rests[n]), playing.strengths.height_mm(note.strength)
    depth, gap_mm = found.depth[n], board.notes.gap_mm[n]
    need, depth_ratio = height_mm * depth - gap_mm, -float(found.margin[n, s]) / height_mm
    verdict = verdict_of(depth_ratio, struck[0][n, s], struck[1][n, s], rests, playing.classes)
    lacking = need if verdict == "trace" else unheard_need(playing, height_mm, depth, gap_mm)
    crown = int(np.nanargmax(need)) if rests or found.first_crown[n, s] < 0 else int(found.first_crown[n, s])
    return replace(
        note,
        verdict=verdict,
        decided="rest" if rests else "exact",
        crown=crown + 1,
        first_ms=0.0 if rests else float(found.first_ms[n, s]),
        impulse_ratio=float(struck[0][n, s]),
        low_loss_ratio=float(struck[1][n, s]),
        depth_ratio=depth_ratio,
        cause=cause_of(board, n, lacking, _only_open(board, found, n, s)),
    )
