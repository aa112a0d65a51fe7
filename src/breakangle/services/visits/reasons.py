"""Reasons that the program itself stores with an entry: stored as keys, said in the language of who looks."""

from breakangle.model.words.speech import mark, tr

OWN = (
    mark("read again"),
    mark("taken away"),
    mark("unit answered"),
    mark("the instrument was described wrongly"),
)
# A key is the reason's English, whatever is spoken when it is stored.
READ_AGAIN, CLEARED, UNIT_ANSWERED, DESCRIBED_WRONGLY = (str.__str__(reason) for reason in OWN)
SAID = {*OWN, mark("undone"), mark("redone")}  # the last two are stored by the records themselves


def reason_said(reason: str | None) -> str:
    """Return an entry's reason in words: the program's own as it is said here, a person's as it was typed."""
    return tr(reason) if reason in SAID else reason or ""
