"""What else a person at the bench should know of a plan, most pressing first, like things in one sentence."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Note, Step
from breakangle.model.plan_form import READ_FIRST
from breakangle.model.reading import Reading, Target
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.rod_answer import why_not_to_turn
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.explain.borrowed import borrowed_in_words
from breakangle.planning.explain.head_first import head_first
from breakangle.planning.explain.next_reading import Again, asked_in_words
from breakangle.planning.explain.target_owner import fitted_notes
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
from breakangle.reference.messages import noted, words

# Keys of notes that others look for.
BEYOND, NOTHING_YET, TELLS_MOST = "plan.beyond", "plan.nothing_yet", "plan.tells_most"
RELIEF_AND_ACTION_FIRST, DOUBTFUL_FIRST, READ_BEFORE_LEAVING = READ_FIRST
# Stands for the strings of several figures, until it is known which they are.
SEVERAL = "\N{OBJECT REPLACEMENT CHARACTER}"


def _of_strings(targets: Iterable[Target], instrument: Instrument) -> str:
    """Return the targets in words, the strings of one kind together."""
    found: dict[str, list[int]] = defaultdict(list)
    for one in targets:
        found[target_kind(one).said_of(one, instrument, SEVERAL)].append(one.string)
    return ", ".join(words.replace(SEVERAL, strings_in_words(strings)) for words, strings in found.items())


def _unread(
    service: Service, sight: Sight, instrument: Instrument, missed: Sequence[Unreached]
) -> list[Note]:
    """Return what is not judged; what is told as beyond a set-up is not told as unknown too."""
    told = {one.target for one in missed}
    unread = [one for i, one in enumerate(sight.targets) if not sight.judged[i] and i not in told]
    if not unread:
        return []
    if len(unread) == len(sight.targets):
        words = tr("Nothing can be decided yet: no reading tells enough about what is wanted.")
        return [Note(key=NOTHING_YET, words=words)]
    sounded = {(one.string, one.fret) for one in service.readings if one.quantity == "pitch"}
    silent = [one for one in unread if one.quantity == "intonation" and _at(one) not in sounded]
    words = tr(
        "Not judged, because no reading tells enough: {of_strings}.",
        of_strings=_of_strings(unread, instrument),
    )
    found = [Note(key="plan.not_judged", words=words)]
    if silent:
        words = tr("For intonation take the pitch of {each_at}.", each_at=_each_at(silent))
        found.append(Note(key="plan.take_pitches", words=words))
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


def breaking(now: Estimate) -> list[Note]:
    """Return which strings pull near what their make breaks at, a note each."""
    found = []
    for one, string in zip(now.board.strings, now.board.instrument.in_order(), strict=True):
        if one.tension_n > 0.9 * one.breaking_low_n:
            how = tr("more than") if one.tension_n > one.breaking_low_n else tr("close to")
            said = tr(
                "String {string} at {note} pulls {tension_n:.0f} N, {how} what its make breaks at "
                "({breaking_low_n:.0f} N and up): check its gauge and note.",
                string=string.string,
                note=string.note,
                tension_n=one.tension_n,
                how=how,
                breaking_low_n=one.breaking_low_n,
            )
            found.append(Note(key="plan.near_breaking", words=said))
    return found


def _still_free(service: Service) -> str:
    """Return why a target stays outside although its own adjuster could move it, and puts nothing else out."""
    strength = service.targets.no_buzz_at if service.targets else None
    if strength:
        return tr("it is left so that no note is heard to buzz at {strength} play", strength=tr(strength))
    return tr("its adjuster has travel left: plan again once these steps are done")


def _beyond(
    service: Service, sight: Sight, unreached: Sequence[Unreached], instrument: Instrument
) -> list[Note]:
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
        groups[target_kind(target).said_of(target, instrument, SEVERAL), why].append(one.target)
    found = []
    for (_, why), places in groups.items():
        said = tr(
            "Beyond a set-up: {words} would still be {span}, wanted {span_2}; {why}.",
            words=_of_strings([sight.targets[i] for i in places], instrument),
            span=_span(figure(sight, i) for i in places),
            span_2=_span(wanted(sight, i) for i in places),
            why=why,
        )
        target = sight.targets[places[0]]
        found.append(Note(key=BEYOND, words=said, of=str(target_kind(target).role(target)[0]), why=why))
    return found


def _too_low(sight: Sight, unreached: Sequence[Unreached]) -> bool:
    """Return whether strings stay low because their bridge cannot rise."""
    names = {
        one: str(target_kind(sight.targets[one.target]).role(sight.targets[one.target])[0])
        for one in unreached
    }
    return any(
        name == "action" and one.at_end and one.in_the_way is None and sight.off[one.target] < 0
        for one, name in names.items()
    )


def _feared(feared: Sequence[int], sight: Sight, instrument: Instrument) -> list[Note]:
    """Return what a turn of the rod may put out, which is read after it before anything is said of it."""
    words = _of_strings([sight.targets[index] for index in feared], instrument)
    said = tr("The rod may take this out of its tolerance: {words}. Read it after the turn.", words=words)
    return [Note(key="plan.read_after_turn", words=said)] if words else []


def _span(figures: Iterable[str]) -> str:
    """Return the lowest and the highest of figures of one unit; one alone where they are alike."""
    ranked = sorted(figures, key=lambda one: float(one.split()[0].replace("−", "-")))
    return (
        ranked[0]
        if ranked[0] == ranked[-1]
        else tr("{ranked} to {ranked_2}", ranked=ranked[0], ranked_2=ranked[-1])
    )


def _remarks(found_so: Judgement, instrument: Instrument) -> list[Note]:
    """Return what is to be known of single readings, those alike but for their string in one sentence.

    A string that lies on a crown is told of until it is read clear, or work has surely cleared it. Where the reading is
    doubted that is all: nothing is advised on it before it has been read again.
    """
    found: dict[str, list[int]] = defaultdict(list)
    doubted = [one.reading for one in found_so.doubted]
    resting = dict(zip(found_so.on_crowns, resting_messages(found_so), strict=True))
    for one in standing_readings(found_so.service, Worked(found_so.service, found_so.now)):
        if one in doubted and isinstance(one, Gap) and one in resting:
            found[words(resting[one])].append(one.string)
        elif text := reading_kind(one).remark(one, instrument, SEVERAL):
            found[text].append(one.string)
    return [
        Note(key="plan.remark", words=text.replace(SEVERAL, strings_in_words(strings)))
        for text, strings in found.items()
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


def _left(before: Sight, again: Again, judged: Judgement) -> list[Note]:
    """Return what may be said of an instrument on which nothing is to be done."""
    heights = np.array(
        [isinstance(one, GapTarget) and trade_name(one) in ("relief", "action") for one in before.targets]
    )
    if np.any(heights & ~before.judged):
        said = tr("Read first: relief and action are not all known well enough to be left as they are.")
        return [Note(key=RELIEF_AND_ACTION_FIRST, words=said)]
    if judged.on_crowns or not judged.nothing_open:
        return [read_first(judged)]
    touch = unless_it_buzzes(judged.touching())
    if again.near_edge or touch is not None:
        said = tr(
            "What has been read is inside its tolerance, some of it so near the edge that a second reading may tell."
        )
        near = [Note(key="plan.near_an_edge", words=said)] if again.near_edge else []
        return near + ([] if touch is None else [noted(touch)])
    if not before.judged.all():
        said = tr("What has been read is inside its tolerance: leave it.")
        return [Note(key="plan.leave_it", words=said)]
    said = tr(
        "Stop here: what is left is inside what gauge, ear and hand can resolve; nobody "
        "would hear or feel the difference."
    )
    return [Note(key="plan.stop_here", words=said)]


def read_first(judged: Judgement) -> Note:
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
    return noted(Message(key=READ_BEFORE_LEAVING, values={"what": "; ".join(names)}))


def notes(
    service: Service,
    now: Estimate,
    sights: tuple[Sight, Sight],
    decision: Decision,
    steps: Sequence[Step],
    asked: tuple[Again, Reading | None],
    judged: Judgement,
) -> tuple[Note, ...]:
    """Return what else a person should know, most pressing first.

    `sights`: the targets before the steps and after them. `asked` is what to read once more before the next step, and
    what one more reading would tell most, where no question is asked. `judged` is what is wrong and what is open, as
    every page says it.
    """
    unreached, waits = decision.unreached, bool(decision.waiting.any())
    before, after = sights
    instrument = now.board.instrument
    wrong = [noted(one.message()) for one in judged.crowns_apart] + breaking(now)
    again, more = asked
    found = _beyond(service, after, unreached, instrument) + _feared(decision.feared, before, instrument)
    by_pattern = [one.key for one in decision.held_back if one.by_pattern]
    found += head_first(instrument, steps, by_pattern, _too_low(after, unreached))
    found += [Note(key="plan.doubted", words=one.sentence()) for one in judged.doubted]
    found += [Note(key="plan.rod_answers", words=why)] if (why := why_not_to_turn(service, now)) else []
    found += _remarks(judged, instrument) + wrong + _unread(service, before, instrument, unreached)
    found += [Note(key="plan.borrowed", words=one) for one in borrowed_in_words(now.board)]
    found += [Note(key="plan.guessed_cores", words=one) for one in guessed_cores(now.board)]
    found += fitted_notes(service, now.board)
    told = bool(steps or unreached or wrong or judged.crowns or judged.beyond)
    if not told and (waits or before.judged.any()):
        found += [_doubtful_first()] if waits else _left(before, again, judged)
    if more is not None:
        said = tr("One more reading would tell most: {asked_in_words}.", asked_in_words=asked_in_words(more))
        found.append(Note(key=TELLS_MOST, words=said))
    return tuple(found)


def _doubtful_first() -> Note:
    said = tr(
        "Read first: what is doubtful, or has not been read since the last turn, decides what comes next."
    )
    return Note(key=DOUBTFUL_FIRST, words=said)
