"""What was found, left alone and is still open: sentences for an owner, none that readings do not support."""

from collections.abc import Sequence
from dataclasses import dataclass

from breakangle.planning.buzz import BuzzMap
from breakangle.report.standing import Figure, Group, Standing, worst
from breakangle.report.words import NO_BREAK, a_sentence, figure, how_sure, listed, number, strings_words


@dataclass(frozen=True)
class Saying:
    """How a sort of figure is told to an owner: its name, what it is, what too little and too much of it are."""

    name: str
    told: str
    low: str
    high: str


DOUBTFUL_SHARE = 0.05  # from this chance on a clear note may touch all the same, as the map of buzz has it
SAYINGS = {
    "relief": Saying("Relief", "the slight bow of the neck under the strings", "too straight", "too bowed"),
    "action": Saying("Action", "the height of the strings over the 12th fret", "too low", "too high"),
    "nut clearance": Saying(
        "Height at the nut", "how far the strings clear the first fret", "too low", "too high"
    ),
    "intonation": Saying("Intonation", "how true the notes stay up the neck", "flat", "sharp"),
}


def saying(name: str) -> Saying:
    """Return how a sort of figure is told to an owner; one that nobody has put in words goes by its own name."""
    return SAYINGS.get(name, Saying(name.capitalize(), "", "too little", "too much"))


def found_words(standing: Standing) -> tuple[str, ...]:
    """Return a sentence for each sort of figure as the instrument came in, and one for what was not read."""
    found = [_found(group) for group in standing.groups if group.judged(after=False)]
    unread = [saying(group.name).name.lower() for group in standing.groups if not group.judged(after=False)]
    if unread:
        found.append(
            f"Not read when it came in, or too little of it, so nothing is said of it here: {listed(unread)}."
        )
    return tuple(found)


def _found(group: Group) -> str:
    says = saying(group.name)
    told = f" ({says.told})" if says.told else ""
    judged, outside = group.judged(after=False), group.outside(after=False)
    sure = how_sure(group.spread(after=False), group.unit)
    if not outside:
        return f"{says.name}{told}: as it should be, {_range(judged, after=False)}{NO_BREAK}{group.unit}, {sure}."
    ways = [
        (says.high, [one for one in outside if one.off(after=False) > 0]),
        (says.low, [one for one in outside if one.off(after=False) < 0]),
    ]
    parts = []
    for way, figures in ways:
        if figures:
            far = worst(figures, after=False)
            at_most = "" if len(figures) == 1 else f", string {far.string} most"
            parts.append(f"{way}{_where(figures, group)}{at_most} ({_read_words(far, after=False)})")
    return f"{says.name}{told}: {'; '.join(parts)}; read {sure}."


def _read_words(far: Figure, after: bool) -> str:
    """Return what was read beside what is wanted; where nothing but zero is wanted, the reading says it all."""
    value, spread = (far.after, far.after_spread) if after else (far.before, far.before_spread)
    if far.wanted == 0.0:
        return figure(abs(value), spread, far.unit)
    return f"{figure(value, spread, far.unit)}, where {figure(far.wanted, 0.0, far.unit)} is wanted"


def _where(figures: Sequence[Figure], group: Group) -> str:
    if len(figures) == len(group.figures) and len(figures) > 2:
        return " on every string"
    return f" at {strings_words([one.string for one in figures])}"


def _range(figures: Sequence[Figure], after: bool) -> str:
    """Return the least and the greatest of figures, or the one there is, without their unit."""
    values = [(one.after, one.after_spread) if after else (one.before, one.before_spread) for one in figures]
    spread, unit = max(wide for _, wide in values), figures[0].unit
    low, high = (number(pick(value for value, _ in values), spread, unit) for pick in (min, max))
    return low if low == high else f"{low} to {high}"


def left_alone(standing: Standing, beyond: Sequence[str]) -> tuple[str, ...]:
    """Return what was not touched because it was right, and what is still out and why.

    `beyond` holds the planner's reasons for what no set-up reaches, each naming its sort of figure.
    """
    right = [
        saying(group.name).name
        for group in standing.groups
        if group.judged(after=False) and not group.outside(after=False) and not group.outside(after=True)
    ]
    found = []
    if right:
        names = listed([right[0], *(one.lower() for one in right[1:])])
        were = "was right already" if len(right) == 1 else "were right already"
        found.append(f"{names} {were}, and what is right is best left alone.")
    return (*found, *(_still(group, beyond) for group in standing.groups if group.outside(after=True)))


