"""Which one more reading would tell most about what is wanted."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.planning.estimate import Estimate
from breakangle.planning.registry import reading_kind, reading_kinds
from breakangle.planning.sight import Sight, place_read

WORTH_ASKING = 0.05  # tolerances² of doubt removed; less is not worth a gauge in the hand

# On the fence: from so many spreads inside the edge of the tolerance to so many outside.
FENCE_INSIDE, FENCE_OUTSIDE = 2.2, 1.2
AT_THE_EDGE = 0.5  # spreads inside, of an instrument that is left as it is
SURE_SHARE = 0.1  # of a tolerance: known this well, a figure is taken as it stands
# Of a tolerance: what steps still to be done move by more than this is asked for when its turn comes.
UNDISTURBED_SHARE = 0.1
FAR = 1.5  # tolerances of spread past which more doubt makes no difference
STALE_SHARE = 0.35  # of a tolerance: a figure that was known better before
WORTH_GOING_BACK = 0.25  # tolerances²
MOST_ASKED = 4  # at once; what is then still open is asked for when these have been read
TWICE = 2


@dataclass(frozen=True)
class Again:
    """What is worth reading before the next step, and why: most telling first within each.

    `contradicted` by the rest; `settles` most of what a turn of the rod has made uncertain; `near_edge` of its
    tolerance. `all` is every one of them, in the order of the targets.
    """

    contradicted: tuple[Reading, ...]
    settles: tuple[Reading, ...]
    near_edge: tuple[Reading, ...]
    all: tuple[Reading, ...]

    def shown(self, taken: Sequence[Reading]) -> tuple[Reading, ...]:
        """Return the few to ask a person for: each place once, what has been `taken` twice already last."""
        times = Counter(place_read(one) for one in taken)
        once: dict[tuple[str, str], Reading] = {}
        for one in self.contradicted + self.settles + self.near_edge:
            once.setdefault(place_read(one), one)
        return tuple(sorted(once.values(), key=lambda one: times[place_read(one)] >= TWICE))[:MOST_ASKED]


def _doubt(share: np.ndarray) -> float:
    """Return how much doubt these spreads (in tolerances) leave; past a tolerance and a half it is all one."""
    return float(np.sum(np.minimum(share, FAR) ** 2))


def _most_telling(now: Estimate, sight: Sight, counted: np.ndarray) -> tuple[float, Reading | None]:
    """Return how much doubt the best further reading would remove from the targets `counted`, and that reading."""
    instrument, picture = now.board.instrument, now.picture
    rows, tolerance = sight.rows[counted], sight.tolerance[counted]
    spread = sight.spread[counted]
    cross, before = rows @ now.belief.covariance, _doubt(spread / tolerance)
    best: tuple[float, Reading | None] = (0.0, None)
    for kind in reading_kinds().values():
        asked = list(kind.candidates(instrument))
        if not asked:
            continue
        found = kind.predict(asked, picture)
        noise = kind.gauge_spread**2 + found.unexplained**2
        own = np.einsum("ri,ri->r", found.rows @ now.belief.covariance, found.rows)
        shared = cross @ found.rows.T
        left = np.sqrt(np.maximum(spread[:, None] ** 2 - shared**2 / (own + noise), 0.0))
        doubt = np.sum(np.minimum(left / tolerance[:, None], FAR) ** 2, axis=0)
        index = int(np.argmin(doubt))
        if before - doubt[index] > best[0]:
            shown = kind.shown(asked[index], float(found.values[index]), float(np.sqrt(own[index])))
            best = (float(before - doubt[index]), shown)
    return best


def read_next(service: Service, now: Estimate, sight: Sight) -> Reading | None:
    """Return the reading, with its expected value, that would remove most doubt; None if none is worth it."""
    if not len(sight.targets):
        return None
    removed, chosen = _most_telling(now, sight, np.ones(len(sight.targets), dtype=bool))
    if chosen is None or removed < WORTH_ASKING:
        return None
    return chosen.model_copy(update={"after": len(service.work)})


def read_again(
    service: Service,
    now: Estimate,
    sight: Sight,
    off_in_turn: np.ndarray,
    came_good: bool = False,
    waiting: np.ndarray | None = None,
) -> Again:
    """Return what to read before the next step: little effort that saves a second round.

    Readings that the rest contradict. Figures so near the edge of their tolerance that the readings so far cannot
    tell the side: measured twice, a thing is not moved that was good, nor left alone when it is out; but not yet
    those that steps still to be done will move (`off_in_turn`: where they will then be). And, where a turn of the
    rod has made what was read before uncertain, the one reading that settles most of it. An instrument that `came_good`
    is not read all over again: only what stands at its very edge.
    """
    past_edge = np.abs(sight.off) - sight.tolerance
    inside = AT_THE_EDGE if came_good else FENCE_INSIDE
    on_fence = (past_edge > -inside * sight.spread) & (past_edge < FENCE_OUTSIDE * sight.spread)
    undisturbed = np.abs(off_in_turn - sight.off) < UNDISTURBED_SHARE * sight.tolerance
    worth_it = sight.spread > SURE_SHARE * sight.tolerance
    places = np.flatnonzero(sight.judged & on_fence & undisturbed & worth_it)
    odd, near = (
        _contradicted(service, now, sight, waiting),
        {place: sight.reading(place) for place in places.tolist()},
    )
    settles: list[Reading] = []
    stale = sight.judged & (sight.spread > STALE_SHARE * sight.tolerance)
    if stale.any():
        removed, telling = _most_telling(now, sight, stale)
        if telling is not None and removed > WORTH_GOING_BACK:
            settles.append(telling)
    ranked = sorted(near, key=lambda place: abs(past_edge[place]) / sight.spread[place])

    def asked(found: Sequence[Reading]) -> tuple[Reading, ...]:
        return tuple(one.model_copy(update={"after": len(service.work)}) for one in found)

    return Again(
        contradicted=asked(odd),
        settles=asked(settles),
        near_edge=asked([near[place] for place in ranked]),
        all=asked([*odd, *near.values(), *settles]),
    )


def _contradicted(service: Service, now: Estimate, sight: Sight, waiting: np.ndarray | None) -> list[Reading]:
    """Return what was read just now, once, and cannot stand beside the others, or that something is `waiting` for."""
    here = [one for one in service.readings if one.after == len(service.work)]
    places = np.flatnonzero(np.zeros(len(sight.targets)) if waiting is None else waiting).tolist()
    awaited = {sight.places[place] for place in places}
    found = []
    for odd in now.surprises:
        where = place_read(odd.reading)
        once = sum(place_read(one) == where for one in here) == 1
        if (odd.contradicted or where in awaited) and odd.reading in here and once:
            shown = reading_kind(odd.reading).shown
            found.append(shown(odd.reading, odd.expected, abs(odd.read - odd.expected) / odd.spreads))
    return found


def asked_in_words(reading: Reading) -> str:
    """Return the reading to take, in words."""
    return reading_kind(reading).place(reading)
