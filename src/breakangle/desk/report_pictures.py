"""The pictures of a hand-back sheet: as it came and as it left, readable in grey, as large as there is room for."""

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from breakangle.desk.buzz import playing_of
from breakangle.desk.pictures import buzz_map, elevation_of, intonation_map
from breakangle.model.service import Service
from breakangle.planning.buzz import BuzzMap
from breakangle.planning.buzz import buzz_map as buzz_over_board
from breakangle.planning.estimate import Estimate
from breakangle.report.drawings.look import Drawing, Look
from breakangle.report.hand_back import PictureRow, Pictures
from breakangle.report.page import Picture

HALF_WIDE, WHOLE_WIDE = 240.0, 482.0  # points: a column, and the width of the page between its margins
USUAL_HAND = "medium"
HEIGHTS, NOTES = frozenset({"relief", "action"}), frozenset({"intonation"})  # what must have been read
VIEWED = ("relief", "action", "nut clearance")  # what a side view writes, if it was read of its string
USUAL_TEXT, TIGHT_TEXT = 6.5, 5.8  # points


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
        return next((one.string for one in strings if one.nut_at_fret == 0), 1)

    def elevation(self, look: Look) -> Picture:
        """Return the side view of the lowest string, with the figures that are known of it."""
        lowest = self.lowest
        unread = [one for one in VIEWED if one not in self.sorts or (one, lowest) in self.unread]
        drawn = elevation_of(self.service, lowest, now=self.now, left_out=unread, look=look)
        return _picture(drawn, self.said)

    def intonation(self, look: Look) -> Picture:
        """Return the intonation over the board."""
        return _picture(intonation_map(self.service, now=self.now, look=look), self.said)

    def buzzing(self, look: Look, caption: bool = True) -> Picture:
        """Return where it may buzz; only where heights were read."""
        drawn = buzz_map(self.service, self.hand, now=self.now, found=self.buzz, look=look)
        return _picture(drawn, self.said, caption)


def _picture(drawing: Drawing, said: str, caption: bool = False) -> Picture:
    alt = f"{drawing.title}, {said}. {drawing.description}"
    return Picture(drawing.svg, alt, said.capitalize() if caption else "")


def states_of(given: Sequence[Told]) -> tuple[State, ...]:
    """Return states with their maps of buzz, worked out side by side where heights were read."""

    def state(one: Told) -> State:
        hand = one.service.targets.hand if one.service.targets is not None else USUAL_HAND
        picture, belief = one.now.picture, one.now.belief
        known = one.sorts >= HEIGHTS
        found = buzz_over_board(picture, belief, playing_of(one.service, None), (hand,)) if known else None
        return State(one.service, one.now, one.said, one.sorts, one.unread, hand, found)

    with ThreadPoolExecutor(max_workers=len(given)) as pool:
        return tuple(pool.map(state, given))


def picture_sets(states: Sequence[State]) -> Iterator[Pictures]:
    """Yield sets of pictures, the fullest first: the sheet takes the first that leaves it two pages.

    With two states, as it came and as it left: everything; without the buzz as it came; only the last state's
    intonation and buzz. Then the last state's side view and intonation alone. What was not read is in none of them.
    """
    half, whole = (Look(width=wide, text=TIGHT_TEXT, variant="print") for wide in (HALF_WIDE, WHOLE_WIDE))
    if len(states) > 1:
        buzzing = [one.buzzing(whole) for one in states if one.has_heights]
        rows = _rows(_views(states, half), _notes(states, half))
        yield Pictures(rows, tuple(buzzing))
        if len(buzzing) > 1:
            yield Pictures(rows, tuple(buzzing[1:]))
    left, usual = states[-1:], Look(width=HALF_WIDE, text=USUAL_TEXT, variant="print")
    if len(states) > 1:
        buzz = [
            (f"Where it may buzz, {one.said}", one.buzzing(usual, caption=False))
            for one in left
            if one.has_heights
        ]
        yield Pictures(_rows(_views(states, usual), [*_notes(left, usual), *buzz]))
    else:
        rows = _rows(_views(left, half), _notes(left, half))
        yield Pictures(rows, tuple(one.buzzing(whole) for one in left if one.has_heights))
    yield Pictures(_rows(_views(left, usual), _notes(left, usual)))


Named = tuple[str, Picture]


def _views(states: Sequence[State], look: Look) -> list[Named]:
    return [(f"Side view, {one.said}", one.elevation(look)) for one in states if one.has_heights]


def _notes(states: Sequence[State], look: Look) -> list[Named]:
    return [(f"Intonation, {one.said}", one.intonation(look)) for one in states if one.has_notes]


def _rows(*sorts: Sequence[Named]) -> tuple[PictureRow, ...]:
    """Return rows of two: pairs of one sort together, and whatever is single beside each other."""
    rows = [PictureRow(one[0], one[1]) for one in sorts if len(one) == 2]
    rest = [one[0] for one in sorts if len(one) == 1]
    rows += [PictureRow(*rest[place : place + 2]) for place in range(0, len(rest), 2)]
    return tuple(rows)
