"""The drawings of a hand-back sheet's second page, readable in grey, as large as there is room for."""

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from breakangle.documents.renderers.page import Picture
from breakangle.documents.sheets.hand_back_figures import Pictures
from breakangle.drawings.look import Drawing, Look
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.planning.buzz.buzz_map import BuzzMap
from breakangle.planning.buzz.buzz_map import buzz_map as buzz_over_board
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.verdict.crowns import with_crowns_as_read
from breakangle.services.service_files.buzz import playing_of
from breakangle.services.service_files.pictures import elevation_of, intonation_map

WHOLE_WIDE = 482.0  # points: the width of the page between its margins
USUAL_HAND = "medium"
RECKONED = mark("calculated")
HEIGHTS, NOTES = frozenset({"relief", "action"}), frozenset({"intonation"})  # what must have been read
VIEWED = ("relief", "action", "nut clearance")  # what a side view writes, if it was read of its string
# A map's figures are so much smaller than a drawing's other words; chosen.
SMALLEST_PT, SMALLEST_RATIO = 9.0, 0.85
TEXT_PT = SMALLEST_PT / SMALLEST_RATIO


@dataclass(frozen=True)
class Told:
    """What is drawn of: a state of the visit, what it is called, and of which sorts of figure its readings tell.

    `unread`: the figures, by sort and string, that its readings do not tell enough of.
    """

    service: Service
    now: Estimate
    said: str
    sorts: frozenset[str]
    unread: frozenset[tuple[str, int]]


@dataclass(frozen=True)
class State(Told):
    """One state of the instrument, and where it may buzz, if its heights were read."""

    hand: str
    buzz: BuzzMap | None

    @property
    def has_heights(self) -> bool:
        """Return whether readings tell how high the strings stand."""
        return self.sorts >= HEIGHTS

    @property
    def has_notes(self) -> bool:
        """Return whether readings tell how true the notes are."""
        return self.sorts >= NOTES

    @property
    def lowest(self) -> int:
        """Return the lowest string that starts at the nut."""
        strings = reversed(self.service.instrument_now().in_order())
        return next((string.string for string in strings if string.nut_at_fret == 0), 1)

    def elevation(self, look: Look) -> Picture:
        """Return the side view of the lowest string, with the figures that are known of it."""
        lowest = self.lowest
        unread = [one for one in VIEWED if one not in self.sorts or (one, lowest) in self.unread]
        drawn = elevation_of(self.service, lowest, now=self.now, left_out=unread, look=look)
        return _picture(drawn, self.said)

    def intonation(self, look: Look) -> Picture:
        """Return the intonation over the board."""
        return _picture(intonation_map(self.service, now=self.now, look=look), self.said)


def _picture(drawing: Drawing, said: str) -> Picture:
    return Picture(drawing.svg, f"{drawing.title}, {said}. {drawing.description}")


def states_of(given: Sequence[Told]) -> tuple[State, ...]:
    """Return states with their maps of buzz, worked out side by side where heights were read."""

    def state(one: Told) -> State:
        hand = one.service.targets.hand if one.service.targets is not None else USUAL_HAND
        picture, belief = with_crowns_as_read(one.service, one.now), one.now.belief
        known = one.sorts >= HEIGHTS
        found = buzz_over_board(picture, belief, playing_of(one.service, None), (hand,)) if known else None
        return State(one.service, one.now, one.said, one.sorts, one.unread, hand, found)

    with ThreadPoolExecutor(max_workers=len(given)) as pool:
        return tuple(pool.map(state, given))


def picture_sets(state: State, on_paper: bool = True, inch: bool = False) -> Iterator[Pictures]:
    """Yield sets of drawings of the last state, the fullest first: the sheet takes the first that leaves it two pages.

    Paper has room for one beside the table of strings: the map of intonation, or the side view where that was not read.
    What was not read is in none of them. The smallest word on a drawing has nine points.
    """
    look = Look(width=WHOLE_WIDE, text=TEXT_PT, variant="print", units="inch" if inch else "mm")
    views = (
        [(tr("Side view, {said} ({reckoned})", said=state.said, reckoned=RECKONED), state.elevation(look))]
        if state.has_heights
        else []
    )
    notes = (
        [(tr("Intonation, {said} ({reckoned})", said=state.said, reckoned=RECKONED), state.intonation(look))]
        if state.has_notes
        else []
    )
    if views and notes and not on_paper:
        yield Pictures((*views, *notes))
    for one in (*notes, *views):
        yield Pictures((one,))
