"""What else a person at the bench should know of a plan, most pressing first, like things in one sentence."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Step
from breakangle.model.reading import Reading, Target
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import mark, tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.rod_answer import why_not_to_turn
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.explain.borrowed import borrowed_in_words
from breakangle.planning.explain.head_first import head_first
from breakangle.planning.explain.next_reading import Again, asked_in_words
from breakangle.planning.explain.target_owner import fitted_in_words
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.registry import reading_kind, target_kind
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.solve.decide import Decision
from breakangle.planning.solve.unreached import Unreached
from breakangle.planning.state.board import Board
from breakangle.planning.trips.step_reasons import figure, wanted
from breakangle.planning.verdict.judgement import Judgement
from breakangle.planning.verdict.moved import Worked
from breakangle.planning.verdict.resting import standing_readings
from breakangle.planning.verdict.said import resting_messages, unless_it_buzzes
from breakangle.reference.messages import words

BEYOND = mark("Beyond a set-up: ")
NOTHING_YET = mark("Nothing can be decided yet: no reading tells enough about what is wanted.")
READ_FIRST = mark("Read first: relief and action are not all known well enough to be left as they are.")
DOUBTFUL_FIRST = mark(
    "Read first: what is doubtful, or has not been read since the last turn, decides what comes next."
)
FIRST = mark("Read first: ")
LEAVE_IT = mark("What has been read is inside its tolerance: leave it.")
NEAR_AN_EDGE = mark(
    "What has been read is inside its tolerance, some of it so near the edge that a second reading may tell."
)
STOP_HERE = mark(
    "Stop here: what is left is inside what gauge, ear and hand can resolve; nobody "
    "would hear or feel the difference."
)


def _without_string(target: Target, instrument: Instrument) -> str:
    return (
        target_kind(target)
        .words(target, instrument)
        .removesuffix(tr("string {string}", string=target.string))
    )


def _of_strings(targets: Iterable[Target], instrument: Instrument) -> str:
    """Return the targets in words, the strings of one kind together."""
    found: dict[str, list[int]] = defaultdict(list)
    for one in targets:
        found[_without_string(one, instrument)].append(one.string)
    return ", ".join(f"{words}{strings_in_words(strings)}" for words, strings in found.items())


def _unread(service: Service, sight: Sight, instrument: Instrument, missed: Sequence[Unreached]) -> list[str]:
    """Return what is not judged; what is told as beyond a set-up is not told as unknown too."""
    told = {one.target for one in missed}
    unread = [one for i, one in enumerate(sight.targets) if not sight.judged[i] and i not in told]
    if not unread:
        return []
    if len(unread) == len(sight.targets):
        return [tr(NOTHING_YET)]
    sounded = {(one.string, one.fret) for one in service.readings if one.quantity == "pitch"}
    silent = [one for one in unread if one.quantity == "intonation" and _at(one) not in sounded]
    found = [
        tr(
            "Not judged, because no reading tells enough: {of_strings}.",
            of_strings=_of_strings(unread, instrument),
        )
    ]
    if silent:
        found.append(tr("For intonation take the pitch of {each_at}.", each_at=_each_at(silent)))
    return found


def _at(target: Target) -> tuple[int, int]:
    return target.string, int(getattr(target, "fret", 0))


def _each_at(targets: Sequence[Target]) -> str:
    frets: dict[int, list[int]] = defaultdict(list)
    for one in targets:
        frets[_at(one)[1]].append(one.string)
    return "; ".join(
        tr(
            "{strings_in_words}, open and at fret {fret}",
            strings_in_words=strings_in_words(strings),
            fret=fret,
        )
        for fret, strings in frets.items()
    )


def breaking(now: Estimate) -> list[str]:
    """Return which strings pull near what their make breaks at, a sentence each."""
    found = []
    for one, string in zip(now.board.strings, now.board.instrument.in_order(), strict=True):
        if one.tension_n > 0.9 * one.breaking_low_n:
            how = tr("more than") if one.tension_n > one.breaking_low_n else tr("close to")
            found.append(
                tr(
                    "String {string} at {note} pulls {tension_n:.0f} N, {how} what its make breaks at "
                    "({breaking_low_n:.0f} N and up): check its gauge and note.",
                    string=string.string,
                    note=string.note,
                    tension_n=one.tension_n,
                    how=how,
                    breaking_low_n=one.breaking_low_n,
                )
            )
    return found


def _still_free(service: Service) -> str:
    """Return why a target stays outside although its own adjuster could move it, and puts nothing else out."""
    strength = service.targets.no_buzz_at if service.targets else None
    if strength:
        return tr("it is left so that no note touches at {strength} play", strength=tr(strength))
    return tr("its adjuster has travel left: plan again once these steps are done")


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
            why = tr(
                "moving further would put {words} out", words=target_kind(other).words(other, instrument)
            )
        groups[_without_string(target, instrument), why].append(one.target)
    return [
        tr(
            "{beyond}{words}{strings_in_words} would still be {span}, wanted {span_2}; {why}.",
            beyond=BEYOND,
            words=words,
            strings_in_words=strings_in_words(sight.targets[i].string for i in places),
            span=_span(figure(sight, i) for i in places),
            span_2=_span(wanted(sight, i) for i in places),
            why=why,
        )
        for (words, why), places in groups.items()
    ]


def _feared(feared: Sequence[int], sight: Sight, instrument: Instrument) -> list[str]:
    """Return what a turn of the rod may put out, which is read after it before anything is said of it."""
    words = _of_strings([sight.targets[index] for index in feared], instrument)
    return (
        [tr("The rod may take this out of its tolerance: {words}. Read it after the turn.", words=words)]
        if words
        else []
    )


def _span(figures: Iterable[str]) -> str:
    """Return the lowest and the highest of figures of one unit; one alone where they are alike."""
    ranked = sorted(figures, key=lambda one: float(one.split()[0].replace("−", "-")))
    return (
        ranked[0]
        if ranked[0] == ranked[-1]
        else tr("{ranked} to {ranked_2}", ranked=ranked[0], ranked_2=ranked[-1])
    )


def _remarks(found_so: Judgement, instrument: Instrument) -> list[str]:
    """Return what is to be known of single readings, those alike but for their string in one sentence.

    A string that lies on a crown is told of until it is read clear, or work has surely cleared it. Where the reading is
    doubted that is all: nothing is advised on it before it has been read again.
    """
    found: dict[tuple[str, str], list[int]] = defaultdict(list)
    doubted = [one.reading for one in found_so.doubted]
    resting = dict(zip(found_so.on_crowns, resting_messages(found_so), strict=True))
    for one in standing_readings(found_so.service, Worked(found_so.service, found_so.now)):
        if one in doubted and isinstance(one, Gap) and one in resting:
            found[words(resting[one]), ""].append(one.string)
            continue
        text = reading_kind(one).remark(one, instrument)
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
        tr(
            "{guessed_core_mm:.2f} mm in string {string} ({diameter_mm:g} mm)",
            guessed_core_mm=one.guessed_core_mm,
            string=string.string,
            diameter_mm=string.diameter_mm,
        )
        for one, string in strings
        if one.guessed_core_mm is not None
    ]
    return [tr("Cores are taken at their usual size: {cores}.", cores=", ".join(cores))] if cores else []


def _left(before: Sight, again: Again, judged: Judgement) -> list[str]:
    """Return what may be said of an instrument on which nothing is to be done."""
    heights = np.array(
        [isinstance(one, GapTarget) and trade_name(one) in ("relief", "action") for one in before.targets]
    )
    if np.any(heights & ~before.judged):
        return [tr(READ_FIRST)]
    if judged.on_crowns or not judged.nothing_open:
        return [read_first(judged)]
    touch = unless_it_buzzes(judged.touching())
    if again.near_edge or touch is not None:
        return [tr(NEAR_AN_EDGE)] * bool(again.near_edge) + ([] if touch is None else [words(touch)])
    return [tr(STOP_HERE) if before.judged.all() else tr(LEAVE_IT)]


def read_first(judged: Judgement) -> str:
    """Return what is read before an instrument may be left as it is."""
    groups: dict[str, list[int]] = defaultdict(list)
    for one in judged.open:
        groups[one.name].append(one.target.string)
    names = [
        tr("{name} at {strings_in_words}", name=name, strings_in_words=strings_in_words(strings))
        for name, strings in groups.items()
    ]
    names += [reading_kind(one).place(one) for one in judged.on_crowns]
    names += [reading_kind(one.reading).place(one.reading) for one in judged.doubted] if not names else []
    return words(Message(key="verdict.read_before_leaving", values={"what": "; ".join(names)}))


def tells_most(reading: Reading) -> str:
    """Return that one more reading would tell most, in words."""
    return tr("One more reading would tell most: {asked_in_words}.", asked_in_words=asked_in_words(reading))


def notes(
    service: Service,
    now: Estimate,
    sights: tuple[Sight, Sight],
    decision: Decision,
    steps: Sequence[Step],
    asked: tuple[Again, Reading | None],
    judged: Judgement,
) -> tuple[str, ...]:
    """Return what else a person should know, most pressing first.

    `sights`: the targets before the steps and after them. `asked` is what to read once more before the next step, and
    what one more reading would tell most, where no question asks for it. `judged` is what is wrong and what is open, as
    every page says it.
    """
    unreached, waits = decision.unreached, bool(decision.waiting.any())
    before, after = sights
    instrument = now.board.instrument
    wrong = [words(one.message()) for one in judged.crowns_apart] + breaking(now)
    again, more = asked
    found = _beyond(service, after, unreached, instrument) + _feared(decision.feared, before, instrument)
    by_pattern = [one.key for one in decision.held_back if one.by_pattern]
    found += head_first(instrument, steps, by_pattern)
    found += [one.sentence() for one in judged.doubted]
    found += [why] if (why := why_not_to_turn(service, now)) else []
    found += _remarks(judged, instrument) + wrong + _unread(service, before, instrument, unreached)
    found += borrowed_in_words(now.board) + guessed_cores(now.board) + fitted_in_words(service, now.board)
    told = bool(steps or unreached or wrong or judged.crowns or judged.beyond)
    if not told and (waits or before.judged.any()):
        found += [tr(DOUBTFUL_FIRST)] if waits else _left(before, again, judged)
    found += [tells_most(more)] if more is not None else []
    return tuple(dict.fromkeys(found))
