"""Why: a sentence for each step, and what else a person at the bench should know."""

from collections.abc import Sequence

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Response
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.planning.ask import asked_in_words
from breakangle.planning.decide import Unreached
from breakangle.planning.estimate import Estimate
from breakangle.planning.registry import adjustment_kind, reading_kind, target_kind
from breakangle.planning.rod_answer import relief_per_turn_mm, why_not_to_turn
from breakangle.planning.sight import Sight

LEAVE_IT = "What has been read is inside its tolerance: leave it."
NEAR_AN_EDGE = (
    "What has been read is inside its tolerance, some of it so near the edge that a second reading may tell."
)
PROUD_CROWN_MM = 0.05  # a crown this far from its line wants levelling; common practice, no source
STOP_HERE = (
    "Stop here: what is left is inside what gauge, ear and hand can resolve; "
    "nobody would hear or feel the difference."
)


def _figure(sight: Sight, index: int) -> str:
    kind = target_kind(sight.targets[index])
    lowest = 0.0 if sight.targets[index].quantity == "gap" else -np.inf  # a string on its crown reads nothing
    return f"{max(sight.value[index], lowest):.{kind.decimals}f} {kind.unit}"


def shown_by(adjustment: Adjustment, before: Sight, after: Sight) -> list[int]:
    """Return the places of the targets a person reads after `adjustment`, what it moves most first.

    Figures that no reading has told of yet show nothing of the step, unless there are no others.
    """
    kind = adjustment_kind(adjustment)
    own = [i for i, target in enumerate(before.targets) if kind.verified_by(adjustment, target)]
    moved = np.abs(after.value - before.value) / before.tolerance
    return sorted([i for i in own if before.judged[i]] or own, key=lambda i: -round(float(moved[i]), 6))


def reason(adjustment: Adjustment, before: Sight, after: Sight, instrument: Instrument) -> str:
    """Return one sentence: what it puts right, from what to what, and what it does to the rest."""
    kind = adjustment_kind(adjustment)
    own = shown_by(adjustment, before, after)
    told = kind.told(adjustment, instrument)
    if not own:
        return f"{told}: heights, relief and saddle positions are only true near pitch."
    worst = max(own, key=lambda i: abs(before.off[i]) / before.tolerance[i])
    target = before.targets[worst]
    tkind = target_kind(target)
    wanted = f"{tkind.wanted(target):.{tkind.decimals}f} {tkind.unit}"
    main = (
        f"{told}: {tkind.words(target, instrument)} is {_figure(before, worst)}, wanted {wanted}; "
        f"it should then read {_figure(after, worst)} ± {2 * after.spread[worst]:.{tkind.decimals}f}."
    )
    wished = [i for i, one in enumerate(before.targets) if kind.verified_by(adjustment, one)]
    return main + _side_effect(wished, before, after, instrument)


def _side_effect(own: Sequence[int], before: Sight, after: Sight, instrument: Instrument) -> str:
    """Return what else moves most, in its own tolerances, if that is worth knowing."""
    moved = np.abs(after.value - before.value) / before.tolerance
    moved[list(own)] = 0.0
    if not len(moved) or moved.max() < 0.3:
        return ""
    index = int(np.argmax(moved))
    kind = target_kind(before.targets[index])
    change = after.value[index] - before.value[index]
    way = "raises" if change > 0 else "lowers"
    words = kind.words(before.targets[index], instrument)
    return f" It also {way} {words} by {abs(change):.{kind.decimals}f} {kind.unit}."


def responses(now: Estimate) -> tuple[Response, ...]:
    """Return what this neck and its screws do, as known now."""
    layout, belief, found = now.picture.layout, now.belief, []
    rod = relief_per_turn_mm(now)
    if rod is not None:
        found.append(
            Response(
                name="rod_relief_mm_per_turn",
                words="relief per whole turn of the rod",
                value=round(rod[0], 3),
                uncertainty=round(rod[1], 3),
                unit="mm per turn",
            )
        )
    place = layout["saddle_response"][0]
    found.append(
        Response(
            name="saddle_mm_per_mm",
            words="saddle movement per millimetre asked for",
            value=round(float(belief.mean[place]), 3),
            uncertainty=round(float(np.sqrt(belief.covariance[place, place])), 3),
            unit="mm per mm",
        )
    )
    return tuple(found)


def _unread(sight: Sight, instrument: Instrument) -> list[str]:
    unread = [one for one, judged in zip(sight.targets, sight.judged, strict=True) if not judged]
    if not unread:
        return []
    if len(unread) == len(sight.targets):
        return ["Nothing can be decided yet: no reading tells enough about what is wanted."]
    words = [target_kind(one).words(one, instrument) for one in unread]
    shown = ", ".join(words[:4]) + (f" and {len(words) - 4} more" if len(words) > 4 else "")
    return [f"Not judged, because no reading tells enough: {shown}."]


def _crowns(now: Estimate) -> list[str]:
    layout, belief = now.picture.layout, now.belief
    places = layout["crown"]
    height, spread = belief.mean[places], np.sqrt(np.diag(belief.covariance)[places])
    found = []
    for index in np.flatnonzero((np.abs(height) > PROUD_CROWN_MM) & (np.abs(height) > 2.5 * spread)):
        way = "above" if height[index] > 0 else "below"
        found.append(
            f"The crown of fret {index + 1} stands {abs(height[index]):.2f} mm {way} its line: "
            "levelling comes before a low set-up."
        )
    return found


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


def _beyond(sight: Sight, unreached: Sequence[Unreached], instrument: Instrument) -> list[str]:
    found = []
    for one in unreached:
        target = sight.targets[one.target]
        kind = target_kind(target)
        wanted = f"{kind.wanted(target):.{kind.decimals}f} {kind.unit}"
        if one.in_the_way is None:
            why = kind.beyond(target, bool(sight.off[one.target] < 0), instrument)
        else:
            other = sight.targets[one.in_the_way]
            why = f"moving further would put {target_kind(other).words(other, instrument)} out"
        found.append(
            f"Beyond a set-up: {kind.words(target, instrument)} would still be {_figure(sight, one.target)}, "
            f"wanted {wanted}; {why}."
        )
    return found


def _remarks(service: Service) -> list[str]:
    now = [one for one in service.readings if one.after == len(service.work)]
    return [text for one in now if (text := reading_kind(one).remark(one))]


def notes(
    service: Service,
    now: Estimate,
    before: Sight,
    after: Sight,
    unreached: Sequence[Unreached],
    steps: bool,
    asked: tuple[tuple[Reading, ...], Reading | None],
) -> tuple[str, ...]:
    """Return what else a person should know, most pressing first.

    `asked` is what to read once more before the next step, and what one more reading would tell most.
    """
    instrument = now.board.instrument
    found = _beyond(after, unreached, instrument)
    found += [one.sentence() for one in now.surprises]
    found += [words] if (words := why_not_to_turn(service, now)) else []
    found += _remarks(service) + _crowns(now) + _breaking(now) + _unread(before, instrument)
    found += [note for one in now.board.strings for note in one.notes]
    twice, more = asked
    if not steps and not unreached and before.judged.any():
        found.append(NEAR_AN_EDGE if twice else STOP_HERE if before.judged.all() else LEAVE_IT)
    if twice:
        words = "; ".join(asked_in_words(one) for one in twice)
        when = " before the next step, they are worth it" if steps else ", to be sure"
        found.append(f"Read these once more{when}: {words}.")
    elif more is not None:
        found.append(f"One more reading would tell most: {asked_in_words(more)}.")
    return tuple(dict.fromkeys(found))
