"""What is asked of a person before more is decided: the reading that opens most stands first."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from breakangle.model.plan import Note, Question
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.diagnosis.find import readings_that_tell
from breakangle.planning.estimate.estimate import Estimate, Surprise
from breakangle.planning.estimate.reading_state import read_in_visit, reading_noise, times_read
from breakangle.planning.estimate.target_state import Place, Sight, place_read
from breakangle.planning.estimate.telling_few import telling_few
from breakangle.planning.explain.next_reading import Again, read_enough
from breakangle.planning.explain.swapped_figures import swapped_pairs, swapped_question
from breakangle.planning.kinds.reading_names import begun_with
from breakangle.planning.kinds.registry import adjustment_kinds, target_kind
from breakangle.planning.solve.decide import Decision
from breakangle.planning.solve.gate import enough_to_cut
from breakangle.planning.solve.held_back import NECK, TO_BE_READ, HeldBack
from breakangle.reference.messages import noted
from breakangle.reference.minutes import minutes_of


def questions(
    service: Service, now: Estimate, sight: Sight, decision: Decision, asked_for: tuple[Again, Reading | None]
) -> tuple[Question, ...]:
    """Return the readings to take before more is decided, each place once, the deciding one first.

    `asked_for`: what to read once more before the next step, and what one more reading would tell most.

    First what a shut gate waits for, most cuts opened first; then what the others contradict, and what was read and is
    still not known well enough to be judged; then what is near an edge; then the reading that would tell most.
    """
    again, more = asked_for
    asked: dict[Place, Question] = {}
    opening = _opening(service, now, sight, decision)
    waits = {sight.places[index]: [one.key for one in opens] for index, opens in opening}
    for one, other in swapped_pairs(_again_here(service, now)):
        places = place_read(one.reading), place_read(other.reading)
        decides = dict.fromkeys(key for place in places for key in waits.get(place, ()))
        asked |= dict.fromkeys(places, swapped_question(one, other, tuple(decides)))
    for index, opens in opening:
        reading = sight.reading(index).model_copy(update={"after": len(service.work)})
        reason: str = next(one.why for held in opens for one in held.awaited if one.target == index)
        asked.setdefault(place_read(reading), _asked(reading, reason, tuple(one.key for one in opens)))
    unread = _worth_telling(service, sight, decision)
    rest: list[tuple[str, tuple[Reading, ...]]] = [
        ("doubted", again.contradicted),
        ("open", _read_and_unsure(service, sight)),
        ("confirm", again.confirm),
        ("settles", again.settles),
        ("near_edge", again.near_edge),
        ("tells_most", (more,) if more is not None and unread else ()),
    ]
    for why, readings in rest:
        for reading in readings:
            asked.setdefault(place_read(reading), _asked(reading, _since_read(service, reading, why), ()))
    for question in readings_that_tell(service, now):
        if not any(place_read(one) in asked for one in question.readings):
            asked[place_read(question.readings[0])] = question
    return tuple({id(one): one for one in asked.values()}.values())


def _read_and_unsure(service: Service, sight: Sight) -> tuple[Reading, ...]:
    """Return the figures that were read since they were last worked on, and cannot be judged by that.

    Nothing is done for them until they are known: asked for at the end they would have what is in hand taken out again.
    """
    enough = read_enough(service)
    unsure = read_in_visit(service, sight) & ~sight.judged & (times_read(service, sight) > 0)
    places = [index for index in np.flatnonzero(unsure).tolist() if sight.places[index] not in enough]
    return tuple(sight.reading(index).model_copy(update={"after": len(service.work)}) for index in places)


def _again_here(service: Service, now: Estimate) -> list[Surprise]:
    """Return the surprises among what was read since the last work, and read there once."""
    here = [one for one in service.readings if one.after == len(service.work)]
    times = Counter(place_read(one) for one in here)
    return [one for one in now.surprises if one.reading in here and times[place_read(one.reading)] == 1]


def places_asked(asked: Sequence[Question]) -> frozenset[Place]:
    """Return the places that questions ask to be read."""
    return frozenset(place_read(reading) for one in asked for reading in one.readings)


def _worth_telling(service: Service, sight: Sight, decision: Decision) -> bool:
    """Return whether something unread may yet decide what is done, or keeps what is finished from being left."""
    unread = ~(sight.judged & read_in_visit(service, sight))
    if not decision.moves or decision.mending is None:
        return bool(unread.any())
    return bool((unread & np.isfinite(decision.mending.minutes)).any())


def _opening(
    service: Service, now: Estimate, sight: Sight, decision: Decision
) -> list[tuple[int, list[HeldBack]]]:
    """Return each target that a shut gate waits for, with the cuts that it holds back, most of them first.

    Of figures that were known, and that a turn of the rod has moved together, the few that tell of all.
    """
    opens: dict[int, list[HeldBack]] = {}
    moved, enough = list[int](), enough_to_cut(sight)
    for held in decision.held_back:
        for one in held.awaited:
            opens.setdefault(one.target, []).append(held)
            if one.why == "stale" and sight.spread[one.target] > enough[one.target]:
                moved.append(one.target)
    if moved:
        noise = reading_noise(service, sight.targets)
        few = telling_few(now, sight, tuple(dict.fromkeys(moved)), enough, noise)
        opens = {index: held for index, held in opens.items() if index in few or index not in moved}
    return sorted(opens.items(), key=lambda item: -len(item[1]))


def _since_read(service: Service, reading: Reading, why: str) -> str:
    """Return why a place is read: what was read only before the last work is read for that, and named as read again."""
    stages = [one.after for one in service.readings if place_read(one) == place_read(reading)]
    if why == "near_edge" and stages and max(stages) < _last_move(service):
        return "moved"
    return f"{why}_again" if why in ("tells_most", "open") and stages else why


def _last_move(service: Service) -> int:
    """Return after how much of the work strings, neck or saddle last moved; tuning to the same notes moves nothing."""
    return max((done for done, one in enumerate(service.work, start=1) if one.adjust != "tune"), default=0)


def _asked(reading: Reading, why: str, decides: tuple[str, ...]) -> Question:
    values = {"place": begun_with(reading), "decides": keys_in_words(decides)}
    about = (f"string {reading.string}", f"fret {reading.fret}")
    key = f"ask.{why}" if decides or why != "doubted" else "ask.contradicted"
    return Question(
        ask="reading",
        readings=(reading,),
        message=Message(key=key, values=values, about=about),
        decides=decides or ("verdict",),
        minutes=minutes_of("reading") * (2 if reading.quantity == "pitch" else 1),
    )


def keys_in_words(keys: Sequence[str]) -> str:
    """Return adjusters by their keys in words, those of one kind together: `nut slots of strings 1 and 6`."""
    found: dict[str, list[str]] = {}
    for key in keys:
        kind, _, place = key.partition("_")
        found.setdefault(kind, []).append(place)
    parts = []
    for kind, places in found.items():
        name = str(adjustment_kinds()[kind].words)
        strings = [int(one) for one in places if one.isdigit()]
        parts.append(
            tr("{name} of {strings_in_words}", name=name, strings_in_words=strings_in_words(strings))
            if strings
            else name
        )
    return tr(" and ").join(parts)


def held_back_notes(service: Service, now: Estimate, sight: Sight, decision: Decision) -> tuple[Note, ...]:
    """Return what a shut gate holds back and what opens it, in a sentence or two; empty where it is open."""
    if not decision.held_back:
        return ()
    waiting = [one for one in decision.held_back if one.awaited]
    found = []
    if waiting:
        opening = _opening(service, now, sight, decision)
        target = sight.targets[opening[0][0]]
        values = {
            "cuts": keys_in_words([one.key for one in waiting]),
            "first": target_kind(target).words(target, now.board.instrument),
            "count": len(opening),
        }
        key = "ask.held_back" if values["count"] == 1 else "ask.held_back_more"
        found.append(noted(Message(key=key, values=values, severity="care")))
    for beside in dict.fromkeys(one.beside for one in decision.held_back if one.beside):
        early = [one.key for one in decision.held_back if one.beside == beside]
        key = f"ask.held_back_{beside if beside in (NECK, *TO_BE_READ) else 'pattern'}"
        found.append(noted(Message(key=key, values={"cuts": keys_in_words(early)}, severity="care")))
    return tuple(found)
