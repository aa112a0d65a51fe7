"""What else a person at the bench should know of a plan, most pressing first, like things in one sentence."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Step
from breakangle.model.reading import Reading, Target
from breakangle.model.said import figured, strings_in_words
from breakangle.model.service import Service
from breakangle.planning.ask import Again, asked_in_words
from breakangle.planning.board import Board
from breakangle.planning.decide import Decision
from breakangle.planning.estimate import Estimate
from breakangle.planning.explain import figure, wanted
from breakangle.planning.readings.crown import Crown
from breakangle.planning.registry import reading_kind, target_kind
from breakangle.planning.rod_answer import why_not_to_turn
from breakangle.planning.sight import Sight
from breakangle.planning.slide import slide_in_words
from breakangle.planning.targets.gap import GapTarget, trade_name
from breakangle.planning.unreached import Unreached

NOTHING_YET = "Nothing can be decided yet: no reading tells enough about what is wanted."
READ_FIRST = "Read first: relief and action are not all known well enough to be left as they are."
DOUBTFUL_FIRST = (
    "Read first: what is doubtful, or has not been read since the last turn, decides what comes next."
)
LEAVE_IT = "What has been read is inside its tolerance: leave it."
NEAR_AN_EDGE = (
    "What has been read is inside its tolerance, some of it so near the edge that a second reading may tell."
)
STOP_HERE = (
    "Stop here: what is left is inside what gauge, ear and hand can resolve; "
    "nobody would hear or feel the difference."
)
PROUD_CROWN_MM = 0.05  # a crown this far from its line wants levelling; common practice, no source


def _without_string(target: Target, instrument: Instrument) -> str:
    return target_kind(target).words(target, instrument).removesuffix(f"string {target.string}")


def _of_strings(targets: Iterable[Target], instrument: Instrument) -> str:
    """Return the targets in words, the strings of one kind together."""
    found: dict[str, list[int]] = defaultdict(list)
    for one in targets:
        found[_without_string(one, instrument)].append(one.string)
    return ", ".join(f"{words}{strings_in_words(strings)}" for words, strings in found.items())


def _unread(service: Service, sight: Sight, instrument: Instrument) -> list[str]:
    unread = [one for one, judged in zip(sight.targets, sight.judged, strict=True) if not judged]
    if not unread:
        return []
    if len(unread) == len(sight.targets):
        return [NOTHING_YET]
    sounded = {(one.string, one.fret) for one in service.readings if one.quantity == "pitch"}
    silent = [one for one in unread if one.quantity == "intonation" and _at(one) not in sounded]
    found = [f"Not judged, because no reading tells enough: {_of_strings(unread, instrument)}."]
    if silent:
        found.append(f"For intonation take the pitch of {_each_at(silent)}.")
    return found


def _at(target: Target) -> tuple[int, int]:
    return target.string, int(getattr(target, "fret", 0))


def _each_at(targets: Sequence[Target]) -> str:
    frets: dict[int, list[int]] = defaultdict(list)
    for one in targets:
        frets[_at(one)[1]].append(one.string)
    return "; ".join(
        f"{strings_in_words(strings)}, open and at fret {fret}" for fret, strings in frets.items()
    )


def _crowns(service: Service, now: Estimate) -> list[str]:
    layout, belief = now.picture.layout, now.belief
    places = layout["crown"]
    height, spread = belief.mean[places], np.sqrt(np.diag(belief.covariance)[places])
    found = []
    for index in np.flatnonzero((np.abs(height) > PROUD_CROWN_MM) & (np.abs(height) > 2.5 * spread)):
        way = "above" if height[index] > 0 else "below"
        found.append(
            f"The crown of fret {index + 1} stands {abs(height[index]):.2f} mm {way} its line"
            f"{_crown_read(service, int(index) + 1)}: levelling comes before a low set-up."
        )
    return found


def _crown_read(service: Service, fret: int) -> str:
    """Return what was read of a crown, beside what all readings together make of it."""
    read = [one.mm for one in service.readings if isinstance(one, Crown) and one.fret == fret]
    if not read:
        return ""
    low, high = (figured(one, 2) for one in (min(read), max(read)))
    return f" by all readings together, read as {low} mm" + (f" to {high} mm" if high != low else "")


def _breaking(now: Estimate) -> list[str]:
    found = []
    for one, string in zip(now.board.strings, now.board.instrument.in_order(), strict=True):
        if one.tension_n > 0.9 * one.breaking_low_n:
            how = "more than" if one.tension_n > one.breaking_low_n else "close to"
            found.append(
                f"String {string.string} at {string.note} pulls {one.tension_n:.0f} N, {how} what its "
                f"make breaks at ({one.breaking_low_n:.0f} N and up): check its gauge and note."
            )
    return found


def amiss(service: Service, now: Estimate) -> list[str]:
    """Return what is wrong whatever the targets read: an instrument with such a fault is not left as it is."""
    return _crowns(service, now) + _breaking(now)


def _still_free(service: Service) -> str:
    """Return why a target stays outside although its own adjuster could move it, and puts nothing else out."""
    strength = service.targets.no_buzz_at if service.targets else None
    if strength:
        return f"it is left so that no note touches at {strength} play"
    return "its adjuster has travel left: plan again once these steps are done"


def _beyond(
    service: Service, sight: Sight, unreached: Sequence[Unreached], instrument: Instrument
) -> list[str]:
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    for one in unreached:
        target = sight.targets[one.target]
        if one.in_the_way is None and not one.at_end:
            why = _still_free(service)
        elif one.in_the_way is None:
            why = target_kind(target).beyond(target, bool(sight.off[one.target] < 0), instrument)
        else:
            other = sight.targets[one.in_the_way]
            why = f"moving further would put {target_kind(other).words(other, instrument)} out"
        groups[_without_string(target, instrument), why].append(one.target)
    return [
        f"Beyond a set-up: {words}{strings_in_words(sight.targets[i].string for i in places)} would still be "
        f"{_span(figure(sight, i) for i in places)}, wanted {_span(wanted(sight, i) for i in places)}; {why}."
        for (words, why), places in groups.items()
    ]


def _feared(feared: Sequence[int], sight: Sight, instrument: Instrument) -> list[str]:
    """Return what a turn of the rod may put out, which is read after it before anything is said of it."""
    words = _of_strings([sight.targets[index] for index in feared], instrument)
    return [f"The rod may take this out of its tolerance: {words}. Read it after the turn."] if words else []


def _span(figures: Iterable[str]) -> str:
    """Return the lowest and the highest of figures of one unit; one alone where they are alike."""
    ranked = sorted(figures, key=lambda one: float(one.split()[0].replace("−", "-")))
    return ranked[0] if ranked[0] == ranked[-1] else f"{ranked[0]} to {ranked[-1]}"


def _remarks(service: Service, instrument: Instrument) -> list[str]:
    """Return what is to be known of single readings, those alike but for their string in one sentence."""
    found: dict[tuple[str, str], list[int]] = defaultdict(list)
    for one in service.readings:
        text = reading_kind(one).remark(one, instrument) if one.after == len(service.work) else ""
        before, own, behind = text.partition(f"string {one.string} ")
        if text:
            found[before, behind if own else ""].append(one.string)
    return [
        f"{before}{strings_in_words(strings)} {behind}" if behind else before
        for (before, behind), strings in found.items()
    ]


def guessed_cores(board: Board) -> list[str]:
    """Return which strings' cores were taken at their usual size, in one sentence."""
    strings = zip(board.strings, board.instrument.in_order(), strict=True)
    cores = [
        f"{one.guessed_core_mm:.2f} mm in string {string.string} ({string.diameter_mm:g} mm)"
        for one, string in strings
        if one.guessed_core_mm is not None
    ]
    return [f"Cores are taken at their usual size: {', '.join(cores)}."] if cores else []


