"""Which one more reading would tell most about what is wanted."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from breakangle.model.reading import Reading, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.reading_state import beside_alike, reading_noise, slip_chances, times_read
from breakangle.planning.estimate.target_state import Place, Sight, place_read
from breakangle.planning.estimate.telling_few import after_reading
from breakangle.planning.kinds.kind import ReadingKind
from breakangle.planning.kinds.reading_names import reading_named
from breakangle.planning.kinds.registry import adjustment_kind, reading_kind, reading_kinds
from breakangle.planning.kinds.targets.gap import is_relief
from breakangle.planning.solve.decide import Decision, Mending
from breakangle.planning.solve.deferred import turned_unread
from breakangle.planning.solve.margins import begun, own_targets
from breakangle.planning.state.board import Board
from breakangle.planning.state.expected_minutes import OUT_MINUTES, worth_reading
from breakangle.planning.trips.course import off_pitch
from breakangle.reference.minutes import minutes_of

# Chosen; no source; `python -m bench closed_loop` tells what it costs.
WORTH_ASKING = 0.05  # tolerances² of doubt removed; less is not worth a gauge in the hand

# Where nothing else is said below: chosen; no source; `python -m bench closed_loop` tells what it costs.
WORTH_MINUTES = 3.0  # minutes that a reading must save for each that it costs; calibrated by closed_loop
# Of a tolerance: what steps still to be done move by more than this is asked for when its turn comes.
UNDISTURBED_SHARE = 0.1
FAR = 1.5  # tolerances of spread past which more doubt makes no difference
STALE_SHARE = 0.35  # of a tolerance: a figure that was known better before
WORTH_GOING_BACK = 0.25  # tolerances²
SURE_SPREADS = 3.0  # chosen: no reading is expected so far off
MOST_ASKED = 4  # at once; what is then still open is asked for when these have been read
TWICE = 2
MOST_TIMES = 3  # what three readings leave at its edge stands there; common practice, no source


@dataclass(frozen=True)
class Again:
    """What is worth reading before the next step, and why: most telling first within each.

    `contradicted` by the rest; `confirm` what is to be cut on one reading alone; `settles` most of what a turn of the
    rod has made uncertain; `near_edge` of its tolerance. `all` is every one of them, in the order of the targets.
    """

    contradicted: tuple[Reading, ...]
    confirm: tuple[Reading, ...]
    settles: tuple[Reading, ...]
    near_edge: tuple[Reading, ...]
    all: tuple[Reading, ...]

    def shown(self, taken: Sequence[Reading]) -> tuple[Reading, ...]:
        """Return the few to ask a person for: each place once, what has been `taken` twice already last."""
        times = Counter(place_read(one) for one in taken)
        once: dict[tuple[str, str], Reading] = {}
        for one in self.contradicted + self.confirm + self.settles + self.near_edge:
            once.setdefault(place_read(one), one)
        return tuple(sorted(once.values(), key=lambda one: times[place_read(one)] >= TWICE))[:MOST_ASKED]


def _doubt(share: np.ndarray) -> float:
    """Return how much doubt these spreads (in tolerances) leave; past a tolerance and a half it is all one."""
    return float(np.sum(np.minimum(share, FAR) ** 2))


@lru_cache(maxsize=64)
def _candidates(board: Board) -> tuple[tuple[ReadingKind, tuple[Reading, ...]], ...]:
    """Return everything that could be read on the instrument, by kind."""
    found = [(kind, tuple(kind.candidates(board.instrument))) for kind in reading_kinds().values()]
    return tuple((kind, asked) for kind, asked in found if asked)


def read_enough(service: Service) -> frozenset[Place]:
    """Return the places that have been read since the last work as often as is worth it."""
    times = Counter(place_read(one) for one in service.readings if one.after == len(service.work))
    return frozenset(place for place, count in times.items() if count >= MOST_TIMES)


def _most_telling(
    service: Service, now: Estimate, sight: Sight, counted: np.ndarray, enough: frozenset[Place]
) -> tuple[float, Reading | None]:
    """Return how much doubt the best further reading would remove from the targets `counted`, and that reading.

    Not of a place that has been read `enough`, nor a pitch while the strings are out of tune after what has been done.
    """
    picture = now.picture
    rows, tolerance = sight.rows[counted], sight.tolerance[counted]
    spread = sight.spread[counted]
    cross, before = rows @ now.belief.covariance, _doubt(spread / tolerance)
    best: tuple[float, Reading | None] = (0.0, None)
    untuned = off_pitch(service)
    for kind, asked in _candidates(now.board):
        if untuned and kind.unit == "cents":
            continue
        found = kind.predict(asked, picture)
        noise = kind.gauge_spread**2 + found.unexplained**2
        own = np.einsum("ri,ri->r", found.rows @ now.belief.covariance, found.rows)
        shared = cross @ found.rows.T
        left = np.sqrt(np.maximum(spread[:, None] ** 2 - shared**2 / (own + noise), 0.0))
        doubt = np.sum(np.minimum(left / tolerance[:, None], FAR) ** 2, axis=0)
        if enough:
            doubt[[place_read(one) in enough for one in asked]] = np.inf
        index = int(np.argmin(doubt))
        if before - doubt[index] > best[0]:
            shown = kind.shown(asked[index], float(found.values[index]), float(np.sqrt(own[index])))
            best = (float(before - doubt[index]), shown)
    return best


def just_read(service: Service) -> frozenset[Place]:
    """Return the places read since the last work: what is asked for there again is doubted, and says so."""
    return frozenset(place_read(one) for one in service.readings if one.after == len(service.work))


def read_next(service: Service, now: Estimate, sight: Sight) -> Reading | None:
    """Return the reading, with its expected value, that would remove most doubt; None if none is worth it.

    Never of a place that was just read: that is asked for again only where it is doubted, and then for that reason.
    """
    if not len(sight.targets):
        return None
    everything = np.ones(len(sight.targets), dtype=bool)
    removed, chosen = _most_telling(service, now, sight, everything, just_read(service))
    if chosen is None or removed < WORTH_ASKING:
        return None
    return chosen.model_copy(update={"after": len(service.work)})


def read_again(
    service: Service, now: Estimate, sight: Sight, decision: Decision, off_in_turn: np.ndarray
) -> Again:
    """Return what to read before the next step: little effort that saves more of it.

    Readings that the rest contradict. Figures of which one more reading saves more minutes than it costs, by what would
    be done with it; but not yet those that steps still to be done will move (`off_in_turn`: where they will then be).
    And, where a turn of the rod has made what was read before uncertain, the one reading that settles most of it.
    """
    undisturbed = np.abs(off_in_turn - sight.off) < UNDISTURBED_SHARE * sight.tolerance
    surely_out = np.abs(sight.off) - SURE_SPREADS * sight.spread > sight.tolerance
    open_still = (
        sight.judged
        & undisturbed
        & ~surely_out  # whatever it then reads, the same is done
        & (times_read(service, sight) < MOST_TIMES)
        & _due(service, sight, decision)
    )
    confirm = _worth_confirming(service, now, sight, decision)
    near = _worth_a_look(service, now, sight, decision, open_still, confirm)
    settles: list[Reading] = []
    stale = sight.judged & (sight.spread > STALE_SHARE * sight.tolerance)
    if stale.any() and turned_unread(service):
        removed, telling = _most_telling(service, now, sight, stale, read_enough(service))
        if telling is not None and removed > WORTH_GOING_BACK:
            settles.append(telling)
    settles += _relief_after_a_turn(service, sight, [sight.targets[place] for place in (*confirm, *near)])

    def asked(found: Sequence[Reading]) -> tuple[Reading, ...]:
        return tuple(one.model_copy(update={"after": len(service.work)}) for one in found)

    def shown(places: Sequence[int]) -> tuple[Reading, ...]:
        return asked([sight.reading(place) for place in places])

    odd = asked(_contradicted(service, now, sight, decision.waiting))
    twice = shown([place for place in confirm if place not in near])
    near_edge = shown(near)
    again = asked(settles)
    return Again(odd, twice, again, near_edge, all=(*odd, *twice, *near_edge, *again))


def _relief_after_a_turn(service: Service, sight: Sight, read_anyway: Sequence[Target]) -> list[Reading]:
    """Return relief, where it is known least, if the rod was turned and nobody has read since what that did.

    However sure the rod's answer is: a turn is never gone on from unread. Common practice, no source.
    """
    if not turned_unread(service) or any(is_relief(one) for one in read_anyway):
        return []
    relief = [place for place, one in enumerate(sight.targets) if is_relief(one)]
    share = sight.spread / sight.tolerance
    return [sight.reading(place) for place in sorted(relief, key=lambda place: -share[place])[:1]]


def _due(service: Service, sight: Sight, decision: Decision) -> np.ndarray:
    """Return which targets are read before the next step, (T,): all, before work begins and once nothing more is done.

    In between only those that something is to be done for, and relief before anything follows the rod: the rest is read
    when all strings have settled, and are in tune.
    """
    if begun(service) and not decision.moves and off_pitch(service):
        return np.zeros(len(sight.targets), dtype=bool)
    if not begun(service) or not decision.moves:
        return np.ones(len(sight.targets), dtype=bool)
    own = own_targets([lever for lever, _ in decision.moves], sight.targets).any(axis=1)
    rod_only = all(one.adjust in ("rod", "tune", "restring") for one in service.work)
    relief = np.array([rod_only and is_relief(one) for one in sight.targets], dtype=bool)
    return np.asarray(np.logical_or(own, relief))


def _worth_confirming(service: Service, now: Estimate, sight: Sight, decision: Decision) -> list[int]:
    """Return the targets that something is to be done for on a figure that may be a slip of the pen, (places).

    What is to be cut is read twice where the string beside it reads just the same: it may be one figure, written down
    for both, and no file puts a cut back. Common practice, no source.
    """
    slips, times, found = slip_chances(service, now, sight), times_read(service, sight), list[int]()
    alike = beside_alike(service)
    for lever, amount in decision.moves:
        made = lever.made(amount)[0]
        kind = adjustment_kind(made)
        own = [place for place, one in enumerate(sight.targets) if kind.verified_by(made, one)]
        if len(own) == 1:
            worth = slips[own[0]] * OUT_MINUTES > WORTH_MINUTES * _reading_minutes(sight)[own[0]]
            one_for_both = lever.confirmed and sight.places[own[0]] in alike
            found += own if worth or (one_for_both and times[own[0]] < TWICE) else []
    return found


def _worth_a_look(
    service: Service,
    now: Estimate,
    sight: Sight,
    decision: Decision,
    may: np.ndarray,
    confirmed: Sequence[int],
) -> list[int]:
    """Return the targets of which one more reading saves more minutes than it costs, most first, (places).

    One by one, each with what those before it, and those `confirmed` anyway, tell of it: what the rod or a post has
    moved together is not read string by string. `may` (T,): which are read at all before the next step.
    """
    noise, least = reading_noise(service, sight.targets), WORTH_MINUTES * _reading_minutes(sight)
    covariance = sight.rows @ now.belief.covariance @ sight.rows.T
    for place in confirmed:
        covariance = after_reading(covariance, place, float(noise[place]))
    found: list[int] = []
    while True:
        known = replace(sight, spread=np.sqrt(np.maximum(np.diag(covariance), 0.0)))
        saved = np.where(may, _saved_minutes(known, decision, noise), 0.0) - least
        saved[found] = -np.inf
        best = int(np.argmax(saved)) if len(saved) else 0
        if not len(saved) or saved[best] <= 0.0:
            return found
        found.append(best)
        covariance = after_reading(covariance, best, float(noise[best]))


def _saved_minutes(sight: Sight, decision: Decision, noise: np.ndarray) -> np.ndarray:
    """Return how many minutes one more reading of each target, of spread `noise`, saves, (T,)."""
    mending = decision.mending
    if mending is None:
        never = np.full(len(sight.targets), np.inf)
        nothing = np.zeros(len(sight.targets))
        mending = Mending(never, nothing, nothing, nothing.astype(bool))
    by_hand = (mending.minutes, mending.spread, mending.least_chance, mending.seen)
    # A rod that is not turned leaves relief as it is, though a turn alone is soon made: all else is set by where it is.
    rod_stays = not any(lever.doubtful for lever, _ in decision.moves)
    left = np.array([rod_stays and is_relief(one) for one in sight.targets], dtype=bool)
    return worth_reading(sight.off, sight.tolerance, sight.spread, noise, by_hand, left)


def _reading_minutes(sight: Sight) -> np.ndarray:
    """Return what reading each target once more costs, (T,): a stopped note is read beside its open one."""
    double = np.array([one.quantity == "intonation" for one in sight.targets])
    return np.where(double, 2.0, 1.0) * minutes_of("reading")


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
    return reading_named(reading)
