"""One string's part of an elevation."""

from dataclasses import dataclass

from breakangle.drawings.elevation.moves import Move
from breakangle.drawings.elevation.profile import Figure, Measure, Profile


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
    course: int | None = None

    @property
    def words(self) -> str:
        """Return which string it is, such as `String 12, E2, course 6`."""
        return f"String {self.string}, {self.note}" + (
            f", course {self.course}" if self.course is not None else ""
        )