def _left(before: Sight, again: Again) -> str:
    """Return what may be said of an instrument on which nothing is to be done."""
    heights = np.array(
        [isinstance(one, GapTarget) and trade_name(one) in ("relief", "action") for one in before.targets]
    )
    if np.any(heights & ~before.judged):
        return READ_FIRST
    if again.near_edge:
        return NEAR_AN_EDGE
    return STOP_HERE if before.judged.all() else LEAVE_IT


def _asked(asked: tuple[Sequence[Reading], Reading | None], steps: bool) -> list[str]:
    """Return what to read once more before the next step, and what one more reading would tell most."""
    twice, more = [asked_in_words(one) for one in asked[0]], asked[1]
    when = " before the next step, they are worth it" if steps else ", to be sure"
    found = [f"Read these once more{when}: {'; '.join(twice)}."] if twice else []
    if more is not None and asked_in_words(more) not in twice:
        found.append(f"One more reading would tell most: {asked_in_words(more)}.")
    return found


def notes(
    service: Service,
    now: Estimate,
    sights: tuple[Sight, Sight],
    decision: Decision,
    steps: Sequence[Step],
    asked: tuple[Again, Reading | None],
) -> tuple[str, ...]:
    """Return what else a person should know, most pressing first.

    `sights`: the targets before the steps and after them. `asked` is what to read once more before the next step, and
    what one more reading would tell most.
    """
    unreached, waits = decision.unreached, bool(decision.waiting.any())
    before, after = sights
    instrument, wrong = now.board.instrument, amiss(service, now)
    again, more = asked
    found = _beyond(service, after, unreached, instrument) + _feared(decision.feared, before, instrument)
    found += slide_in_words(now, before, after, steps)
    found += [one.sentence() for one in now.surprises]
    found += [words] if (words := why_not_to_turn(service, now)) else []
    found += _remarks(service, instrument) + wrong + _unread(service, before, instrument)
    found += guessed_cores(now.board)
    if not steps and not unreached and not wrong and (waits or before.judged.any()):
        found.append(DOUBTFUL_FIRST if waits else _left(before, again))
    found += _asked((again.shown(service.readings), more), bool(steps))
    return tuple(dict.fromkeys(found))