def _still(group: Group, beyond: Sequence[str]) -> str:
    says, outside = saying(group.name), group.outside(after=True)
    parts = []
    for way, sign in ((says.high, 1.0), (says.low, -1.0)):
        figures = [one for one in outside if sign * one.off(after=True) > 0]
        if figures:
            far = worst(figures, after=True)
            most = f", string {far.string} most" if len(figures) > 1 else ""
            parts.append(f"{way}{_where(figures, group)}{most} ({_read_words(far, after=True)})")
    reasons = [one.rpartition("; ")[2].rstrip(".") for one in beyond if f": {group.name} at" in one]
    why = f"It is beyond a set-up: {reasons[0]}." if reasons else "It was left for another visit."
    return f"{says.name} is {_since(outside)}{' and '.join(parts)}. {why}"


def _since(outside: Sequence[Figure]) -> str:
    """Return whether figures that are out were out when it came, or came out by the work; nothing where unknown."""
    came = [one.inside(after=False) for one in outside if one.before_judged]
    if False in came:
        return "still "
    return "now " if len(came) == len(outside) else ""


def in_short(standing: Standing, done: bool) -> str:
    """Return the sheet's first sentence: how the instrument goes back."""
    out = [saying(group.name).name.lower() for group in standing.groups if group.outside(after=True)]
    known = [group for group in standing.groups if group.judged(after=True)]
    if not known:
        says = "; this sheet says what was done" if done else ""
        return f"Nothing that was read tells enough to say how it plays{says}."
    right = [saying(group.name).name.lower() for group in known if not group.outside(after=True)]
    hand = f"a {standing.hand} hand" if standing.hand != "medium" else "an ordinary hand"
    if not out:
        how = "It goes back set up for" if done else "It needed nothing and is right for"
        fine = "are as they should be" if len(right) > 1 else "is as it should be"
        return f"{how} {hand}: {listed(right)} {fine}."
    some = f"{listed(right)} {'are' if len(right) > 1 else 'is'} right; " if right else ""
    off = f"{listed(out)} {'are' if len(out) > 1 else 'is'} not where we would like"
    return a_sentence(f"{some}{off}; why is said below")


def before_after_rows(standing: Standing) -> tuple[tuple[str, ...], ...]:
    """Return a row for each sort of figure: its name and unit, as it came, as it left, what is wanted."""
    rows = []
    for group in standing.groups:
        came, left = group.judged(after=False), group.judged(after=True)
        if came or left:
            wanted = sorted(
                {number(one.wanted, 0.0, group.unit) for one in group.figures},
                key=lambda one: float(one.replace("−", "-")),
            )
            rows.append(
                (
                    f"{saying(group.name).name}, {group.unit}".replace(" ", NO_BREAK),
                    _range(came, after=False) if came else "not read",
                    _range(left, after=True) if left else "not read",
                    wanted[0] if len(wanted) == 1 else f"{wanted[0]} to {wanted[-1]}",
                )
            )
    return tuple(rows)


def known_unlike(standing: Standing, now: str) -> str:
    """Return of which strings the two columns of `before_after_rows` tell, where those are not the same strings."""
    told = []
    for group in standing.groups:
        came, left = ([one.string for one in group.judged(after)] for after in (False, True))
        if came and left and set(came) != set(left):
            known = f"{strings_words(came)} as it came, and of {strings_words(left)} {now}"
            told.append(f"{saying(group.name).name} is known of {known}.")
    return " ".join(told)


def buzz_words(came: BuzzMap | None, left: BuzzMap | None, hand: str, now: str) -> str:
    """Return how many notes touch a crown when the instrument is played as its owner plays; empty where unknown.

    Args:
        came: the map as it came; None where its heights were not read, or nothing was done since.
        left: the map of the last state.
        hand: how hard it is played.
        now: what the last state is called.
    """
    if left is None:
        return ""
    told = [
        f"{said}, {_touching(found)}"
        for found, said in ((came, "as it came"), (left, now))
        if found is not None
    ]
    player = "an ordinary hand" if hand == "medium" else f"a {hand} hand"
    return f"Played by {player}: {'; '.join(told)}. This is worked out from the heights, not listened for."


def _touching(found: BuzzMap) -> str:
    """Return how many notes touch, and of how many that cannot be told."""
    notes = len(found.notes)
    touching = sum(one.verdict != "clear" for one in found.notes)
    close = sum(one.verdict == "clear" and one.probability >= DOUBTFUL_SHARE for one in found.notes)
    told = f"{touching or 'none'} of {notes} notes touch{'' if touching > 1 else 'es'} a fret"
    return f"{told} and {close} {'is' if close == 1 else 'are'} too close to call" if close else told
