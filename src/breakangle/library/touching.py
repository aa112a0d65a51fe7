"""Where strings touch crowns when they are played, and how low an instrument can go."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from breakangle.library.planned import Hand
from breakangle.library.tabled import Array, every_note, frame
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.services.service_files import buzz as services
from breakangle.services.service_files import lowest as lowest_services
from breakangle.services.service_files.service import estimate_service

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class BuzzMap:
    """What every note does at one strength of play; the open string in column 0, NaN or "" where there is no note.

    Attributes:
        strength: `light`, `medium` or `heavy`.
        strings: string numbers, 1 first, shape (strings,).
        verdict: `clear`, `trace` (touches, not heard), `audible` or `choking`, text of shape (strings, frets + 1).
        probability: chance that the note touches a crown, for what is not known, same shape.
        margin_mm: what is left between swing and nearest crown, negative where it touches, mm, same shape.
        calibrated: whether the classes were tried against ears.
    """

    strength: str
    strings: NDArray[np.int64]
    verdict: NDArray[np.str_]
    probability: Array
    margin_mm: Array
    calibrated: bool

    @property
    def touches(self) -> NDArray[np.bool_]:
        """Return which notes touch a crown, shape (strings, frets + 1)."""
        return np.isin(self.verdict, ("trace", "audible", "choking"))

    @property
    def heard(self) -> NDArray[np.bool_]:
        """Return which notes touch so that it is heard, shape (strings, frets + 1)."""
        return np.isin(self.verdict, ("audible", "choking"))

    def to_dataframe(self) -> "pd.DataFrame":
        """Return a row for each note: `string`, `fret`, `verdict`, `probability`, `margin_mm`.

        Raises:
            InstallError: pandas is not installed.
        """
        names = ("verdict", "probability", "margin_mm")
        notes = every_note(self.strings, 0, self.margin_mm.shape[1] - 1)
        return frame({**notes, **{name: getattr(self, name).ravel() for name in names}})


@dataclass(frozen=True)
class LowestSetup:
    """The lowest set-up at which nothing is heard at one strength of play; arrays of shape (strings,), mm.

    Without `to_set` in its name, a figure is where nothing is heard, however low that is; with it, what is offered: no
    string lower than anybody sets this kind, the nut as it is, relief as wanted where the action gains from no other.

    Attributes:
        strength: `light`, `medium` or `heavy`.
        strings: string numbers, 1 first.
        relief_mm: sag of the board between first and joint fret.
        action_mm: gap over the 12th fret, the first fret held, above which nothing is heard, however low that is.
        action_to_set_mm: the action to set: as `action_mm`, but no lower than anybody sets instruments of this kind.
        nut_clearance_mm: gap of the open string over its first crown.
        action_now_mm: action as it is now.
        limits: the notes heard next below `action_mm`: string, fret (0 open), crown touched.
        in_the_way: what is to be answered before strings go lower, in words.
        relief_to_set_mm: the relief to set with `action_to_set_mm`.
        nut_clearance_to_set_mm: the clearance that then is at the nut.
    """

    strength: str
    strings: NDArray[np.int64]
    relief_mm: float
    action_mm: Array
    action_to_set_mm: Array
    nut_clearance_mm: Array
    action_now_mm: Array
    limits: tuple[tuple[int, int, int], ...]
    in_the_way: tuple[str, ...]
    relief_to_set_mm: float
    nut_clearance_to_set_mm: Array

    def to_dataframe(self) -> "pd.DataFrame":
        """Return a row for each string: `string`, then the columns from `action_mm` on.

        Raises:
            InstallError: pandas is not installed.
        """
        names = (
            "action_mm",
            "action_to_set_mm",
            "nut_clearance_mm",
            "action_now_mm",
            "nut_clearance_to_set_mm",
        )
        return frame({"string": self.strings, **{name: getattr(self, name) for name in names}})


def buzz(service: Service, strength: Hand = "medium", *, earlier: Sequence[Service] = ()) -> BuzzMap:
    """Return where an instrument, as read and worked on so far, touches its crowns when it is played.

    Args:
        service: instrument, readings and the work so far.
        strength: how hard it is played.
        earlier: the same instrument's earlier visits, oldest first; what its neck does is learned from them.

    Raises:
        CorrectInputError: a strength that is not known, or earlier visits of another instrument.
        ReadAgainError: readings that no instrument fits.

    Source: C. Issanchou and others (2017), J. Sound Vib. 393, 229, for the losses; the method and what it was held to
    stand in docs/contact.md.
    """
    found = services.buzz(service, (strength,), now=_known(service, earlier)).map
    shape = (found.string_count, found.fret_count + 1)
    verdict = np.full(shape, "", dtype="<U8")
    probability, margin_mm = np.full(shape, np.nan), np.full(shape, np.nan)
    for one in found.notes:
        place = one.string - 1, one.stop
        verdict[place], probability[place], margin_mm[place] = one.verdict, one.probability, one.margin_mm
    return BuzzMap(
        strength,
        np.arange(1, found.string_count + 1),
        verdict,
        probability,
        margin_mm,
        found.playing.classes.calibrated,
    )


def lowest(
    service: Service, strength: Hand = "medium", *, margin_mm: float = 0.02, earlier: Sequence[Service] = ()
) -> LowestSetup:
    """Return how low an instrument can go without a touch being heard, and how low it is to be set.

    Args:
        service: instrument, readings and the work so far.
        strength: how hard it is played.
        margin_mm: what is left everywhere between swing and crown, mm.
        earlier: the same instrument's earlier visits, oldest first; what its neck does is learned from them.

    Raises:
        CorrectInputError: a strength that is not known, nothing free of buzz, or earlier visits of another instrument.
        ReadAgainError: readings that no instrument fits.

    Source: as `buzz`; the least heights are found by linear programming, docs/contact.md.
    """
    found = lowest_services.lowest_setup(service, strength, margin_mm, now=_known(service, earlier))
    return LowestSetup(
        strength,
        np.arange(1, len(found.lowest.action_mm) + 1),
        float(found.lowest.relief_mm),
        np.array(found.lowest.action_mm),
        np.array(found.to_set_mm),
        np.array(found.lowest.nut_mm),
        np.array(found.now.action_mm),
        tuple((limit.string, limit.stop, limit.crown) for limit in found.lowest.limits),
        found.in_the_way,
        float(found.to_set.relief_mm),
        np.array(found.to_set.nut_mm),
    )


def _known(service: Service, earlier: Sequence[Service]) -> Estimate | None:
    """Return the state as earlier visits help to know it; None where there are none."""
    return estimate_service(service, earlier) if earlier else None
