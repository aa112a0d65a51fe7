"""An owner's complaints on paper: what they told the shop, and what they are told about it."""

from collections.abc import Mapping, Sequence

from breakangle.documents.sheets.words import a_sentence, listed, strings_words
from breakangle.model.concern import Answer, Complaint
from breakangle.model.words.speech import mark, tr, tr_n

WHAT = {
    "buzz": mark("buzz"), "rattle": mark("rattle"), "dead-note": mark("dead note"),
    "out-of-tune": mark("out of tune"), "too-high": mark("too high"),
    "too-low": mark("too low"), "hard-to-play": mark("hard to play"), "crackle": mark("crackle"),
    "structure": mark("crack or damage"),
    "other": mark("other"),
}  # fmt: skip
WHEN = {
    "open": mark("on the open string"), "fretted": mark("when fretted"), "soft": mark("played softly"),
    "hard": mark("played hard"),
    "always": mark("always"), "sometimes": mark("now and then"),
}  # fmt: skip
OUTCOME = {
    "gone": mark("It is gone"), "better": mark("It is better, not gone"), "unchanged": mark("It is as it was"),
    "not-found": mark("We did not find it here"),
}  # fmt: skip
CHECKED = {
    "by-ear": mark("checked by ear"), "by-figures": mark("checked by figures"),
    "both": mark("checked by ear and by figures"),
    "not-checked": mark("not checked"),
}  # fmt: skip
PARTS = (("found", mark("Found")), ("cause", mark("Cause")), ("done", mark("Done")))
COMPLAINT, OWN_WORDS = "complaint", "words"  # what a reason is written under, where there is no answer
UNANSWERED = mark("Not answered yet.")


def complaint_words(complaint: Complaint) -> str:
    """Return a complaint in short: what, where, when, how played; without the owner's own words."""
    where = []
    if complaint.strings:
        where.append(strings_words(complaint.strings))
    frets = [str(fret) for fret in sorted(complaint.frets) if fret]
    if frets:
        where.append(tr_n("fret {numbers}", "frets {numbers}", len(frets), numbers=listed(frets)))
    when = dict.fromkeys(tr(WHEN[one]) for one in complaint.when)
    if 0 in complaint.frets:
        when = {tr(WHEN["open"]): None, **when}
    parts = [f"{WHAT[complaint.what]}{tr(' at ') if where else ''}{', '.join(where)}", *when]
    parts += [complaint.played] if complaint.played else []
    return ", ".join(parts)


def told_words(complaint: Complaint) -> str:
    """Return a complaint as a sentence, with the owner's own words where they are kept."""
    own = f" “{complaint.words.strip()}”" if complaint.words.strip() else ""
    return f"{a_sentence(complaint_words(complaint))}{own}"


def answer_words(answer: Answer) -> str:
    """Return what an owner is told about a complaint: how it ended, found, cause, done, how it was checked."""
    said = [f"{OUTCOME[answer.outcome]}, {CHECKED[answer.checked]}."]
    for name, heading in PARTS:
        words = str(getattr(answer, name)).strip()
        if words:
            said.append(f"{heading}: {a_sentence(words)}")
    return " ".join(said)


def complaint_points(
    complaints: Sequence[Complaint], own_words: str, written: Mapping[str, str]
) -> tuple[str, ...]:
    """Return what the owner told, each with its answer; the words of the visit where no complaint holds them.

    `written`: what the bench wrote where there is no answer, by `complaint:` and its number, or `words`.
    """
    held = {complaint.words.strip() for complaint in complaints}
    found = []
    if own_words.strip() and own_words.strip() not in held:
        found.append(
            f"“{own_words.strip()}” {_written(written, OWN_WORDS, '' if complaints else UNANSWERED)}".strip()
        )
    for number, one in enumerate(complaints, start=1):
        answer = _written(written, f"{COMPLAINT}:{number}", tr(UNANSWERED))
        found.append(f"{told_words(one)} {answer if one.answer is None else answer_words(one.answer)}")
    return tuple(found)


def _written(written: Mapping[str, str], key: str, otherwise: str) -> str:
    return a_sentence(written[key]) if written.get(key, "").strip() else otherwise
