"""One string's part of an elevation."""

from dataclasses import dataclass

from breakangle.report.drawings.moves import Move
from breakangle.report.drawings.profile import Figure, Measure, Profile


@dataclass(frozen=True)
class StringView:
    """One string's part of the elevation: what is drawn of it now and afterwards."""

    string: int
    note: str
    now: Profile
    after: Profile | None
    measures: tuple[Measure, ...]
    figures: tuple[Figure, ...]
    figures_after: tuple[Figure, ...]
    moves: tuple[Move, ...]
