"""What was found, left alone and is still open: sentences for an owner, none that readings do not support."""

from collections.abc import Sequence
from dataclasses import dataclass

from breakangle.documents.sheets.standing import Figure, Group, Standing, worst
from breakangle.documents.sheets.words import (
    NO_BREAK,
    RECKONED,
    a_sentence,
    figure,
    listed,
    number,
    printed,
    strings_words,
)
from breakangle.model.words.speech import mark, tr, tr_n


@dataclass(frozen=True)
class Saying:
    """How a sort of figure is told to an owner: its name, what it is, what too little and too much of it are."""

    name: str
    told: str
    low: str
    high: str


AS_IT_SHOULD_BE, WITHIN = mark("as it should be"), mark("within tolerance")
SAYINGS = {
    "relief": Saying(
        mark("Relief"),
        mark("the slight bow of the neck under the strings"),
        mark("too straight"),
        mark("too bowed"),
    ),
    "action": Saying(
        mark("Action"),
        mark("the height of the strings over the 12th fret"),
        mark("too low"),
        mark("too high"),
    ),
    "nut clearance": Saying(
        mark("Height at the nut"),
        mark("how far the strings clear the first fret"),
        mark("too low"),
        mark("too high"),
    ),
    "intonation": Saying(
        mark("Intonation"), mark("how true the notes stay up the neck"), mark("flat"), mark("sharp")
    ),
}


def saying(name: str) -> Saying:
    """Return how a sort of figure is told to an owner; one that nobody has put in words goes by its own name."""
    return SAYINGS.get(name, Saying(name.capitalize(), "", tr("too little"), tr("too much")))


def found_words(standing: Standing, clear: bool = True) -> tuple[str, ...]:
    """Return a sentence for each sort of figure as the instrument came in, and one for what was not read.

    `clear`: nothing was found beside the figures, no note that touches among it; else none is called as it should be.
    """
    found = [_found(group, clear) for group in standing.groups if group.judged(after=False)]
    unread = [saying(group.name).name.lower() for group in standing.groups if not group.judged(after=False)]
    if unread:
        found.append(
            tr(
                "Not read when it came in, or too little of it, so nothing is said of it here: {listed}.",
                listed=listed(unread),
            )
        )
    return tuple(found)


def _found(group: Group, clear: bool) -> str:
    says = saying(group.name)
    told = f" ({says.told})" if says.told else ""
    judged, outside = group.judged(after=False), group.outside(after=False)
    lacking = _unread_words(group, after=False)
    if not outside:
        fine = AS_IT_SHOULD_BE if clear else WITHIN
        where = (
            tr(" at {strings_words}", strings_words=strings_words([one.string for one in judged]))
            if lacking
            else ""
        )
        figures = f"{_range(judged, after=False)}{NO_BREAK}{tr(group.unit)}"
        return f"{says.name}{told}: {fine}{where}, {figures}{lacking}."
    ways = [
        (says.high, [one for one in outside if one.off(after=False) > 0]),
        (says.low, [one for one in outside if one.off(after=False) < 0]),
    ]
    parts = []
    for way, figures_out in ways:
        if figures_out:
            far = worst(figures_out, after=False)
            at_most = "" if len(figures_out) == 1 else tr(", string {string} most", string=far.string)
            parts.append(f"{way}{_where(figures_out, group)}{at_most} ({_read_words(far, after=False)})")
    return f"{says.name}{told}: {'; '.join(parts)}{lacking}."


def _unread_words(group: Group, after: bool) -> str:
    """Return the strings at which nobody read a sort of figure that is told of; nothing where all were read."""
    unread = [one.string for one in group.figures if not one.judged(after)]
    return tr("; not read at {strings_words}", strings_words=strings_words(unread)) if unread else ""


def _read_words(far: Figure, after: bool) -> str:
    """Return what was read beside what is wanted; where nothing but zero is wanted, the reading says it all."""
    spread = far.after_spread if after else far.before_spread
    value, read = far.printed(after), far.read(after) is not None
    if far.wanted == 0.0:
        value = abs(value)
    told = (
        f"{printed(value, spread, far.unit, read)}{NO_BREAK}{tr(far.unit)}{'' if read else tr(' calculated')}"
    )
    return (
        told
        if far.wanted == 0.0
        else tr("{told}, where {figure} is wanted", told=told, figure=figure(far.wanted, 0.0, far.unit))
    )


def _where(figures: Sequence[Figure], group: Group) -> str:
    if len(figures) == len(group.figures) and len(figures) > 2:
        return tr(" on every string")
    return tr(" at {strings_words}", strings_words=strings_words([one.string for one in figures]))


def _range(figures: Sequence[Figure], after: bool) -> str:
    """Return the least and the greatest of figures, or the one there is, without their unit; reckoned ones marked."""
    spread = max((one.after_spread if after else one.before_spread) for one in figures)
    ranked = sorted(figures, key=lambda one: one.printed(after))
    ends = (ranked[0], ranked[-1])
    low, high = (printed(end.printed(after), spread, end.unit, end.read(after) is not None) for end in ends)
    if low == high:
        return low
    marked = all(end.read(after) is None for end in ends)
    return tr("{low} to {high}", low=low, high=high.removeprefix(f"{RECKONED}{NO_BREAK}") if marked else high)


