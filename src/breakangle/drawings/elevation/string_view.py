"""One string's part of an elevation."""

from dataclasses import dataclass

from breakangle.drawings.elevation.moves import Move
from breakangle.drawings.elevation.profile import Figure, Measure, Profile
from breakangle.model.words.speech import tr


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
        return tr("String {string}, {note}", string=self.string, note=self.note) + (
            tr(", course {course}", course=self.course) if self.course is not None else ""
        )
