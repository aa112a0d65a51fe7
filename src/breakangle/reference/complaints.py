"""What decides each sort of complaint: the places that are read, and what a hand or an ear looks at besides."""

from dataclasses import dataclass
from functools import cache

from breakangle.reference.rows import look_up, read_table


@dataclass(frozen=True)
class Deciding:
    """What decides one sort of complaint.

    `stations` are stations of a bench's readings, `open` those for an open string besides. `crowns`: how many are read
    from the fret named on, and the gap over the next one. `stopped`: the pitch at the frets named. `look` is the name
    of a message.
    """

    stations: tuple[str, ...]
    open: tuple[str, ...] = ()
    crowns: int = 0
    stopped: bool = False
    look: str = ""


@cache
def complaint_kinds() -> dict[str, Deciding]:
    """Return what decides a complaint by its sort."""
    return {
        what: Deciding(
            tuple(row["stations"]),
            tuple(row.get("open", ())),
            int(row.get("crowns", 0)),
            bool(row.get("stopped", False)),
            str(row.get("look", "")),
        )
        for what, row in read_table("complaints").items()
    }


def deciding(what: str) -> Deciding:
    """Return what decides this sort of complaint.

    Raises:
        CorrectInputError: no such sort.
    """
    return look_up("complaint", what, complaint_kinds())