def still_words(group: Group) -> str:
    """Return how a sort of figure is out as it stands, as a sentence."""
    says, outside = saying(group.name), group.outside(after=True)
    parts = []
    for way, sign in ((says.high, 1.0), (says.low, -1.0)):
        figures = [one for one in outside if sign * one.off(after=True) > 0]
        if figures:
            far = worst(figures, after=True)
            most = tr(", string {string} most", string=far.string) if len(figures) > 1 else ""
            parts.append(f"{way}{_where(figures, group)}{most} ({_read_words(far, after=True)})")
    return tr(
        "{says_name} is {since}{parts}.",
        says_name=says.name,
        since=_since(outside),
        parts=tr(" and ").join(parts),
    )


def _since(outside: Sequence[Figure]) -> str:
    """Return whether figures that are out were out when it came, or came out by the work; nothing where unknown."""
    came = [one.inside(after=False) for one in outside if one.before_judged]
    if False in came:
        return tr("still ")
    return tr("now ") if len(came) == len(outside) else ""


WITHIN_AND_OPEN = (
    mark("{what} is within tolerance, and something else is open: see below{lacking}"),
    mark("{what} are within tolerance, and something else is open: see below{lacking}"),
)
AS_THEY_SHOULD = (
    mark("{what} is as it should be{lacking}."),
    mark("{what} are as they should be{lacking}."),
)


def _some_out(right: Sequence[str], out: Sequence[str]) -> str:
    some = tr_n("{what} is right; ", "{what} are right; ", len(right), what=listed(right)) if right else ""
    off = tr_n(
        "{what} is not where we would like",
        "{what} are not where we would like",
        len(out),
        what=listed(out),
    )
    return tr("{some}{off}; why is said below", some=some, off=off)


def in_short(standing: Standing, done: bool, needed_nothing: bool = True, clear: bool = True) -> str:
    """Return the sheet's first sentence: how the instrument goes back.

    Args:
        standing: how it stood and stands.
        done: whether anything was done.
        needed_nothing: whether the judgement allows to say that nothing was needed.
        clear: whether nothing was found beside the figures, no note that touches among it.
    """
    out = [saying(group.name).name.lower() for group in standing.groups if group.outside(after=True)]
    known = [group for group in standing.groups if group.judged(after=True)]
    if not known:
        says = tr("; this sheet says what was done") if done else ""
        return tr("Nothing that was read tells enough to say how it plays{says}.", says=says)
    right = [_right_words(group) for group in known if not group.outside(after=True)]
    hand = tr("a {hand} hand", hand=tr(standing.hand))
    if out:
        return a_sentence(_some_out(right if clear else [], out))
    unread = [saying(group.name).name.lower() for group in standing.groups if not group.judged(after=True)]
    lacking = tr("; not read: {listed}", listed=listed(unread)) if unread else ""
    said, open_one, open_more, one, more = listed(right), *WITHIN_AND_OPEN, *AS_THEY_SHOULD
    if not clear:
        return a_sentence(tr_n(open_one, open_more, len(right), what=said, lacking=lacking))
    as_wanted = tr_n(one, more, len(right), what=said, lacking=lacking)
    if done:
        return tr("It goes back set up for {hand}: {as_wanted}", hand=hand, as_wanted=as_wanted)
    if needed_nothing:
        return tr("It needed nothing and is right for {hand}: {as_wanted}", hand=hand, as_wanted=as_wanted)
    return tr("What was read is right for {hand}: {as_wanted}", hand=hand, as_wanted=as_wanted)


def _right_words(group: Group) -> str:
    """Return a sort of figure by its name, with the strings it was read at where those are not all."""
    name = saying(group.name).name.lower()
    if group.all_judged(after=True):
        return name
    return tr(
        "{name} at {strings_words}",
        name=name,
        strings_words=strings_words([one.string for one in group.judged(after=True)]),
    )


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
                    f"{saying(group.name).name}, {tr(group.unit)}".replace(" ", NO_BREAK),
                    _range(came, after=False) if came else tr("not read"),
                    _range(left, after=True) if left else tr("not read"),
                    wanted[0]
                    if len(wanted) == 1
                    else tr("{wanted} to {wanted_2}", wanted=wanted[0], wanted_2=wanted[-1]),
                )
            )
    return tuple(rows)


def known_unlike(standing: Standing, now: str) -> str:
    """Return of which strings the two columns of `before_after_rows` tell, where those are not the same strings."""
    told = []
    for group in standing.groups:
        came, left = ([one.string for one in group.judged(after)] for after in (False, True))
        if came and left and set(came) != set(left):
            known = tr(
                "{strings_words} as it came, and of {strings_words_2} {now}",
                strings_words=strings_words(came),
                strings_words_2=strings_words(left),
                now=now,
            )
            told.append(
                tr("{saying_name} is known of {known}.", saying_name=saying(group.name).name, known=known)
            )
    return " ".join(told)
