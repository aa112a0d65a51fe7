"""The pictures of a hand-back sheet: as it came and as it left, readable in grey, as large as there is room for."""

from collections.abc import Sequence
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
USUAL_TEXT, TIGHT_TEXT = 6.5, 5.8  # points


@dataclass(frozen=True)
class State:
    """One state of the instrument: what stands of the visit by then, what is known from it, where it may buzz."""

    service: Service
    now: Estimate
    said: str
    hand: str
    buzz: BuzzMap

    @property
    def lowest(self) -> int:
        """Return the lowest string that starts at the nut."""
        strings = reversed(self.service.instrument_now().in_order())
        return next((one.string for one in strings if one.nut_at_fret == 0), 1)

    def elevation(self, look: Look) -> Picture:
        """Return the side view of the lowest string."""
        return _picture(elevation_of(self.service, self.lowest, now=self.now, look=look), self.said)

    def intonation(self, look: Look) -> Picture:
        """Return the intonation over the board."""
        return _picture(intonation_map(self.service, now=self.now, look=look), self.said)

    def buzzing(self, look: Look, caption: bool = True) -> Picture:
        """Return where it may buzz."""
        drawn = buzz_map(self.service, self.hand, now=self.now, found=self.buzz, look=look)
        return _picture(drawn, self.said, caption)


def _picture(drawing: Drawing, said: str, caption: bool = False) -> Picture:
    alt = f"{drawing.title}, {said}. {drawing.description}"
    return Picture(drawing.svg, alt, said.capitalize() if caption else "")


def states_of(given: Sequence[tuple[Service, Estimate, str]]) -> tuple[State, ...]:
    """Return states from service, estimate and what each is called; their maps of buzz are worked out side by side."""

    def state(one: tuple[Service, Estimate, str]) -> State:
        service, now, said = one
        hand = service.targets.hand if service.targets is not None else USUAL_HAND
        found = buzz_over_board(now.picture, now.belief, playing_of(service, None), (hand,))
        return State(service, now, said, hand, found)

    with ThreadPoolExecutor(max_workers=len(given)) as pool:
        return tuple(pool.map(state, given))


def picture_sets(states: Sequence[State]) -> tuple["PictureSet", ...]:
    """Return sets of pictures, the fullest first: the sheet takes the first that leaves it two pages.

    One state, where no work was done, or two: as it came, and as it left.
    """
    *came, left = states
    if not came:
        return (PictureSet(None, left, 1),)
    return (*(PictureSet(came[0], left, fullness) for fullness in (2, 1, 0)), PictureSet(None, left, 0))


@dataclass(frozen=True)
class PictureSet:
    """One set of pictures; without `came` those of the last state alone.

    `fullness` 2: everything, the buzz of both states below; 1: the buzz of the last one only; 0: of the last state only
    what stands in one row.
    """

    came: State | None
    left: State
    fullness: int

    def pictures(self) -> Pictures:
        """Return the pictures drawn."""
        text = TIGHT_TEXT if self.fullness else USUAL_TEXT
        half, whole = (Look(width=wide, text=text, variant="print") for wide in (HALF_WIDE, WHOLE_WIDE))
        left, said = self.left, self.left.said
        if self.came is None:
            names = f"Side view {said}", f"Intonation {said}"
            row = PictureRow(names, (left.elevation(half), left.intonation(half)))
            return Pictures((row,), (left.buzzing(whole),) if self.fullness else ())
        both = (self.came, left)
        names = self.came.said.capitalize(), said.capitalize()
        views = PictureRow(names, (both[0].elevation(half), both[1].elevation(half)))
        if not self.fullness:
            names = f"Intonation {said}", f"Where it may buzz, {said}"
            return Pictures(
                (views, PictureRow(names, (left.intonation(half), left.buzzing(half, caption=False))))
            )
        notes = PictureRow(("", ""), (both[0].intonation(half), both[1].intonation(half)))
        return Pictures((views, notes), tuple(one.buzzing(whole) for one in both[-self.fullness :]))
