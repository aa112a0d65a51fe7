"""What was meant where nothing is found: each word that no record has is replaced by the one most like it.

Alike is told by the fewest letters to change, to put in, to leave out or to swap (optimal string alignment), as
`rapidfuzz` works it out.
"""

from collections.abc import Sequence

from rapidfuzz import process
from rapidfuzz.distance import OSA
from sqlalchemy import Connection, text

from breakangle.storage.search.search import WORD, folded

LEAST_LETTERS, LEAST_ALIKE = 4, 0.62  # chosen: one slip in four letters, two in six, three in eight
LEAST_BESIDE = 3  # letters, beside another word that says whose it is
SQLITE_WORDS = (
    "CREATE VIRTUAL TABLE IF NOT EXISTS temp.found_vocabulary USING fts5vocab(main, 'found_words', 'row')",
    "SELECT term FROM temp.found_vocabulary",
)
POSTGRESQL_WORDS = ("SELECT word FROM ts_stat('SELECT to_tsvector(''simple'', words) FROM found')",)


def meant(connection: Connection, words: str) -> str:
    """Return `words` with each that begins no word of the records replaced by the word most like it.

    Nothing where a word is like none, all of them are there as they are, or one is shorter than four letters: three,
    where another word stands beside it.
    """
    asked = WORD.findall(folded(words))
    known = _vocabulary(connection)
    least = LEAST_BESIDE if len(asked) > 1 else LEAST_LETTERS
    replaced = [word if _begins_any(word, known) else _most_like(word, known, least) for word in asked]
    if not replaced or not all(replaced) or replaced == asked:
        return ""
    return " ".join(replaced)


def _vocabulary(connection: Connection) -> Sequence[str]:
    statements = SQLITE_WORDS if connection.dialect.name == "sqlite" else POSTGRESQL_WORDS
    for statement in statements[:-1]:
        connection.execute(text(statement))
    return connection.execute(text(statements[-1])).scalars().all()


def _begins_any(word: str, known: Sequence[str]) -> bool:
    return any(other.startswith(word) for other in known)


def _most_like(word: str, known: Sequence[str], least: int) -> str:
    if len(word) < least:
        return ""
    found = process.extractOne(
        word, known, scorer=OSA.normalized_similarity, score_cutoff=LEAST_ALIKE, processor=None
    )
    return str(found[0]) if found else ""
