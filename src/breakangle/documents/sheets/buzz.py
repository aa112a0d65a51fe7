"""How touches that are heard are told to an owner: counted only where the shop set its strengths of play itself."""

from breakangle.model.words.speech import mark, tr, tr_n
from breakangle.planning.buzz.buzz_map import BuzzMap, NoteBuzz

DOUBTFUL_SHARE = 0.05  # from this chance on a clear note may touch all the same, as the map of buzz has it
WORKED_OUT = mark("This is calculated from the heights, not listened for.")
NOT_OUR_EAR = mark(
    "This is calculated from the heights and a usual strength of play that this shop has "
    "not set by ear; nobody listened for it."
)


def buzz_words(came: BuzzMap | None, left: BuzzMap | None, hand: str, now: str) -> str:
    """Return whether touches are heard when the instrument is played as its owner plays; empty where unknown.

    Args:
        came: the map as it came; None where its heights were not read, or nothing was done since.
        left: the map of the last state.
        hand: how hard it is played.
        now: what the last state is called.
    """
    if left is None:
        return ""
    own = left.playing.own
    told = [
        f"{said}, {_counted(found) if own else _told(found)}"
        for found, said in ((came, tr("as it came")), (left, now))
        if found is not None
    ]
    return tr(
        "Played by a {hand} hand: {told}. {worked_out}",
        hand=tr(hand),
        told="; ".join(told),
        worked_out=WORKED_OUT if own else NOT_OUR_EAR,
    )


def _close(found: BuzzMap) -> list[NoteBuzz]:
    return [note for note in found.notes if note.verdict == "clear" and note.probability >= DOUBTFUL_SHARE]


def _told(found: BuzzMap) -> str:
    """Return whether touches are heard, and where worst, without a count."""
    if heard := _heard(found):
        worst = min(heard, key=lambda one: one.margin_mm)
        return tr("notes may be heard to touch a fret, {place} first", place=_place(worst))
    if any(note.verdict == "trace" for note in found.notes):
        return tr("no note is heard to touch a fret")
    if close := _close(found):
        worst = max(close, key=lambda one: one.probability)
        return tr("no note is found to touch a fret, {place} too close to call", place=_place(worst))
    return tr("every note clears the frets")


def _heard(found: BuzzMap) -> list[NoteBuzz]:
    return [note for note in found.notes if note.verdict in ("audible", "choking")]


def _place(note: NoteBuzz) -> str:
    return tr(
        "string {string} {open}",
        string=note.string,
        open=tr("open") if note.stop == 0 else tr("held at fret {stop}", stop=note.stop),
    )


def _counted(found: BuzzMap) -> str:
    """Return how many notes are heard to touch, and of how many that cannot be told."""
    notes, close, heard = len(found.notes), len(_close(found)), len(_heard(found))
    told = tr_n(
        "{heard} of {notes} notes is heard to touch a fret",
        "{heard} of {notes} notes are heard to touch a fret",
        heard,
        heard=heard or tr("none"),
        notes=notes,
    )
    return (
        tr_n(
            "{told} and {close} is too close to call",
            "{told} and {close} are too close to call",
            close,
            told=told,
            close=close,
        )
        if close
        else told
    )
