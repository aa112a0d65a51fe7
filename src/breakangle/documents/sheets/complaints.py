"""An owner's complaints on paper: what they told the shop, and what they are told about it."""

from collections.abc import Mapping, Sequence

from breakangle.documents.sheets.words import a_sentence, listed, strings_words
from breakangle.model.concern import Answer, Complaint

WHAT = {
    "buzz": "buzz", "rattle": "rattle", "dead-note": "dead note", "out-of-tune": "out of tune", "too-high": "too high",
    "too-low": "too low", "hard-to-play": "hard to play", "crackle": "crackle", "structure": "crack or damage",
    "other": "other",
}  # fmt: skip
WHEN = {
    "open": "on the open string", "fretted": "when fretted", "soft": "played softly", "hard": "played hard",
    "always": "always", "sometimes": "now and then",
}  # fmt: skip
OUTCOME = {
    "gone": "It is gone", "better": "It is better, not gone", "unchanged": "It is as it was",
    "not-found": "We did not find it here",
}  # fmt: skip
CHECKED = {
    "by-ear": "checked by ear", "by-figures": "checked by figures", "both": "checked by ear and by figures",
    "not-checked": "not checked",
}  # fmt: skip
PARTS = (("found", "Found"), ("cause", "Cause"), ("done", "Done"))
COMPLAINT, OWN_WORDS = "complaint", "words"  # what a reason is written under, where there is no answer
UNANSWERED = "Not answered yet."


def complaint_words(complaint: Complaint) -> str:
    """Return a complaint in short: what, where, when, how played; without the owner's own words."""
    where = []
    if complaint.strings:
        where.append(strings_words(complaint.strings))
    frets = [str(fret) for fret in sorted(complaint.frets) if fret]
    if frets:
        where.append(f"fret{'s' if len(frets) > 1 else ''} {listed(frets)}")
    when = dict.fromkeys(WHEN[one] for one in complaint.when)
    if 0 in complaint.frets:
        when = {WHEN["open"]: None, **when}
    parts = [f"{WHAT[complaint.what]}{' at ' if where else ''}{', '.join(where)}", *when]
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
        answer = _written(written, f"{COMPLAINT}:{number}", UNANSWERED)
        found.append(f"{told_words(one)} {answer if one.answer is None else answer_words(one.answer)}")
    return tuple(found)


def _written(written: Mapping[str, str], key: str, otherwise: str) -> str:
    return a_sentence(written[key]) if written.get(key, "").strip() else otherwise
