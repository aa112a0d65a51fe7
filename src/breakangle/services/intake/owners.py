"""Whose an instrument is: an owner typed in full who may be there already is asked about, and never joined silently.

Alike is told by the fewest letters to change, to put in, to leave out or to swap (optimal string alignment), as
`rapidfuzz` works it out, of the names without case and accents, in either order of their words.
"""

from collections.abc import Iterable

from rapidfuzz.distance import OSA
from sqlalchemy import Connection

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.records.records import Owner
from breakangle.storage.records.store import Writing, add_record, one_record, records_where
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.search.search import WORD, folded

LEAST_ALIKE = 0.8  # chosen: one slip in five letters, two in ten
MOST_ALIKE = 5
NEW, SAME = "new", "same"  # what is answered where it is somebody else, or the one who is asked about


class OwnerAskedError(CorrectInputError):
    """A name that may be an owner's who is there: `owners` are those it may be."""

    def __init__(self, name: str, owners: tuple[Owner, ...]) -> None:
        """Ask whether they are the same person."""
        self.owners = owners
        known = "; ".join(", ".join(part for part in (owner.name, owner.contact) if part) for owner in owners)
        super().__init__(
            tr("is {name} the same person as one who is here already", name=name), known, tr("say which")
        )


def alike(connection: Connection, name: str) -> tuple[Owner, ...]:
    """Return the owners whose names are this one, or near it by spelling, the nearest first."""
    asked = _plain(name)
    if not asked:
        return ()
    near = [(_likeness(asked, _plain(owner.name)), owner) for owner in records_where(connection, Owner)]
    ranked = sorted(
        (pair for pair in near if pair[0] >= LEAST_ALIKE), key=lambda pair: (-pair[0], pair[1].id)
    )
    return tuple(owner for _, owner in ranked[:MOST_ALIKE])


def owner_typed(connection: Writing, stamp: Stamp, name: str, contact: str, answer: str) -> Owner | None:
    """Return the owner chosen by `answer`, or a new one of that name; None where neither was given.

    `answer` is an owner's id, `new` where it is somebody else, `same` the only one
    who may be meant, empty where nobody was asked yet.

    Raises:
        OwnerAskedError: an owner of that name, or one spelled alike, is there, and nobody has said who is meant.
        NoSuchRecordError: no owner of that id.
    """
    if answer and answer not in (NEW, SAME):
        return one_record(connection, Owner, answer)
    if not name.strip():
        return None
    there = () if answer == NEW else alike(connection, name)
    if answer == SAME and len(there) == 1:
        return there[0]
    if there:
        raise OwnerAskedError(name.strip(), there)
    return add_record(connection, Owner, stamp, name=name.strip(), contact=contact.strip(), notes="")


def _plain(name: str) -> tuple[str, ...]:
    return tuple(WORD.findall(folded(name)))


def _likeness(asked: Iterable[str], known: Iterable[str]) -> float:
    """Return how alike two names are, from 0 to 1, as their words stand or sorted, whichever is nearer."""
    pairs = ((" ".join(asked), " ".join(known)), (" ".join(sorted(asked)), " ".join(sorted(known))))
    return max(float(OSA.normalized_similarity(*pair)) for pair in pairs)
